"""Labels: their codes read again after printer, dust and camera; their words fit and are whole."""

from __future__ import annotations

import re
from itertools import combinations
from typing import Any

import pytest
import vl_convert
from coatledger_adapters import qr
from coatledger_adapters.printed.labels import (
    DOT_MM,
    LEVELS,
    MODULE_DOTS_LEAST,
    Label,
    LabelError,
    drawn,
    least_side_mm,
    pages,
)
from coatledger_adapters.printed.lettering import letters
from coatledger_adapters.printed.marks import Frame, Squares, Words
from coatledger_adapters.printed.paper import PAPERS, Paper, Sheet, sheet_of
from coatledger_adapters.printed.pdf import pdf
from coatledger_adapters.printed.svg import svg
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from printer import DPI, dusted, page_count, printed, read, shrunk, text_of

SHORT = Label("http://10.0.0.5:8700/gun-side#gun=g1", "g1", ("gun", "hvlp"))
USUAL = Label(
    "http://192.168.1.20:8700/gun-side#piece=BT-08-1", "BT-08-1",
    ("bedside table, ash", "due Fri 4 Dec 2026", "order O-1017"),
)  # fmt: skip
LONG = Label(
    "https://finishing-room.example:8700/gun-side#piece=" + "W" * 40, "W" * 40,
    ("a dining table of walnut with a name that goes on for eighty characters or so", "order X"),
)  # fmt: skip
# The least of each: with the code's own least side beside or above the words.
SIZES = {"short": (SHORT, 35, 18.5), "upright": (USUAL, 21, 32), "usual": (USUAL, 50, 25),
         "sheet": (USUAL, 63.3, 33.4), "long": (LONG, 62, 29)}  # fmt: skip
LETTERS = letters()


def one(width_mm: float, height_mm: float) -> Sheet:
    return sheet_of(Paper(width_mm, height_mm), 1, 1, left_mm=0, top_mm=0)


def code_on(label: Label, sheet: Sheet) -> Squares:
    (code,) = (m for m in drawn(label, sheet, (0, 0), LETTERS) if isinstance(m, Squares))
    return code


def box_px(code: Squares) -> tuple[int, int, int, int]:
    side = code.module_mm * len(code.rows)
    edges = (code.x_mm, code.y_mm, code.x_mm + side, code.y_mm + side)
    return tuple(round(edge * DPI / 25.4) for edge in edges)  # type: ignore[return-value]


def label_pdf(label: Label, sheet: Sheet) -> bytes:
    return pdf(pages((label,), sheet, LETTERS), "One label", LETTERS)


@pytest.mark.parametrize("name", SIZES)
@pytest.mark.parametrize("speck_mm", [0.15, 0.25])
def test_a_code_is_read_when_a_tenth_is_dusted_over_and_it_is_seen_a_fifth_smaller(
    name: str, speck_mm: float
) -> None:
    label, *size = SIZES[name]
    sheet = one(*size)
    picture = printed(label_pdf(label, sheet))
    box = box_px(code_on(label, sheet))
    for seed in range(6):
        dusty = dusted(picture, box, 0.10, speck_mm * DPI / 25.4, seed)
        assert read(shrunk(dusty)) == label.link, seed


def test_a_code_is_read_when_one_blot_covers_a_tenth_of_its_middle() -> None:
    sheet = one(50, 25)
    picture = printed(label_pdf(USUAL, sheet))
    left, top, right, bottom = box_px(code_on(USUAL, sheet))
    side = int((right - left) * 0.10**0.5)
    middle = ((left + right - side) // 2, (top + bottom - side) // 2)
    picture.paste(Image.new("L", (side, side), 235), middle)
    assert read(shrunk(picture)) == USUAL.link


def test_dust_over_half_of_a_code_is_too_much() -> None:
    # Else the dust of these tests would be none.
    sheet = one(50, 25)
    dusty = dusted(printed(label_pdf(USUAL, sheet)), box_px(code_on(USUAL, sheet)), 0.5, 2.0, 1)
    assert read(shrunk(dusty)) is None


def test_an_svg_sheet_is_read_too() -> None:
    sheet = one(50, 25)
    (page,) = pages((USUAL,), sheet, LETTERS)
    drawing = svg(page, "One label").decode()
    assert 'width="50mm" height="25mm"' in drawing
    png = vl_convert.svg_to_png(drawing, ppi=DPI)
    assert read(picture_of(png)) == USUAL.link
    for text in (USUAL.word, *USUAL.lines):
        assert f">{text}</text>" in drawing


def picture_of(png: bytes) -> Any:
    from io import BytesIO

    return Image.open(BytesIO(png)).convert("L")


@pytest.mark.parametrize("label", [SHORT, USUAL, LONG])
def test_a_label_a_tenth_of_a_millimetre_too_small_for_its_code_says_what_it_needs(
    label: Label,
) -> None:
    needs_mm = least_side_mm(label.link)
    assert drawn(label, one(80, needs_mm + 2.5), (0, 0), LETTERS)
    with pytest.raises(LabelError, match=f"needs {needs_mm:.1f} mm") as refused:
        drawn(label, one(80, needs_mm + 2.3), (0, 0), LETTERS)
    assert refused.value.parameter == "label_height_mm"


def test_modules_are_whole_dots_of_a_label_printer_and_lie_on_them() -> None:
    for label, *size in SIZES.values():
        code = code_on(label, one(*size))
        dots = code.module_mm / DOT_MM
        assert dots == pytest.approx(round(dots))
        assert round(dots) >= MODULE_DOTS_LEAST
        assert code.x_mm / DOT_MM == pytest.approx(round(code.x_mm / DOT_MM))
        assert code.rows in [qr.modules(label.link, level) for level in LEVELS]


@given(
    st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._-]{0,39}", fullmatch=True),
    st.lists(st.text(min_size=0, max_size=80), max_size=4),
    st.sampled_from([(40.0, 24.0), (50.0, 25.0), (62.0, 29.0), (63.3, 33.4), (26.0, 45.0)]),
)
def test_words_stay_on_the_label_beside_the_code_and_on_no_other(
    word: str, lines: list[str], size: tuple[float, float]
) -> None:
    sheet = one(*size)
    link = f"http://192.168.1.20:8700/gun-side#piece={word}"
    try:
        marks = drawn(Label(link, word, tuple(lines)), sheet, (0, 0), LETTERS)
    except LabelError:
        return
    (code,) = (mark for mark in marks if isinstance(mark, Squares))
    side = code.module_mm * len(code.rows)
    boxes = [(code.x_mm, code.y_mm, code.x_mm + side, code.y_mm + side)]
    for mark in marks:
        if isinstance(mark, Words):
            wide = LETTERS.width_mm(mark.text, mark.size_mm, bold=mark.bold)
            top, low = mark.y_mm - 0.76 * mark.size_mm, mark.y_mm + 0.2 * mark.size_mm
            boxes.append((mark.x_mm, top, mark.x_mm + wide, low))
    for left, top, right, bottom in boxes:
        assert left >= 0
        assert top >= 0
        assert right <= size[0] + 0.01
        assert bottom <= size[1] + 0.01
    for a, b in combinations(boxes, 2):
        assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1], (a, b)
    heads = "".join(m.text for m in marks if isinstance(m, Words) and m.bold)
    assert heads == word, "a word is never cut"


def test_sheets_follow_one_another_and_used_places_stay_free() -> None:
    sheet = sheet_of(PAPERS["a4"], 3, 8, left_mm=8, top_mm=8, gap_x_mm=2, gap_y_mm=2)
    labels = tuple(USUAL._replace(word=f"P-{n}") for n in range(30))
    first, second = pages(labels, sheet, LETTERS, skip=2, outline=True)
    heads = [[m.text for m in page.marks if isinstance(m, Words) and m.bold]
             for page in (first, second)]  # fmt: skip
    assert heads == [[f"P-{n}" for n in range(22)], [f"P-{n}" for n in range(22, 30)]]
    assert sum(isinstance(mark, Frame) for mark in first.marks) == 24
    document = pdf((first, second), "Labels", LETTERS)
    assert page_count(document) == 2
    assert "P-0" in text_of(document)
    assert text_of(document, 1).count("P-2") == 8


def test_no_labels_are_one_empty_sheet() -> None:
    (page,) = pages((), one(50, 25), LETTERS)
    assert page.marks == ()
    assert page_count(pdf((page,), "Labels", LETTERS)) == 1


def test_the_same_labels_are_the_same_bytes_with_their_fonts_inside() -> None:
    document = label_pdf(USUAL, one(50, 25))
    assert document == label_pdf(USUAL, one(50, 25))
    assert re.search(rb"/FontFile2", document)
    assert b"FiraSans" in document
