"""A page of marks as SVG, in exact millimetres; its text stays text, in the reader's own font."""

from html import escape

from coatledger_adapters.printed.marks import Frame, Mark, Page, Squares, Words

FONTS = "'Fira Sans','DejaVu Sans',Verdana,sans-serif"


def svg(page: Page, title: str) -> bytes:
    """Write one page. Each text is held to the width it was measured to take."""
    width, height = _number(page.width_mm), _number(page.height_mm)
    marks = "\n".join(_mark(mark) for mark in page.marks)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}" font-family="{FONTS}">\n<title>{escape(title)}</title>\n'
        f'<rect width="100%" height="100%" fill="#fff"/>\n{marks}\n</svg>\n'
    ).encode()


def _mark(mark: Mark) -> str:
    match mark:
        case Words():
            weight = ' font-weight="bold"' if mark.bold else ""
            return (
                f'<text x="{_number(mark.x_mm)}" y="{_number(mark.y_mm)}" '
                f'font-size="{_number(mark.size_mm)}" textLength="{_number(mark.width_mm)}" '
                f'lengthAdjust="spacingAndGlyphs"{weight}>{escape(mark.text, quote=False)}</text>'
            )
        case Squares():
            side = mark.module_mm
            path = "".join(
                f"M{_number(mark.x_mm + column * side)} {_number(mark.y_mm + row * side)}"
                f"h{_number(count * side)}v{_number(side)}h{_number(-count * side)}z"
                for row, column, count in mark.runs()
            )
            return f'<path d="{path}"/>'
        case Frame():
            return (
                f'<rect x="{_number(mark.x_mm)}" y="{_number(mark.y_mm)}" '
                f'width="{_number(mark.width_mm)}" height="{_number(mark.height_mm)}" '
                'fill="none" stroke="#999" stroke-width="0.1"/>'
            )


def _number(value: float) -> str:
    return f"{value:.4f}".rstrip("0").rstrip(".")
