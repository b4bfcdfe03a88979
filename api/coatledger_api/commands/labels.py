"""`coatledger labels`: a sheet of labels into a file, for pieces, cans, guns or rooms."""

from pathlib import Path

import click

from coatledger_api.commands.pair import reachable
from coatledger_api.commands.reach import Asked, Service, place_of, reaching
from coatledger_api.commands.shown import say

KINDS = ("piece", "can", "gun", "room")
_SIZE = click.FloatRange(0, 2000)


@click.command("labels")
@click.argument("words", nargs=-1)
@click.option("--kind", type=click.Choice(KINDS), default="piece", show_default=True,
              help="Labels of what.")  # fmt: skip
@click.option("--out", "file", type=click.Path(path_type=Path, dir_okay=False),
              help="The file; .pdf or .svg. Default: labels.pdf.")  # fmt: skip
@click.option("--base", help="Where devices reach the service, such as http://192.168.1.20:8700.")
@click.option("--paper", type=click.Choice(("a4", "letter")), default="a4", show_default=True)
@click.option("--roll", nargs=2, type=_SIZE, metavar="WIDTH HEIGHT",
              help="One label a page, of so many millimetres, as on a roll.")  # fmt: skip
@click.option("--columns", type=click.IntRange(1, 20), default=3, show_default=True)
@click.option("--rows", type=click.IntRange(1, 40), default=8, show_default=True)
@click.option("--margins", nargs=2, type=_SIZE, default=(8, 8), metavar="LEFT TOP",
              help="Millimetres. Default: 8 8.")  # fmt: skip
@click.option("--gaps", nargs=2, type=_SIZE, default=(2, 2), metavar="ACROSS DOWN",
              help="Millimetres between labels. Default: 2 2.")  # fmt: skip
@click.option("--size", nargs=2, type=_SIZE, metavar="WIDTH HEIGHT",
              help="A label's millimetres. Default: what fills the sheet.")  # fmt: skip
@click.option("--skip", type=click.IntRange(0, 799), default=0, help="Places already used.")
@click.option("--outline", is_flag=True, help="Draw each label's edge, to try a sheet out.")
@reaching
def command(
    words: tuple[str, ...], kind: str, file: Path | None, base: str | None, paper: str,
    roll: tuple[float, float] | None, columns: int, rows: int, margins: tuple[float, float],
    gaps: tuple[float, float], size: tuple[float, float] | None, skip: int, outline: bool,
    url: str | None, key: str | None,
) -> None:  # fmt: skip
    """Write labels for WORDS, or for all that is here, to a PDF or SVG file.

    Print it at 100 %, not fitted to the page. A phone's camera opens the gun-side page from a
    label; whoever is not paired sees nothing of the shop.
    """
    place = place_of(url, key)
    file = file or Path("labels.pdf")
    asked: dict[str, Asked] = {
        "kind": "lot" if kind == "can" else kind, "id": list(words), "skip": skip,
        "base": (base or reachable(place.url)).rstrip("/"), "outline": outline or None,
        "format": "svg" if file.suffix.lower() == ".svg" else "pdf",
    }  # fmt: skip
    asked |= _roll(roll) if roll else _sheet(paper, columns, rows, margins, gaps, size)
    with Service(place) as service:
        body = service.get("/v1/labels", **asked)
    file.write_bytes(body)
    say(f"Labels are in {file}. Print at 100 %.")


def _roll(roll: tuple[float, float]) -> dict[str, Asked]:
    return {
        "paper_width_mm": roll[0], "paper_height_mm": roll[1], "columns": 1,
        "rows": 1, "left_mm": 0, "top_mm": 0,
    }  # fmt: skip


def _sheet(
    paper: str, columns: int, rows: int, margins: tuple[float, float], gaps: tuple[float, float],
    size: tuple[float, float] | None,
) -> dict[str, Asked]:  # fmt: skip
    width_mm, height_mm = size or (None, None)
    return {
        "paper": paper, "columns": columns, "rows": rows, "left_mm": margins[0],
        "top_mm": margins[1], "gap_x_mm": gaps[0], "gap_y_mm": gaps[1],
        "label_width_mm": width_mm, "label_height_mm": height_mm,
    }  # fmt: skip
