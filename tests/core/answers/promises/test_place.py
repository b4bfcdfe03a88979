"""Where a new order stands: behind those that were given a day, or before what can wait."""

from datetime import date
from typing import Any

from bench import Bench
from coatledger.answers.promises.ahead import Ahead, World, ahead, chance_by, leaves_next, run
from coatledger.answers.promises.place import ORDER, Asking, place, stand_behind
from coatledger.computations.simulate.forward import Simulated, quantile_day
from coatledger.events.orders import HoldBefore, OrderLine, OrderTaken, PromiseMade
from coatledger.open_shop.asked_for import Wanted
from coatledger.subjects.asked import ask
from msgspec.structs import replace
from promise_shop import SHELF, shop, told

FAR = date(2026, 5, 29)
MANY = replace(SHELF, quantity=40)


def asking(*wanted: Wanted, **more: Any) -> Asking:
    given: dict[str, Any] = {
        "wanted": wanted or (SHELF,), "together": True, "wanted_by": None, "seed": 1,
        "replications": 200, "level": 0.8, **more,
    }  # fmt: skip
    return Asking(**given)


def look(bench: Bench, *holds: HoldBefore) -> Ahead:
    with bench.store.reading() as reader:
        found = ahead(reader, ask(reader, bench.now), World(holds=holds))
        assert found is not None
        return found


def ordered(bench: Bench, quantity: int, by: date) -> None:
    bench.record(
        OrderTaken, order="o1", lines=(OrderLine(line="1", quantity=quantity, offering="shelf"),)
    )
    bench.record(PromiseMade, order="o1", ships_by=by, level_pct=80.0)


def test_what_has_all_spring_gives_way_to_what_is_asked_for() -> None:
    bench = shop()
    ordered(bench, 40, FAR)
    found = look(bench)
    (batch,) = stand_behind(found, asking())
    assert batch.due > FAR
    behind = run(replace(found.shop, batches=(*found.shop.batches, batch)), 1, 200)
    assert isinstance(behind, Simulated)
    sooner = told(bench).ships_by
    assert sooner is not None
    assert sooner < quantile_day(behind.ships_on[behind.row(ORDER)], 0.8)


def test_what_needs_all_its_days_gives_way_to_nobody() -> None:
    """Forty shelves are promised for the day they need; more stand behind them, however soon they
    are wished for, and the promise is worth what it was."""
    bench = shop()
    needs = told(bench, MANY).ships_by
    assert needs is not None
    ordered(bench, 40, needs)
    more = replace(SHELF, quantity=80)
    later = told(bench, more, wanted_by=date(2026, 3, 4))
    assert later.ships_by is not None
    assert later.ships_by > needs
    assert later.wanted_by == date(2026, 3, 4)
    assert later.wanted_chance == 0.0

    found = look(bench)
    with_it = place(found, asking(replace(SHELF, quantity=12), wanted_by=date(2026, 3, 4)))
    assert isinstance(with_it, Simulated)
    chance = chance_by(with_it.ships_on[with_it.row("order:o1")], needs)
    alone = run(found.shop, 1, with_it.ships_on.shape[1])
    assert isinstance(alone, Simulated)
    had = chance_by(alone.ships_on[alone.row("order:o1")], needs)
    assert chance >= min(had, 0.8) - 0.05  # a job that is begun is not given up for it


def test_a_wish_is_met_where_it_costs_nobody_his_day() -> None:
    bench = shop()
    ordered(bench, 40, FAR)
    free = told(bench, replace(SHELF, quantity=12))
    assert free.ships_by is not None
    wished = told(bench, replace(SHELF, quantity=12), wanted_by=free.ships_by)
    assert wished.ships_by is not None
    assert wished.ships_by <= free.ships_by
    assert wished.wanted_chance is not None
    assert wished.wanted_chance >= 0.8


def test_a_hold_is_work_that_others_stand_behind() -> None:
    bench = shop()
    needs = told(bench, MANY).ships_by
    assert needs is not None
    held = HoldBefore(
        hold="cart-1", placed_at=bench.now, ships_by=needs,
        lines=(OrderLine(line="1", quantity=40, offering="shelf"),),
    )  # fmt: skip
    found = told(bench, MANY, world=World(holds=(held,)))
    assert found.ships_by is not None
    assert found.ships_by > needs
    batches = look(bench, held).shop.batches
    assert {batch.order for batch in batches} == {"hold:cart-1"}
    # Nobody sands forty in one go while something due waits.
    assert [batch.pieces for batch in batches] == [12, 12, 12, 4]


def test_lines_that_ship_alone_have_days_of_their_own() -> None:
    bench = shop()
    two = (SHELF, replace(SHELF, quantity=40))
    together, split = told(bench, *two), told(bench, *two, together=False, lines=("few", "many"))
    assert together.lines == ()
    few, many = split.lines
    assert (few.line, many.line) == ("few", "many")
    assert few.ships_by < many.ships_by
    assert split.ships_by == max(few.ships_by, many.ships_by)
    assert [one.level_pct for one in few.quantiles] == [50.0, 80.0, 90.0, 95.0]
    assert asking(*two, together=False).keys == (f"{ORDER}:1", f"{ORDER}:2")


def test_what_is_packed_leaves_at_the_next_pick_up() -> None:
    assert leaves_next(look(shop("5 18:00", pickup_cutoff="15:00")).shop) == date(2026, 3, 9)
