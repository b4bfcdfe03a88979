"""Orders that are still to come and will be due before others: such as came in the last weeks.

Who asks for a date today waits behind orders that nobody has placed yet. How many come is read from
the order book of the last weeks; each imagined one is a past order again, its due date and its
pieces as far from its coming as they were then. It only may come, in each replication anew.
"""

from collections.abc import Iterator, Sequence
from datetime import date, timedelta

from msgspec import Struct
from msgspec.structs import replace

from coatledger.computations.recalibration import recalibrate
from coatledger.computations.simulate.shop import Batch, Likely, OpenShop
from coatledger.events.orders import OrderTaken
from coatledger.ledger.record import micros, moment, recorded
from coatledger.open_shop.asked_for import batch_of, wanted_of
from coatledger.open_shop.known import STOCK_DUE, Known, due_of
from coatledger.open_shop.past_promises import outcomes
from coatledger.open_shop.shop_now import that_fit
from coatledger.open_shop.unforeseen import unforeseen
from coatledger.subjects.order import Order
from coatledger.subjects.view import View

# How far back orders say how many come.
WEEKS_BACK = 8
# Fewer than this many orders, or days, say nothing of how many will come.
ORDERS_LEAST, DAYS_LEAST = 5, 14.0
# For each order that is expected so many are laid out, each with that part of a chance: so their
# number differs from replication to replication nearly as a Poisson number does.
PER_ORDER = 3
BATCHES_MOST = 240
_DAY_US, _DAY_MIN = 86_400_000_000, 1_440.0
# Steps by the golden ratio fall evenly on any number of past orders (Weyl's equidistribution).
_GOLDEN = 0.6180339887498949


class Past(Struct, frozen=True):
    """A past order as one to come: its parts, the days until it was due, and for each part the
    minutes until its pieces were there."""

    order: Order
    due_days: int
    supply_min: tuple[float, ...]


def with_what_may_come(facts: Known, shop: OpenShop) -> OpenShop:
    """Return the shop with the orders to come, with what may befall its people, and with how what
    was said of it came true.

    *Reference:* arrivals as a thinned bootstrap of the past weeks' (Efron and Tibshirani, An
    Introduction to the Bootstrap, 1993); `unforeseen`; `recalibration`. *Valid:* a trade that goes
    on as in the last eight weeks; a younger order book says nothing, and that is said.
    """
    away, shut = unforeseen(facts.view, facts.described)
    said = recalibrate(outcomes(facts.rows, facts.view, facts.described.zone))
    shop = replace(shop, away=away, shut=shut, said=said)
    past, days = past_orders(facts)
    if len(past) < ORDERS_LEAST or days < DAYS_LEAST:
        facts.assumed["orders still to come are not counted: the order book is too young"] = None
        return shop
    dated = [batch.due for batch in shop.batches if batch.due < STOCK_DUE]
    usual = sorted(one.due_days for one in past)[int(0.9 * (len(past) - 1))]
    last = max([*dated, shop.now.date() + timedelta(days=usual)])
    coming = tuple(_coming(facts, shop, past, len(past) / days, last))
    return replace(shop, batches=(*shop.batches, *that_fit(coming, facts.described.rack_places)))


def past_orders(facts: Known) -> tuple[tuple[Past, ...], float]:
    """Return the orders of the last weeks, and over how many days they came."""
    now_us = facts.view.at_us
    first_us = now_us - WEEKS_BACK * 7 * _DAY_US
    since = (row for row in facts.rows if row.occurred_us >= first_us)
    taken = [recorded(row).event for row in since if row.type == "order_taken"]
    words = dict.fromkeys(one.order for one in taken if isinstance(one, OrderTaken))
    found = (_past(facts, facts.view.order(word)) for word in words)
    # Orders before the first event that was looked at are not known of.
    began_us = [micros(version.occurred_at) for version in facts.view.shop_state().versions[:1]]
    looked_us = max(first_us, *began_us, *(row.recorded_us for row in facts.rows[:1]))
    return tuple(one for one in found if one), (now_us - looked_us) / _DAY_US


def _past(facts: Known, order: Order) -> Past | None:
    if order.stage != "open" or not order.lines or not order.taken_us:
        return None
    taken = moment(order.taken_us)
    supply = tuple(_supply_min(facts.view, order, line.line) for line in order.lines)
    return Past(order, (due_of(order, facts.described) - taken.date()).days, supply)


def _supply_min(view: View, order: Order, line: str) -> float:
    """Return after how many minutes the first piece of a line was there, or is expected."""
    word = next((one.piece for one in order.pieces if one.line in (None, line)), None)
    if word is None or order.taken_us is None:
        return 0.0
    piece = view.piece(word)
    if piece.started_us is not None:
        return max(piece.started_us - order.taken_us, 0) / 60e6
    if piece.likely_on is not None:
        days = (date.fromisoformat(piece.likely_on) - moment(order.taken_us).date()).days
        return max(days, 0) * _DAY_MIN
    return 0.0


def _coming(
    facts: Known, shop: OpenShop, past: Sequence[Past], a_day: float, last: date
) -> Iterator[Batch]:
    """Yield orders to come that will be due by a day, the soonest first."""
    today = shop.now.date()
    # Who comes later today counts too.
    horizon = max((last - today).days - min(one.due_days for one in past), -1) + 1
    per_order = PER_ORDER
    while per_order > 1 and a_day * horizon * per_order > BATCHES_MOST:
        per_order -= 1
    made = 0
    for number in range(int(a_day * horizon * per_order)):
        at_days = (number + 0.5) / (a_day * per_order)
        one = past[int((number + 1) * _GOLDEN % 1.0 * len(past))]
        comes = shop.now + timedelta(days=at_days)
        due = comes.date() + timedelta(days=one.due_days)
        if due > last or made >= BATCHES_MOST:
            continue
        for place, line in enumerate(one.order.lines):
            ready = at_days * _DAY_MIN + one.supply_min[place]
            batch = batch_of(
                facts, wanted_of(line), f"to-come:{number}/{line.line}", f"to-come:{number}", comes,
                due,
            )  # fmt: skip
            if batch is not None:
                made += 1
                span = Likely(ready, ready, ready)
                yield replace(batch, ready_in=span, chance=1.0 / per_order)
