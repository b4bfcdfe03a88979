"""One order: taken once, changed, told of dates, shipped piece by piece, or off."""

from typing import Any

from any_event import ANY_STRUCT
from coatledger.events import orders
from coatledger.events.catalogue import EVENT_TYPES
from coatledger.events.leaving import HandedOver
from coatledger.subjects.order import NEXT, Order, evolve, initial, may_follow
from coatledger.subjects.registry import state_bytes, state_of
from hypothesis import given as drawn
from hypothesis import settings
from hypothesis import strategies as st
from msgspec.structs import replace
from story import fact, returned, shipped

TAKEN = fact(
    orders.OrderTaken, "1 08:00", order="o-1",
    lines=(orders.OrderLine(line="1", quantity=2), orders.OrderLine(line="2")),
)  # fmt: skip
CANCELLED = fact(orders.OrderCancelled, "4 08:00", order="o-1")


def order_of(*facts: Any) -> Order:
    order = initial("o-1")
    for told in facts:
        order = evolve(order, told)
    return order


def allotted(*pieces: str, at: str = "1 09:00", line: str | None = "1") -> orders.PieceAllotted:
    return fact(orders.PieceAllotted, at, pieces=pieces, order="o-1", line=line)


ABOUT_AN_ORDER = [ANY_STRUCT[kind] for kind in EVENT_TYPES if "order" in kind.__struct_fields__]


@settings(max_examples=80)
@drawn(st.lists(st.one_of(ABOUT_AN_ORDER), max_size=10))
def test_any_facts_in_any_order_fold(facts: list[Any]) -> None:
    order = kept = initial("o-1")
    for told in facts:
        named = replace(told, order="o-1")
        order, kept = evolve(order, named), evolve(state_of("order", state_bytes(kept)), named)
    assert state_bytes(kept) == state_bytes(order)


def test_every_event_that_names_an_order_is_in_the_table() -> None:
    named = {str(k.__struct_config__.tag) for k in EVENT_TYPES if "order" in k.__struct_fields__}
    assert named | {"finding_settled"} == {tag for row in NEXT.values() for tag in row}


def test_an_order_is_taken_once() -> None:
    order = order_of(TAKEN)
    again = replace(TAKEN, id=CANCELLED.id)
    assert not may_follow(order, again)
    assert evolve(order, again).disputed == (again.id,)


def test_a_change_changes_what_it_names_and_nothing_else() -> None:
    lines = (orders.OrderLine(line="1", quantity=1),)
    order = order_of(TAKEN, fact(orders.OrderChanged, "2 08:00", order="o-1", lines=lines))
    assert (order.lines, order.together, order.wanted_by) == (lines, True, None)
    order = evolve(order, fact(orders.OrderChanged, "2 09:00", order="o-1", together=False))
    assert (order.lines, order.together) == (lines, False)


def test_a_piece_allotted_again_stands_on_its_new_line_only() -> None:
    order = order_of(TAKEN, allotted("a", "b"), allotted("a", at="2 09:00", line="2"))
    assert [(p.piece, p.line) for p in order.pieces] == [("b", "1"), ("a", "2")]


def test_every_date_told_is_kept_in_order() -> None:
    def told(kind: Any, at: str, day: str) -> Any:
        return fact(kind, at, order="o-1", ships_by=day, level_pct=80.0)

    order = order_of(
        TAKEN,
        told(orders.PromiseMade, "1 08:10", "2026-03-20"),
        told(orders.PromiseRevised, "3 09:00", "2026-03-24"),
    )
    assert [t.ships_by for t in order.told] == ["2026-03-20", "2026-03-24"]


def test_a_piece_shipped_and_then_handed_over_left_once() -> None:
    order = order_of(
        TAKEN,
        shipped("a", order="o-1"),
        fact(HandedOver, "4 10:00", pieces=("a", "b"), order="o-1"),
    )
    assert order.shipped == ("a", "b")


def test_a_cancelled_order_takes_no_more_pieces_but_what_left_may_come_back() -> None:
    order = order_of(TAKEN, CANCELLED)
    assert not may_follow(order, allotted("a", at="5 09:00"))
    assert may_follow(order, returned("a", order="o-1"))
