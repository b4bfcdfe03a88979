"""What endangers a promise, in words: what stands in the ledger, and where its days go."""

from collections.abc import Iterator, Sequence
from datetime import date, timedelta

from coatledger.answers.promises.ahead import Ahead
from coatledger.computations.calendar import local_date
from coatledger.computations.simulate.forward import Spent
from coatledger.ledger.record import micros
from coatledger.subjects.order_lines import LineStands
from coatledger.subjects.piece import Piece

_DAY_MIN = 1_440.0
# What takes less than this of a promise's days is not what endangers it.
_SHARE_LEAST = 0.2
_NAMES_MOST = 5


def endangers(
    found: Ahead, stands: Sequence[LineStands], spent: Sequence[Spent], ships_by: date
) -> tuple[str, ...]:
    """Say what keeps an order from its day, the plain facts first."""
    pieces = [found.facts.view.piece(word) for one in stands for word in one.under_way]
    return (
        *_of_pieces(pieces),
        *_of_lines(stands),
        *_of_shop(found, ships_by),
        *_of_days(spent),
    )


def _of_pieces(pieces: Sequence[Piece]) -> Iterator[str]:
    held = [one.piece for one in pieces if one.held]
    if held:
        yield f"held: {named(held)}"
    rework = [one.piece for one in pieces if one.stage == "in_rework"]
    if rework:
        yield f"in rework: {named(rework)}"
    days: dict[str, list[str]] = {}
    for one in pieces:
        if one.stage == "expected":
            days.setdefault(one.likely_on or "a day nobody told", []).append(one.piece)
    for day, words in sorted(days.items()):
        yield f"expected from the joinery on {day}: {named(words)}"
    back = [one.piece for one in pieces if one.returned_us]
    if back:
        yield f"came back: {named(back)}"


def _of_lines(stands: Sequence[LineStands]) -> Iterator[str]:
    for one in stands:
        if one.not_begun:
            yield f"line {one.line}: {one.not_begun} of {one.quantity} not begun"


def _of_shop(found: Ahead, ships_by: date) -> Iterator[str]:
    shop = found.shop
    zone = shop.hours.zone
    today = local_date(shop.now, zone)
    closed = {local_date(one.starts_at, zone) for one in shop.closures}
    working = {opening.weekday for opening in shop.hours.openings}
    days = [today + timedelta(days=n) for n in range(min((ships_by - today).days + 1, 60))]
    shut = [day for day in days if day in closed and day.isoweekday() in working]
    if shut:
        yield f"closed on {named([day.isoformat() for day in shut])}"
    for person in shop.people:
        for gone in person.absences:
            if local_date(gone.starts_at, zone) <= ships_by and micros(gone.ends_at) > micros(
                shop.now
            ):
                yield f"{person.id} is away until {local_date(gone.ends_at, zone).isoformat()}"


def _of_days(spent: Sequence[Spent]) -> Iterator[str]:
    if not spent:
        return
    longest = max(spent, key=_total)
    whole = _total(longest)
    for minutes, says in (
        (longest.queue_min, "waiting for hands, a gun or a place"),
        (longest.hands_on_min, "work at it"),
        (longest.drying_min, "drying between coats"),
        (longest.cure_min, "curing before it may be packed"),
        (longest.again_min, "what comes back and is done again"),
        (longest.pick_up_min, "waiting for the pick-up"),
    ):
        if whole > 0.0 and minutes / whole >= _SHARE_LEAST:
            yield f"{says}: {minutes / _DAY_MIN:.1f} of {whole / _DAY_MIN:.1f} days"


def _total(spent: Spent) -> float:
    return (
        spent.queue_min + spent.hands_on_min + spent.drying_min + spent.cure_min
        + spent.again_min + spent.pick_up_min
    )  # fmt: skip


def named(words: Sequence[str]) -> str:
    """Name some words, the first few of many."""
    if len(words) <= _NAMES_MOST:
        return ", ".join(words)
    return f"{', '.join(words[:_NAMES_MOST])} and {len(words) - _NAMES_MOST} more"
