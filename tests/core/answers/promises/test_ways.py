"""What would make a quote earlier: each way changes only what it says, and only where it may."""

from datetime import date, time

from bench import Bench
from coatledger.answers.promises.ways import COATS_LEAST, WAYS, Way, open_h, ways_of
from coatledger.computations.calendar import Hours, Opening
from coatledger.events.setup import ScheduleDescribed, Step
from coatledger.open_shop.asked_for import Wanted, batch_of
from coatledger.open_shop.known import known
from coatledger.open_shop.shop_now import shop_now
from coatledger.subjects.asked import ask
from msgspec.structs import replace

COAT, SCUFF = Step(act="coat", product="clear-w"), Step(act="scuff")


def found(*steps: Step, quantity: int = 4, ways: tuple[str, ...] = WAYS) -> dict[str, Way]:
    """Return the ways open to so many pieces of a schedule, by name."""
    bench = Bench("1 06:00").open_shop()
    bench.climate()
    bench.record(ScheduleDescribed, schedule="any", steps=(Step(act="sand"), *steps))
    wanted = (Wanted(quantity=quantity, schedule="any", species="ash", coat_area_m2=0.5),)
    with bench.store.reading() as reader:
        place = ask(reader, bench.now)
        described = place.view(reader).shop()
        assert described is not None
        facts = known(reader, place, described, {})
        shop = shop_now(reader, place, facts, (), {})
        batch = batch_of(facts, wanted[0], "x", "asked", shop.now, date(2026, 3, 20))
        assert batch is not None
        return {way.way: way for way in ways_of(facts, shop, (batch,), wanted, ways)}


def test_three_coats_may_be_two_and_two_may_not_be_one() -> None:
    three = found(COAT, SCUFF, COAT, SCUFF, COAT, Step(act="pack"))
    (batch,) = three["coat_less"].asked_for
    assert sum(step.name.endswith("coat") for step in batch.operations) == COATS_LEAST
    assert "coat_less" not in found(COAT, SCUFF, COAT, Step(act="pack"))


def test_only_filled_pores_may_be_left_open() -> None:
    filled = found(Step(act="fill_grain", product="clear-w"), COAT, Step(act="pack"))
    (batch,) = filled["natural_look"].asked_for
    assert not any("fill_grain" in step.name for step in batch.operations)
    assert "natural_look" not in found(COAT, Step(act="pack"))


def test_one_piece_cannot_be_split_and_four_ship_two_first() -> None:
    assert "split" not in found(COAT, quantity=1)
    split = found(COAT, quantity=4)["split"]
    assert [batch.pieces for batch in split.asked_for] == [2]
    assert split.says == "ship 2 of 4 first"


def test_a_saturday_is_one_saturday_and_changes_nothing_else() -> None:
    way = found(COAT)["saturday"]
    saturdays = {c.starts_at.date() for c in way.shop.closures}
    assert date(2026, 3, 7) not in saturdays
    assert date(2026, 3, 14) in saturdays
    assert {o.weekday for o in way.shop.hours.openings} == {1, 2, 3, 4, 5, 6}


def test_a_day_is_as_long_as_its_openings_are_to_the_minute() -> None:
    openings = (Opening(1, time(8), time(12, 30)), Opening(1, time(13, 15), time(0)))
    shop = replace(found(COAT)["split"].shop, hours=Hours("UTC", openings))
    assert (open_h(shop, 1), open_h(shop, 2)) == (4.5 + 10.75, 0.0)


def test_only_the_ways_that_were_asked_about_are_tried() -> None:
    assert set(found(COAT, ways=("split",))) == {"split"}
