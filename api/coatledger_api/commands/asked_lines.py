"""What is asked for, as it stands on the command line: `SKU`, `SKU=3`, or a piece described."""

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any, TypeVar, get_args

import click
from coatledger.events.setup import Use

from coatledger_api.commands.reach import Misused

F = TypeVar("F", bound=Callable[..., Any])
DAY = click.DateTime(["%Y-%m-%d"])


def asking_for(command: F) -> F:
    """Give a command the argument WHAT and the options that describe a piece freely."""
    for option in (
        click.option("--use", type=click.Choice(get_args(Use)), help="What the piece is for."),
        click.option("--schedule", help="Schedule of a piece that no offering describes."),
        click.option("--species", help="Wood of such a piece."),
        click.option("--area-m2", type=click.FloatRange(min=0.001), help="Its area to be coated."),
        click.option(
            "--quantity", type=click.IntRange(1, 1000), default=1, help="How many such pieces."
        ),
        click.option("--by-offering", is_flag=True, help="WHAT are offerings, not SKUs."),
        click.option("--alone", is_flag=True, help="Let each line ship by itself."),
        click.option("--wanted-by", type=DAY, help="The day that is wished for."),
        click.argument("what", nargs=-1),
    ):
        command = option(command)
    return command


def body_of(
    what: Sequence[str], *, by_offering: bool, alone: bool, wanted_by: datetime | None,
    quantity: int, **described: Any,
) -> dict[str, Any]:  # fmt: skip
    """Write what is asked for as the service takes it; without lines when nothing was named."""
    lines = [_line(word, "offering" if by_offering else "sku") for word in what]
    free = {
        {"area_m2": "coat_area_m2"}.get(name, name): value
        for name, value in described.items()
        if value is not None
    }
    if free:
        lines.append({"quantity": quantity, **free})
    body: dict[str, Any] = {"lines": lines} if lines else {}
    if alone:
        body["together"] = False
    if wanted_by is not None:
        body["wanted_by"] = wanted_by.date()
    return body


def _line(text: str, name: str) -> dict[str, Any]:
    word, _, count = text.partition("=")
    if not count:
        return {name: word}
    if not count.isdecimal():
        raise Misused(f"{text}: write how many as a number, such as {word}=2")
    return {name: word, "quantity": int(count)}
