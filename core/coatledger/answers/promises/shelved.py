"""Of what is asked for, that which stands on the shelf: it is not made, and leaves at a pick-up."""

from collections.abc import Mapping, Sequence
from datetime import date
from types import MappingProxyType

from msgspec import Struct
from msgspec.structs import replace

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
    """How many of what is asked for stand there, by its turn, and the day on which they leave."""

    taken: Mapping[int, int] = MappingProxyType({})
    day: date = date.max

    def rest(self, words: Sequence[str], wanted: Sequence[Wanted]) -> Mapping[str, Wanted]:
        """Return what has to be made, by the words of what was asked for."""
        return {
            words[turn]: replace(one, quantity=one.quantity - self.taken.get(turn, 0))
            for turn, one in enumerate(wanted)
            if one.quantity > self.taken.get(turn, 0)
        }


NOTHING = Shelved()


def shelved(reader: Reader, asked: Asked, world: World, wanted: Sequence[Wanted]) -> Shelved:
    """Find what of several things can be sold off the shelf; what lacks of one of them is made.

    *Reference:* `shelf.on_shelf`, `last_for_pick_up`. *Valid:* a shop that is described.
    """
    made = [None if one.sku is None else made_as(one.sku, one.options) for one in wanted]
    free = dict(on_shelf(reader, asked, world.holds, (one for one in made if one is not None)))
    taken: dict[int, int] = {}
    for turn, (one, name) in enumerate(zip(wanted, made, strict=True)):
        if name is not None and free.get(name, 0):
            taken[turn] = min(free[name], one.quantity)
            free[name] -= taken[turn]
    day = _day(asked, reader, world) if taken else None
    return NOTHING if day is None else Shelved(taken=taken, day=day)


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
