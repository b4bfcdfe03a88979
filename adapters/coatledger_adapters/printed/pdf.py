"""Pages of marks as PDF: exact millimetres, fonts embedded, and the same bytes every time."""

from io import BytesIO

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from coatledger_adapters.printed.lettering import Letters
from coatledger_adapters.printed.marks import Frame, Page, Squares, Words

FRAME_MM = 0.1
FRAME_GREY = 0.6


def pdf(pages: tuple[Page, ...], title: str, written: Letters) -> bytes:
    """Write pages, each in its own size."""
    out = BytesIO()
    canvas = Canvas(out, invariant=1, pageCompression=1)
    canvas.setTitle(title)
    canvas.setCreator("coatledger")
    for page in pages:
        canvas.setPageSize((page.width_mm * mm, page.height_mm * mm))
        for mark in page.marks:
            match mark:
                case Words():
                    canvas.setFont(written.bold if mark.bold else written.plain, mark.size_mm * mm)
                    canvas.drawString(mark.x_mm * mm, (page.height_mm - mark.y_mm) * mm, mark.text)
                case Squares():
                    squares(canvas, mark, page.height_mm)
                case Frame():
                    canvas.setLineWidth(FRAME_MM * mm)
                    canvas.setStrokeGray(FRAME_GREY)
                    y_mm = page.height_mm - mark.y_mm - mark.height_mm
                    canvas.rect(mark.x_mm * mm, y_mm * mm, mark.width_mm * mm, mark.height_mm * mm)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def squares(canvas: Canvas, mark: Squares, height_mm: float) -> None:
    """Draw a code as one shape, so that no light seams stand between its rows."""
    path = canvas.beginPath()
    side = mark.module_mm * mm
    top = (height_mm - mark.y_mm) * mm
    for row, column, count in mark.runs():
        path.rect(mark.x_mm * mm + column * side, top - (row + 1) * side, count * side, side)
    canvas.setFillGray(0)
    canvas.drawPath(path, stroke=0, fill=1)
