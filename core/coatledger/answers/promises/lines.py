"""What is asked for, read against what the shop sells: unknown words, options, and pauses."""

from collections.abc import Iterator, Sequence
from typing import Literal

from msgspec import Struct

from coatledger.events.orders import OrderLine
from coatledger.events.setup import OfferingDescribed
from coatledger.open_shop.asked_for import sold_as
from coatledger.subjects.view import View

Kind = Literal["wrong", "unknown", "paused"]
# More than this at once is no order but a plan; it also bounds what one question costs.
PIECES_MAX = 1_000
_FREE = ("schedule", "species", "coat_area_m2", "use")


class Wrong(Struct, frozen=True):
    """One thing wrong with what is asked for: `wrong` in any state, `unknown` here, or `paused`.
    `pointer` is its place, after that of the lines."""

    kind: Kind
    pointer: str
    says: str


def wrong_lines(view: View, lines: Sequence[OrderLine]) -> tuple[Wrong, ...]:
    """List everything that is wrong with lines that somebody asks for."""
    found = [wrong for n, line in enumerate(lines) for wrong in _line(view, n, line)]
    seen: set[str] = set()
    for n, line in enumerate(lines):
        if line.line in seen:
            found.append(Wrong("wrong", f"/{n}/line", "each line has a word of its own"))
        seen.add(line.line)
    if sum(line.quantity for line in lines) > PIECES_MAX:
        found.append(Wrong("wrong", "", f"at most {PIECES_MAX} pieces are asked for at once"))
    return tuple(found)


def _line(view: View, n: int, line: OrderLine) -> Iterator[Wrong]:
    free = [name for name in _FREE if getattr(line, name) is not None]
    if line.offering is None and line.sku is None:
        if line.schedule is None and line.coat_area_m2 is None:
            says = "a line names an offering or a SKU, or describes work by its area or schedule"
            yield Wrong("wrong", f"/{n}", says)
        if line.options:
            yield Wrong("wrong", f"/{n}/options", "options are those of an offering")
        return
    for name in free:
        yield Wrong("wrong", f"/{n}/{name}", "the offering says what it is made of")
    word = "sku" if line.offering is None else "offering"
    sold = sold_as(view, line.offering or line.sku or "")
    if sold is None or (word == "sku" and line.sku not in sold.skus):
        yield Wrong("unknown", f"/{n}/{word}", f"nothing of the word {getattr(line, word)} is sold")
        return
    if line.sku is not None and line.sku not in sold.skus:
        yield Wrong("wrong", f"/{n}/sku", f"{sold.offering} is not sold as {line.sku}")
    yield from _options(n, line, sold)
    if sold.paused:
        yield Wrong("paused", f"/{n}/{word}", f"{sold.offering} is not sold at present")


def _options(n: int, line: OrderLine, sold: OfferingDescribed) -> Iterator[Wrong]:
    for axis, value in line.options.items():
        offered = sold.options.get(axis)
        if offered is None:
            yield Wrong("wrong", f"/{n}/options/{axis}", f"{sold.offering} has no option {axis}")
        elif value not in offered:
            says = f"{axis} is one of {', '.join(offered)}"
            yield Wrong("wrong", f"/{n}/options/{axis}", says)
