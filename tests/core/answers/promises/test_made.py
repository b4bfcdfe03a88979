"""A promise is computed again to the byte, whatever was recorded, told late or corrected since."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any
from uuid import UUID

import pytest
from bench import Bench, made_id, on_day
from coatledger.answers.promises.ahead import World
from coatledger.answers.promises.made import Basis, computed_again, differing, place_of, promises_of
from coatledger.answers.promises.ordered import quote_of_order
from coatledger.answers.promises.quote import quote
from coatledger.events.judging import Held, ReworkStarted
from coatledger.events.orders import (
    HoldBefore,
    OrderLine,
    OrderTaken,
    PieceAllotted,
    PromiseMade,
    PromiseRevised,
)
from coatledger.events.preparing import Sanded
from coatledger.events.room_gun import ClimateRead, GunSetUp, Reading
from coatledger.events.setup import ClosureAnnounced, PersonAbsent, ShopDescribed
from coatledger.ledger.record import recorded
from coatledger.open_shop.asked_for import wanted_of
from coatledger.subjects.asked import ask
from msgspec.structs import replace
from promise_shop import shop

LINES = (
    OrderLine(line="few", quantity=2, offering="shelf"),
    OrderLine(line="free", quantity=5, species="cherry", coat_area_m2=0.4, schedule="three"),
)
HOLD = HoldBefore(
    hold="cart-9", placed_at=on_day("2 09:00"), ships_by=date(2026, 3, 9),
    lines=(OrderLine(line="1", quantity=6, offering="shelf"),),
)  # fmt: skip


def busy() -> Bench:
    """A shop in the middle of its work, on the morning of the second day."""
    bench = shop("1 06:00")
    bench.pieces(*(f"s{n}" for n in range(6)), schedule="three")
    bench.record(Sanded, pieces=("s0", "s1"), stage="bare", grit=150, hands_on_min=35.0)
    bench.coat("s0", "s1", hands_on_min=20.0)
    bench.record(OrderTaken, order="old", lines=(OrderLine(line="1", quantity=3, sku="sh-90"),))
    bench.record(PromiseMade, order="old", ships_by=date(2026, 3, 12), level_pct=80.0)
    return bench.at("2 10:00")


def promised(bench: Bench, *, together: bool = True, wanted_by: date | None = None) -> list[Any]:
    """Take an order and promise it, as the service does; return the promises with positions."""
    with bench.store.reading() as reader:
        told = quote(
            reader, ask(reader, bench.now), [wanted_of(line) for line in LINES],
            lines=[line.line for line in LINES], together=together, replications=150,
            wanted_by=wanted_by, world=World(holds=(HOLD,)), ways=(),
        )  # fmt: skip
    at = bench.now = bench.now + timedelta(minutes=5)
    basis = Basis(order="new", at=at, id_of=id_of, calendar="tz 2026a", holds=(HOLD,))
    taken = bench.fact(OrderTaken, order="new", lines=LINES, together=together, wanted_by=wanted_by)
    made = promises_of(told, basis)
    receipts = bench.post(taken, *made)
    return [(one, receipt.position) for one, receipt in zip(made, receipts[1:], strict=True)]


def id_of(line: str | None) -> UUID:
    return made_id(700 + len(line or ""), on_day("2 10:00"))


def again(bench: Bench, made: PromiseMade, position: int) -> PromiseMade:
    with bench.store.reading() as reader:
        found = computed_again(reader, made, position, World(), "tz 2026a")
    assert isinstance(found, PromiseMade), found
    return found


def nothing(_: Bench) -> None:
    return


def later(bench: Bench) -> None:
    """Work goes on, and another order is taken."""
    bench.later(4.0).coat("s0", "s1", hands_on_min=22.0)
    bench.record(ReworkStarted, pieces=("s1",), remedy="recoat", because="nib")
    bench.record(GunSetUp, gun="g2", lot="can-1")
    bench.record(OrderTaken, order="more", lines=(OrderLine(line="1", quantity=30, sku="sh-90"),))
    bench.record(PromiseRevised, order="new", ships_by=date(2026, 4, 1), level_pct=80.0)
    bench.climate(air_c=12.0, rh_pct=85.0)


def told_late(bench: Bench) -> None:
    """What happened before the promise, and was told after it."""
    bench.later(6.0)
    bench.record(Held, pieces=("s2",), why="other", at="2 09:00")
    bench.record(
        ClimateRead, room="spray", readings=(Reading(air_c=14.0, rh_pct=80.0),), at="2 08:00"
    )
    bench.record(PersonAbsent, person="ann", since=on_day("2 06:00"), at="2 06:00")
    bench.record(PieceAllotted, pieces=("s3", "s4"), order="old", at="2 07:00")
    bench.record(
        ClosureAnnounced, first_day=date(2026, 3, 4), last_day=date(2026, 3, 6), at="2 08:00"
    )


def corrected(bench: Bench) -> None:
    """What the promise was computed from, put right afterwards."""
    bench.later(6.0)
    with bench.store.reading() as reader:
        facts = [recorded(row).event for row in reader.rows(0, 500)]
    for fact in facts:
        match fact:
            case Sanded():
                bench.amend(fact, hands_on_min=300.0)
            case OrderTaken(order="old"):
                bench.amend(fact, lines=(OrderLine(line="1", quantity=20, sku="sh-90"),))
            case ShopDescribed():
                bench.amend(fact, people=4)
            case ClimateRead():
                bench.void(fact)
            case OrderTaken(order="new"):
                bench.amend(fact, lines=LINES[:1])
            case _:
                pass
    started = next(fact for fact in facts if getattr(fact, "pieces", ())[:1] == ("s0",))
    bench.amend(started, coat_area_m2=3.0)


@pytest.mark.parametrize("since", [nothing, later, told_late, corrected])
@pytest.mark.parametrize("together", [True, False])
def test_a_promise_is_computed_again_to_the_byte(
    since: Callable[[Bench], None], together: bool
) -> None:
    bench = busy()
    made = promised(bench, together=together)
    assert len(made) == (1 if together else 2)
    since(bench)
    for one, position in made:
        assert differing(one, again(bench, one, position)) == ()


def test_the_day_that_was_wished_for_belongs_to_it() -> None:
    bench = busy()
    ((made, position),) = promised(bench, wanted_by=date(2026, 3, 20))
    assert made.wanted_by == date(2026, 3, 20)
    assert differing(made, again(bench, made, position)) == ()


def test_what_was_changed_in_a_promise_is_named() -> None:
    bench = busy()
    ((made, position),) = promised(bench)
    bent = replace(made, seed=7, p95=date(2026, 6, 1))
    assert "p95" in differing(bent, again(bench, bent, position))


def test_an_order_taken_before_is_priced_where_it_stands() -> None:
    bench = busy()
    bench.record(OrderTaken, order="new", lines=LINES[:1])
    bench.record(PieceAllotted, pieces=("s0", "s1"), order="new")
    with bench.store.reading() as reader:
        told = quote_of_order(reader, ask(reader, bench.now), "new", world=World(holds=(HOLD,)))
    basis = Basis(order="new", at=bench.now, id_of=id_of, calendar="tz 2026a", holds=(HOLD,))
    (made,) = promises_of(told, basis)
    (receipt,) = bench.post(made)
    later(bench)
    assert differing(made, again(bench, made, receipt.position)) == ()


def test_another_day_than_quoted_has_its_own_chance() -> None:
    bench = busy()
    with bench.store.reading() as reader:
        wish = date(2026, 3, 25)
        told = quote(
            reader, ask(reader, bench.now), [wanted_of(LINES[0])], replications=150, wanted_by=wish,
            ways=(),
        )  # fmt: skip
    basis = Basis(order="n", at=bench.now, id_of=id_of, calendar="", days={None: wish})
    (made,) = promises_of(told, basis)
    assert made.ships_by == wish
    assert told.wanted_chance is not None
    assert made.chance_pct == round(100 * told.wanted_chance, 3)
    assert told.ships_by is not None
    assert told.ships_by < wish


def test_what_a_person_told_has_no_place_to_be_computed_from() -> None:
    bench = busy()
    fact = bench.fact(PromiseMade, order="old", ships_by=date(2026, 3, 9), level_pct=80.0)
    assert place_of(fact) is None
