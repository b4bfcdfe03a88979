"""`coatledger print`: a traveller, care card or packing slip into a file."""

from pathlib import Path

import click

from coatledger_api.commands.pair import reachable
from coatledger_api.commands.reach import Asked, Misused, Service, place_of, reaching
from coatledger_api.commands.shown import say


@click.command("print")
@click.argument("thing", type=click.Choice(("traveller", "care-card", "packing-slip")))
@click.argument("pieces", nargs=-1)
@click.option("--order", help="All pieces of this order.")
@click.option("--out", "file", type=click.Path(path_type=Path, dir_okay=False),
              help="The file; .pdf or .html. Default: THING.pdf.")  # fmt: skip
@click.option("--paper", type=click.Choice(("a4", "letter", "a5", "a6")), default="a4",
              show_default=True)  # fmt: skip
@click.option("--units", type=click.Choice(("metric", "us")), help="Default: those of the shop.")
@click.option("--base", help="Where devices reach the service: the traveller's code opens it.")
@reaching
def command(
    thing: str, pieces: tuple[str, ...], order: str | None, file: Path | None, paper: str,
    units: str | None, base: str | None, url: str | None, key: str | None,
) -> None:  # fmt: skip
    """Write a THING for the PIECES, or for an order, to a PDF or HTML file.

    A traveller is the schedule of a batch to tick off, with targets, waits and cautions. A care
    card tells the buyer from when a piece may be used. A packing slip says what is in the box, and
    carries the ledger's signed head.
    """
    if order is None and not pieces:
        raise Misused("Name pieces, or an order with --order.")
    place = place_of(url, key)
    file = file or Path(f"{thing}.pdf")
    asked: dict[str, Asked] = {
        "order": order, "piece": list(pieces), "paper": paper, "units": units,
        "format": "html" if file.suffix.lower() in (".html", ".htm") else "pdf",
    }  # fmt: skip
    if thing == "traveller":
        asked["base"] = (base or reachable(place.url)).rstrip("/")
    with Service(place) as service:
        body = service.get(f"/v1/{thing}", **asked)
    file.write_bytes(body)
    say(f"The {thing.replace('-', ' ')} is in {file}.")
