"""Documents as PDF: each on one page where its letters stay readable, else on more."""

from io import BytesIO
from itertools import count
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib import colors
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageBreak, PageTemplate, Spacer
from reportlab.platypus import Paragraph as Text
from reportlab.platypus import Table as Grid

from coatledger_adapters import qr
from coatledger_adapters.printed.document import (
    Block,
    Document,
    Heading,
    Listed,
    Paragraph,
    Table,
)
from coatledger_adapters.printed.lettering import MM_PER_PT, Letters, largest_mm
from coatledger_adapters.printed.marks import Squares
from coatledger_adapters.printed.paper import Paper
from coatledger_adapters.printed.pdf import squares

MARGIN_MM, MARGIN_SHARE = 14.0, 0.07
CODE_MM = 30.0
LONG_TITLE = 40
FOOT_MM, FOOT_PT = 6.0, 7.0
# Tried in turn until a document fits on its page; the last is what is still read at the bench.
SIZES_PT = (10.0, 9.25, 8.5, 7.75, 7.0)
INK, QUIET, RULE = (colors.HexColor(f"#{tone}") for tone in ("1c1a17", "55504a", "8a8378"))


class _Code(Flowable):  # type: ignore[misc]
    """A QR code as large as its column."""

    def __init__(self, content: str, side_mm: float) -> None:
        super().__init__()
        self._rows = qr.modules(content, "M")
        self._module_mm = side_mm / (len(self._rows) + 2 * qr.QUIET_MODULES)
        self._side_mm = side_mm
        self.width = self.height = side_mm * mm

    def draw(self) -> None:
        quiet_mm = qr.QUIET_MODULES * self._module_mm
        code = Squares(quiet_mm, quiet_mm, self._module_mm, self._rows)
        squares(self.canv, code, self._side_mm)


class _Box(Flowable):  # type: ignore[misc]
    """A box to tick."""

    def __init__(self, side_pt: float, ticked: bool) -> None:
        super().__init__()
        self._ticked = ticked
        self.width = self.height = side_pt

    def draw(self) -> None:
        self.canv.setLineWidth(0.9)
        self.canv.setStrokeColor(INK)
        self.canv.rect(0, 0, self.width, self.height)
        if self._ticked:
            path = self.canv.beginPath()
            path.moveTo(self.width * 0.2, self.height * 0.5)
            path.lineTo(self.width * 0.45, self.height * 0.2)
            path.lineTo(self.width * 0.85, self.height * 0.9)
            self.canv.drawPath(path, stroke=1, fill=0)


class _Set(BaseDocTemplate):  # type: ignore[misc]
    """Pages with their foot."""

    def __init__(self, out: BytesIO, paper: Paper, title: str, foots: dict[int, str],
                 written: Letters) -> None:  # fmt: skip
        super().__init__(
            out, pagesize=(paper.width_mm * mm, paper.height_mm * mm), title=title, invariant=1,
            creator="coatledger", author="",
        )  # fmt: skip
        margin_mm = _margin_mm(paper)
        frame = Frame(
            margin_mm * mm, (margin_mm + FOOT_MM) * mm, (paper.width_mm - 2 * margin_mm) * mm,
            (paper.height_mm - 2 * margin_mm - FOOT_MM) * mm, leftPadding=0, rightPadding=0,
            topPadding=0, bottomPadding=0,
        )  # fmt: skip
        self._foots, self._written, self._paper = foots, written, paper
        self.addPageTemplates(PageTemplate("page", [frame], onPage=self._foot))

    def _foot(self, canvas: Any, _: Any) -> None:
        text = self._written.written(self._foots.get(canvas.getPageNumber(), ""))
        margin_mm = _margin_mm(self._paper)
        width_mm = self._paper.width_mm - 2 * margin_mm
        size_mm = largest_mm(self._written, text, width_mm, 0.0, FOOT_PT * MM_PER_PT)
        canvas.setFont(self._written.plain, (size_mm or 0.0) * mm)
        canvas.setFillColor(QUIET)
        canvas.drawString(margin_mm * mm, margin_mm * mm, text)


def document_pdf(documents: tuple[Document, ...], paper: Paper, written: Letters) -> bytes:
    """Write documents one after the other."""
    whole: list[Flowable] = []
    foots: dict[int, str] = {}
    for document in documents:
        size_pt, pages = _fitting(document, paper, written)
        first = len(foots) + 1
        for page in range(pages):
            beyond = f"   {page + 1} of {pages}" if pages > 1 else ""
            foots[first + page] = f"{document.foot}{beyond}"
        whole += [*([PageBreak()] if whole else []), *_flow(document, paper, written, size_pt)]
    out = BytesIO()
    _Set(out, paper, documents[0].title if documents else "", foots, written).build(whole)
    return out.getvalue()


def _fitting(document: Document, paper: Paper, written: Letters) -> tuple[float, int]:
    """Return the largest size at which a document fits on one page, else a middle one."""
    for size_pt in SIZES_PT:
        if _pages(document, paper, written, size_pt) == 1:
            return size_pt, 1
    size_pt = SIZES_PT[len(SIZES_PT) // 2]
    return size_pt, _pages(document, paper, written, size_pt)


def _pages(document: Document, paper: Paper, written: Letters, size_pt: float) -> int:
    template = _Set(BytesIO(), paper, "", {}, written)
    template.build(_flow(document, paper, written, size_pt))
    return int(template.page)


def _flow(document: Document, paper: Paper, written: Letters, size_pt: float) -> list[Flowable]:
    width_mm = paper.width_mm - 2 * _margin_mm(paper)
    kit = _Kit(written, size_pt, width_mm)
    size = 1.9 if len(document.title) <= LONG_TITLE else 1.3
    head: list[Flowable] = [kit.text(document.title, size=size, bold=True, after=0.35)]
    head += [kit.text(line, size=1.05, after=0.15) for line in document.lead]
    flow: list[Flowable] = head
    if document.code is not None:
        side_mm = CODE_MM * size_pt / SIZES_PT[0]
        told = kit.text(document.code.says, size=0.7, quiet=True, middle=True)
        code = [_Code(document.code.content, side_mm), told]
        widths = [(width_mm - side_mm) * mm, side_mm * mm]
        flow = [Grid([[head, code]], colWidths=widths, style=_BARE)]
    flow.append(Spacer(1, size_pt * 0.6))
    for block in document.blocks:
        flow += kit.block(block)
    return flow


def _margin_mm(paper: Paper) -> float:
    return min(MARGIN_MM, paper.width_mm * MARGIN_SHARE)


_BARE = (
    ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 0), ("TOPPADDING", (0, 0), (-1, -1), 0),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
)  # fmt: skip


class _Kit:
    """Sets blocks in one size."""

    def __init__(self, written: Letters, size_pt: float, width_mm: float) -> None:
        self._written = written
        self._size_pt = size_pt
        self._width_mm = width_mm
        self._numbers = count()

    def text(
        self, text: str, *, size: float = 1.0, bold: bool = False, quiet: bool = False,
        typed: bool = False, middle: bool = False, before: float = 0.0, after: float = 0.0,
    ) -> Text:  # fmt: skip
        """Set one paragraph; sizes and distances in the document's letters."""
        points = self._size_pt * size
        style = ParagraphStyle(
            f"s{next(self._numbers)}",
            fontName="Courier" if typed else self._written.bold if bold else self._written.plain,
            fontSize=points,
            leading=points * 1.28,
            textColor=QUIET if quiet else INK,
            alignment=1 if middle else 0,
            spaceBefore=self._size_pt * before,
            spaceAfter=self._size_pt * after,
            splitLongWords=1,
        )
        lines = text.split("\n")
        shown = lines if typed else [self._written.written(line) for line in lines]
        return Text("<br/>".join(escape(line) for line in shown), style)

    def block(self, block: Block) -> list[Flowable]:
        """Set one block."""
        match block:
            case Heading():
                return [self.text(block.text, size=1.15, bold=True, before=0.9, after=0.35)]
            case Paragraph():
                size = 1.25 if block.large else 0.8 if block.quiet or block.typed else 1.0
                return [
                    self.text(block.text, size=size, bold=block.large, quiet=block.quiet,
                              typed=block.typed, after=0.45)
                ]  # fmt: skip
            case Listed():
                return [self.text(f"–  {item}", after=0.25) for item in block.items]
            case Table():
                return [self._table(block), Spacer(1, self._size_pt * 0.5)]

    def _table(self, table: Table) -> Grid:
        size = 0.92
        box_pt = self._size_pt * 1.15
        head = [self.text(word, size=0.78, quiet=True) for word in table.headings]
        rows: list[list[Any]] = [[self.text(cell, size=size) for cell in row] for row in table.rows]
        widths = [self._width_mm * mm * share / sum(table.shares) for share in table.shares]
        if table.ticks:
            ticked = table.ticked or (False,) * len(rows)
            rows = [[_Box(box_pt, done), *row] for done, row in zip(ticked, rows, strict=True)]
            head = ["", *head]
            spared = (self._width_mm * mm - 2.0 * box_pt) / (self._width_mm * mm)
            widths = [2.0 * box_pt, *(width * spared for width in widths)]
        whole = [head, *rows] if any(table.headings) else rows
        style = [
            *_BARE,
            ("LINEBELOW", (0, 0), (-1, -1), 0.4, RULE),
            ("RIGHTPADDING", (0, 0), (-1, -1), 4),
            ("TOPPADDING", (0, 0), (-1, -1), self._size_pt * 0.28),
            ("BOTTOMPADDING", (0, 0), (-1, -1), self._size_pt * 0.34),
        ]
        return Grid(whole, colWidths=widths, style=style, repeatRows=int(any(table.headings)))
