"""What became of each promise: the first day that was told, and the day the last of it left.

A promise is of a whole order, or of each line of it that was given a day of its own. The first word
counts, whatever was told later.
"""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date

from msgspec import Struct

from coatledger.computations.calendar import local_date
from coatledger.events.leaving import HandedOver, Shipped
from coatledger.events.orders import PromiseMade, PromiseRevised
from coatledger.ledger.correct import Placed, history
from coatledger.ledger.record import moment
from coatledger.ledger.store import Reader
from coatledger.open_shop.asked_for import sold_as
from coatledger.subjects.asked import Asked
from coatledger.subjects.counts import words
from coatledger.subjects.order import Order
from coatledger.subjects.order_lines import LineStands, lines_of
from coatledger.subjects.parked import ParkedError
from coatledger.subjects.view import View

FREE = "free work"
LEVELS_PCT = (50.0, 80.0, 90.0, 95.0)
_TYPES = ("promise_made", "promise_revised", "shipped", "handed_over")


class Judged(Struct, frozen=True, kw_only=True):
    """One promise. `left_on` is None while something of it is here; `is_off` when that was
    cancelled. `days` are those of the levels that were told with it, in their order, or none."""

    order: str
    line: str | None
    told_on: date
    ships_by: date
    level_pct: float
    chance_pct: float | None
    days: tuple[date, ...]
    offerings: tuple[str, ...]
    left_on: date | None
    is_off: bool

    @property
    def is_kept(self) -> bool:
        """Whether all of it left by the first day that was told."""
        return self.left_on is not None and self.left_on <= self.ships_by


def judged(
    reader: Reader, asked: Asked, zone: str, first: date = date.min, last: date = date.max
) -> Iterator[Judged]:
    """Yield the promises that were known at the place asked for, in order of the orders' words, but
    for orders that were told no day between two, these included.

    *Reference:* the facts, corrected as they stand there. *Valid:* a piece counts by the first time
    it left.
    """
    view = asked.view(reader)
    for word in words("order", reader):
        try:
            order = view.order(word)
        except ParkedError:
            continue
        if any(first <= date.fromisoformat(told.ships_by) <= last for told in order.told):
            facts = history(
                reader, f"order:{word}", known=asked.known, until_us=asked.now_us, types=_TYPES
            )
            yield from _of_order(view, order, facts, zone)


def _of_order(view: View, order: Order, facts: Sequence[Placed], zone: str) -> Iterator[Judged]:
    told = [p for p in facts if isinstance(p.fact, PromiseMade | PromiseRevised)]
    left = left_on(facts, zone)
    stands = lines_of(order, view.piece)
    for line in _rows(order, told):
        mine = [one for one in stands if line in (None, one.line)]
        first = next((p for p in told if _line_of(p) in (None, line)), None)
        if first is not None and mine:
            yield _judged(view, order, line, first, mine, left, zone)


def _judged(
    view: View, order: Order, line: str | None, first: Placed, stands: Sequence[LineStands],
    left: Mapping[str, date], zone: str,
) -> Judged:  # fmt: skip
    fact = first.fact
    assert isinstance(fact, PromiseMade | PromiseRevised)
    rest = sum(one.rest for one in stands)
    went = [left[piece] for one in stands for piece in one.shipped if piece in left]
    named = {one.line for one in stands}
    told = (fact.p50, fact.p80, fact.p90, fact.p95) if isinstance(fact, PromiseMade) else ()
    days = tuple(day for day in told if day is not None)
    return Judged(
        order=order.order, line=line, told_on=local_date(moment(first.at_us), zone),
        ships_by=fact.ships_by, level_pct=fact.level_pct,
        chance_pct=fact.chance_pct if isinstance(fact, PromiseMade) else None,
        days=days if len(days) == len(LEVELS_PCT) else (),
        offerings=_offerings(view, order, named),
        left_on=max(went) if went and not rest else None,
        is_off=bool(rest) and order.stage == "cancelled",
    )  # fmt: skip


def _offerings(view: View, order: Order, lines: set[str]) -> tuple[str, ...]:
    found = []
    for one in order.lines:
        if one.line in lines:
            word = one.offering or one.sku
            sold = None if word is None else sold_as(view, word)
            found.append(FREE if word is None else word if sold is None else sold.offering)
    return tuple(sorted(set(found)))


def _rows(order: Order, told: Sequence[Placed]) -> tuple[str | None, ...]:
    if all(_line_of(placed) is None for placed in told):
        return (None,)
    return tuple(line.line for line in order.lines)


def _line_of(placed: Placed) -> str | None:
    line: str | None = getattr(placed.fact, "line", None)
    return line


def left_on(facts: Sequence[Placed], zone: str) -> Mapping[str, date]:
    """Return the day on which each piece first left."""
    days: dict[str, date] = {}
    for placed in facts:
        if isinstance(placed.fact, Shipped | HandedOver):
            for piece in placed.fact.pieces:
                days.setdefault(piece, local_date(moment(placed.at_us), zone))
    return days
