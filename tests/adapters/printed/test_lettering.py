"""Letters: measured, shrunk and wrapped to fit; those the font has not are written as near as may
be."""

from pathlib import Path

import pytest
import reportlab
from coatledger_adapters.printed.lettering import (
    FontError,
    cut,
    largest_mm,
    letters,
    wrapped,
)
from coatledger_adapters.printed.marks import Page, Words
from coatledger_adapters.printed.pdf import pdf
from hypothesis import given
from hypothesis import strategies as st
from printer import text_of

LETTERS = letters()
WIDTHS = st.floats(5, 80)


EUROPEAN = (
    "Ñandú, façade, Öl, Ærø, åben",
    "Stolarnia Dąb i Jesień, łóżko",
    "Žďár, řez, ľadový, fűrész, bőr",
    "Țesătură, ģimene, ąžuolas, täpä, İğde şerbeti",
    "Ξυλουργείο Ήλιος και Θάλασσα",
    "Столярня Їжак, Ђурђевдан, Ќотор, ель и дуб",
    "≥ 3 µm – 5 °C, 2 m², 4 × 6",
)


@pytest.mark.parametrize("text", EUROPEAN)
def test_the_letters_of_europe_are_written_as_they_are_and_read_back(text: str) -> None:
    assert LETTERS.written(text) == text
    sheet = pdf((Page(100, 50, (Words(5, 20, text, 3.0, 60.0),)),), "letters", LETTERS)
    assert text_of(sheet).strip() == text


def test_a_letter_the_font_has_not_loses_its_accent_or_becomes_a_question_mark() -> None:
    assert LETTERS.written("ḫal, ẍ") == "hal, x"
    assert LETTERS.written("漢字 ok") == "?? ok"


@given(st.text(max_size=60))
def test_any_text_can_be_written(text: str) -> None:
    written = LETTERS.written(text)
    assert all(ord(letter) in LETTERS.known or letter == "?" for letter in written)
    assert LETTERS.width_mm(written, 2.0) >= 0


@given(st.text(st.characters(codec="ascii", exclude_categories=["Cc"]), min_size=1), WIDTHS)
def test_what_is_said_to_fit_fits(text: str, width: float) -> None:
    size = largest_mm(LETTERS, text, width, 1.0, 6.0)
    if size is not None:
        assert LETTERS.width_mm(text, size) <= width * 1.000001
        assert 1.0 <= size <= 6.0
    assert LETTERS.width_mm(cut(LETTERS, text, width, 3.0), 3.0) <= width


@given(st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._-]{0,39}", fullmatch=True), WIDTHS)
def test_a_wrapped_word_is_whole_and_each_line_fits(word: str, width: float) -> None:
    lines = wrapped(LETTERS, word, width, 2.5, bold=True)
    assert "".join(lines) == word
    assert all(LETTERS.width_mm(line, 2.5, bold=True) <= width for line in lines)


def test_lines_are_broken_after_a_dash_where_one_is_near() -> None:
    assert wrapped(LETTERS, "cherry-boxes-0017", 15, 2.5) == ("cherry-", "boxes-0017")


def test_a_shop_may_bring_its_own_font() -> None:
    path = Path(reportlab.__file__).parent / "fonts" / "VeraIt.ttf"
    own = letters(str(path))
    assert own.plain == own.bold
    assert own.plain != LETTERS.plain
    assert own.width_mm("wide", 3.0) > 0
    for wrong in (Path(__file__), path.with_name("nothing.ttf")):
        with pytest.raises(FontError, match="no TrueType font"):
            letters(str(wrong))
