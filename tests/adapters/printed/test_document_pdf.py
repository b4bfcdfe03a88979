"""Documents as PDF: on one page where they fit, with every word on the paper, codes that read."""

from __future__ import annotations

import numpy as np
import pytest
from coatledger_adapters.printed.document import (
    Block,
    Code,
    Document,
    Heading,
    Listed,
    Paragraph,
    Table,
)
from coatledger_adapters.printed.document_pdf import document_pdf
from coatledger_adapters.printed.lettering import letters
from coatledger_adapters.printed.paper import PAPERS
from printer import page_count, printed, read, text_of

LETTERS = letters()
LINK = "http://192.168.1.20:8700/gun-side#piece=BT-08-1"


def document(rows: int = 8, title: str = "Batch BT-08", words: str = "a step") -> Document:
    blocks: tuple[Block, ...] = (
        Paragraph("What is first", large=True),
        Table(("", "what", "target"), tuple((str(n), words, "100 µm") for n in range(rows)),
              (0.5, 3, 2), ticks=True, ticked=(True,) + (False,) * (rows - 1)),
        Heading("Be careful"),
        Listed(("This first.", "That then.")),
        Paragraph("line one\nline two", typed=True),
    )  # fmt: skip
    return Document(title, ("six pieces",), blocks, Code(LINK, "opens BT-08-1"), "Printed today.")


def margins_px(page: bytes, number: int = 0) -> tuple[int, int]:
    """How far ink is from the left and the right edge of a page."""
    dark = np.array(printed(page, number, 72)) < 128
    columns = np.flatnonzero(dark.any(axis=0))
    return int(columns[0]), int(dark.shape[1] - 1 - columns[-1])


@pytest.mark.parametrize("paper", PAPERS)
def test_a_document_fits_on_one_page_of_any_paper_with_margins(paper: str) -> None:
    made = document_pdf((document(),), PAPERS[paper], LETTERS)
    assert page_count(made) == 1
    text = text_of(made)
    for words in ("Batch BT-08", "six pieces", "opens BT-08-1", "Be careful", "That then.",
                  "line two", "Printed today."):  # fmt: skip
        assert words in text
    left_px, right_px = margins_px(made)
    least_px = 0.06 * PAPERS[paper].width_mm / 25.4 * 72
    assert left_px >= least_px
    assert right_px >= least_px


def test_its_code_is_read() -> None:
    for paper in ("a4", "a6"):
        assert read(printed(document_pdf((document(),), PAPERS[paper], LETTERS))) == LINK


def test_much_text_is_set_smaller_first_and_then_goes_on() -> None:
    sizes = []
    for rows in (10, 34, 44, 120):
        made = document_pdf((document(rows),), PAPERS["a4"], LETTERS)
        ink = np.flatnonzero((np.array(printed(made, 0, 72)) < 128).any(axis=1))
        sizes.append((page_count(made), int(ink[0])))
    pages = [count for count, _ in sizes]
    assert pages[:2] == [1, 1]
    assert pages[-1] > 1
    long = document_pdf((document(120),), PAPERS["a4"], LETTERS)
    assert "1 of" in text_of(long)
    assert f"{page_count(long)} of {page_count(long)}" in text_of(long, page_count(long) - 1)
    assert "what" in text_of(long, 1), "a table's headings stand on each page"


def test_each_document_begins_on_a_page_of_its_own() -> None:
    made = document_pdf((document(title="First"), document(title="Second")), PAPERS["a4"], LETTERS)
    assert page_count(made) == 2
    assert "First" in text_of(made, 0)
    assert "Second" in text_of(made, 1)


def test_words_without_end_and_of_any_script_stay_within_the_margins() -> None:
    for words in ("W" * 160, "漢字" * 80, "<b>&amp;</b>" * 12, "\u202e\u0000\u0007 x", ""):
        long = document(3, title=words[:90], words=words)
        made = document_pdf((long,), PAPERS["a6"], LETTERS)
        assert min(margins_px(made)) >= 15
    assert "<b>&amp;</b>" in text_of(
        document_pdf((document(1, words="<b>&amp;</b>"),), PAPERS["a4"], LETTERS)
    )


def test_the_same_document_is_the_same_bytes() -> None:
    assert document_pdf((document(),), PAPERS["a4"], LETTERS) == document_pdf(
        (document(),), PAPERS["a4"], LETTERS
    )
