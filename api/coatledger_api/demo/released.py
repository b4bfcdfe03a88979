"""How batches come in: due from the joinery, ordered before they are begun, and what comes back."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from typing import Final

from coatledger.events.bare import PieceExpected
from coatledger.events.judging import DefectFound
from coatledger.events.leaving import DamageReported, Returned

from coatledger_api.demo.batches import batch
from coatledger_api.demo.floor import Ask, Script, minutes
from coatledger_api.demo.goods import KINDS
from coatledger_api.demo.incidents import BESIDE, ROTATION, plan_of
from coatledger_api.demo.leaving import finished
from coatledger_api.demo.orders import Order
from coatledger_api.demo.rework import rework
from coatledger_api.demo.shop import Group, Shop
from coatledger_api.demo.workdays import at

# What happens to these batches happens to somebody's order.
NEED_ORDERS: Final = frozenset(("danger", "damaged", "rush", "scrap_one"))


def batches(shop: Shop) -> Iterator[Script]:
    """Yield the scripts of every batch of the six weeks, and of the two that are still due."""
    count = len(shop.days.days)
    for index in range(count):
        yield from _planned(shop, index, *plan_of(index, count))
        beside = BESIDE.get(index, BESIDE.get(index - count))
        if beside is not None:
            yield from _planned(shop, index, beside[0], frozenset(beside[1]))
    for index in (count, count + 1):
        yield from _due(shop, index, ROTATION[index % len(ROTATION)])


def _planned(shop: Shop, index: int, name: str, flags: frozenset[str]) -> Iterator[Script]:
    begins = shop.days.at(index, "07:40") + minutes(shop.rng.randrange(0, 150))
    if "danger" in flags:
        begins = shop.days.at(index, "13:20")
    group = _group(index, name, flags)
    if index >= 3 and (index % 3 == 0 or "danger" in flags):
        due = shop.days.day(index - ("danger" in flags))
        _expected(shop, group, shop.days.at(index - 3, "11:15"), due)
    yield from _ordered(shop, group, begins)
    yield batch(shop, group, begins)
    if "rush" in flags:
        yield _comes_back(shop, group)
    if "damaged" in flags:
        yield _damaged(shop, group)


def _due(shop: Shop, index: int, name: str) -> Iterator[Script]:
    """A batch that the joinery has announced and not yet brought."""
    group = _group(index, name, frozenset())
    told, due = shop.days.at(-2, "11:20"), at(shop.days.day(index), "08:00")
    _expected(shop, group, told, shop.days.day(index))
    yield from _ordered(shop, group, due, told + minutes(30))


def _group(index: int, name: str, flags: frozenset[str]) -> Group:
    kind = KINDS[name]
    word = f"{kind.prefix}-{index:02}"
    pieces = tuple(f"{word}-{n}" for n in range(1, kind.batch + 1))
    return Group(word, kind, pieces, flags)


def _expected(shop: Shop, group: Group, told: datetime, due: date) -> None:
    facts = group.kind.started
    shop.log.note(
        PieceExpected, told, source="office", pieces=group.pieces, likely_on=due,
        earliest_on=due - timedelta(days=1), latest_on=due + timedelta(days=2),
        kind=facts["kind"], species=facts["species"], coat_area_m2=facts["coat_area_m2"],
        schedule=facts["schedule"],
    )  # fmt: skip


def _ordered(
    shop: Shop, group: Group, begins: datetime, given_at: datetime | None = None
) -> Iterator[Script]:  # fmt: skip
    """Let some of a batch be ordered before it is begun, in ones to threes."""
    sure = bool(group.flags & NEED_ORDERS)
    if not sure and group.kind.batch > 1 and shop.chance(0.2):
        return
    count = len(group.pieces) if sure else max(1, round(0.7 * len(group.pieces)))
    start = 0
    while start < count:
        own = group.pieces[start : min(count, start + shop.rng.randrange(2 if sure else 1, 4))]
        start += len(own)
        order = _order(shop, group, own, begins, given_at)
        yield shop.book.take(order)
        if given_at is not None:
            yield _given(shop, order, given_at)
        elif order.word.endswith("7") and not sure:
            yield shop.book.call_off(order, begins + timedelta(hours=30))


def _order(
    shop: Shop, group: Group, own: tuple[str, ...], begins: datetime, given_at: datetime | None
) -> Order:
    taken = begins - timedelta(minutes=shop.rng.randrange(15 * 60, 60 * 60))
    taken = min(max(taken, shop.days.at(0, "07:30")), given_at or begins)
    ships = shop.book.pickup_from(begins.date() + timedelta(days=group.kind.lead_days + 2))
    danger = "danger" in group.flags
    if danger:  # promised for the next pick-up, begun too late for an oil's slow coats
        ships = shop.book.pickup_from(shop.days.day(-1) + timedelta(days=1))
    return shop.book.order(group.kind, own, taken, ships, watched=not danger)


def _given(shop: Shop, order: Order, when: datetime) -> Script:
    slot = yield Ask(0, when, nobody=True)
    shop.book.give(order, order.pieces, slot.start)


def _first_shipped(shop: Shop, group: Group) -> Iterator[Order]:
    """Yield the first order of a batch's pieces once it has left."""
    for order in shop.book.orders:
        if order.shipped_at is not None and order.pieces and order.pieces[0] in group.pieces:
            yield order
            return


def _damaged(shop: Shop, group: Group) -> Script:
    """A carrier drops a parcel: the customer tells, and keeps the piece."""
    when = shop.days.at(6, "18:00")
    for _ in range(20):
        slot = yield Ask(0, when, nobody=True)
        for order in _first_shipped(shop, group):
            shop.log.note(
                DamageReported, slot.start + timedelta(days=4), source="office",
                pieces=order.pieces[:1], by="customer", cause="transport",
            )  # fmt: skip
            return
        when += timedelta(days=1)


def _comes_back(shop: Shop, group: Group) -> Script:
    """A piece packed too early comes back with the wrap's print in its film, and leaves again."""
    when = shop.days.at(4, "18:00")
    for _ in range(30):
        slot = yield Ask(0, when, nobody=True)
        for order in _first_shipped(shop, group):
            yield from _repaired(shop, group, order, slot.start + timedelta(days=5))
            return
        when += timedelta(days=1)


def _repaired(shop: Shop, group: Group, order: Order, when: datetime) -> Script:
    slot = yield Ask(6, when)
    piece = group.part(order.pieces[:1])
    shop.log.note(
        DamageReported, slot.start - timedelta(days=1), source="office", pieces=piece.pieces,
        by="customer", cause="finish",
    )  # fmt: skip
    shop.log.note(
        Returned, slot.start, actor=slot.who, pieces=piece.pieces, why="finish", order=order.word
    )  # fmt: skip
    shop.log.note(
        DefectFound, slot.end, actor=slot.who, pieces=piece.pieces, kind="imprint",
        found_by="customer", extent="whole_face",
    )  # fmt: skip
    order.open, order.pieces, order.shipped_at = True, piece.pieces, None
    shop.book.packed.pop(piece.pieces[0], None)
    piece.free_at = slot.end
    yield from rework(shop, piece, "imprint", lambda again, _: finished(shop, again))
