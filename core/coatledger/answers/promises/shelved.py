"""Of what is asked for, that which stands on the shelf: it is not made, and leaves at a pick-up."""

from collections.abc import Mapping, Sequence
from datetime import date

from msgspec import Struct

from coatledger.answers.promises.ahead import World
from coatledger.answers.promises.order_before import last_for_pick_up
from coatledger.computations.calendar import NeverOpen, local_date
from coatledger.events.orders import OrderLine
from coatledger.ledger.record import moment
from coatledger.ledger.store import Reader
from coatledger.open_shop.asked_for import Wanted
from coatledger.open_shop.shelf import Made, made_as, on_shelf
from coatledger.subjects.asked import Asked
from coatledger.subjects.working import working


class Shelved(Struct, frozen=True, kw_only=True):
    """Which of what is asked for stands there, by its turn, and the day on which it leaves."""

    turns: frozenset[int] = frozenset()
    day: date = date.max


NOTHING = Shelved()


def shelved(reader: Reader, asked: Asked, world: World, wanted: Sequence[Wanted]) -> Shelved:
    """Find what of several things can be sold off the shelf, each as a whole.

    *Reference:* `shelf.on_shelf`, `last_for_pick_up`. *Valid:* a shop that is described.
    """
    made = [None if one.sku is None else made_as(one.sku, one.options) for one in wanted]
    free = dict(on_shelf(reader, asked, world.holds, (one for one in made if one is not None)))
    turns = set()
    for turn, (one, name) in enumerate(zip(wanted, made, strict=True)):
        if name is not None and free.get(name, 0) >= one.quantity:
            free[name] -= one.quantity
            turns.add(turn)
    day = _day(asked, reader, world) if turns else None
    return NOTHING if day is None else Shelved(turns=frozenset(turns), day=day)


def made_of(lines: Sequence[OrderLine]) -> Mapping[str, Made]:
    """Name what each line that has a SKU asks for, by the line's word."""
    return {line.line: made_as(line.sku, line.options) for line in lines if line.sku is not None}


def _day(asked: Asked, reader: Reader, world: World) -> date | None:
    view = asked.view(reader)
    described = view.shop()
    if described is None:
        return None
    calendar = working(described, view.shop_state(), world.holidays)
    try:
        return local_date(last_for_pick_up(calendar, moment(asked.now_us)), described.zone)
    except NeverOpen:
        return None
