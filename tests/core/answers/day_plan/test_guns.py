"""What the guns need between coats: one product at a time, flushed at a day's end."""

from bench import on_day
from coatledger.answers.day_plan.answer import Line
from coatledger.events.room_gun import GunFlushed, GunSetUp
from coatledger.events.setup import ScheduleDescribed, Step
from coatledger.open_shop.pace import CHANGEOVER_MIN
from planned import lines, planned, shop, two


def around_gun(found: list[Line]) -> list[tuple[str, str]]:
    return [(line.act, line.says.split(" ", 1)[1]) for line in found]


def test_two_products_of_one_gun_are_changed_over_between() -> None:
    bench = shop()
    bench.clear("sealer", wrap_h=12.0)
    bench.can("can-s", "sealer")
    bench.record(ScheduleDescribed, schedule="sealed", steps=two("sealer"))
    bench.pieces("a", schedule="two")
    bench.pieces("b", schedule="sealed")
    bench.record(GunSetUp, gun="g1", lot="can-1")
    found = lines(planned(bench), "flush", "set_up", "coat")[:4]
    assert [line.act for line in found] == ["coat", "flush", "set_up", "coat"]
    first, flush, set_up, second = found
    assert first.finish is not None
    assert second.finish is not None
    assert (first.finish.product, second.finish.product) == ("clear-w", "sealer")
    assert flush.says == "flush clear-w out with water before something else"
    assert set_up.says == "set up with can-s (sealer), nozzle 1.1 to 1.4 mm"
    assert (second.begins - flush.begins).total_seconds() == CHANGEOVER_MIN * 60
    assert flush.begins >= first.ends  # one product in the gun at a time


def test_what_the_gun_holds_needs_no_setting_up() -> None:
    bench = shop()
    bench.pieces("a", schedule="two")
    bench.record(GunSetUp, gun="g1", lot="can-1")
    assert [line.act for line in lines(planned(bench), "flush", "set_up")] == ["flush"]


def test_a_gun_flushed_at_the_day_s_end_is_set_up_again_next_morning() -> None:
    bench = shop("1 14:00")
    bench.pieces("a", schedule="two")
    bench.record(GunSetUp, gun="g1", lot="can-1")
    found = lines(planned(bench), "flush", "set_up", "coat")
    assert [line.act for line in found] == ["coat", "flush", "set_up", "coat", "flush"]
    assert found[1].begins == found[0].ends
    assert found[2].begins == found[3].begins >= on_day("2 07:00")


def test_solvent_is_named_by_the_sheet_and_comes_with_its_caution() -> None:
    bench = shop()
    bench.clear("lacquer", kind="lacquer")
    bench.can("can-l", "lacquer")
    steps = (Step(act="coat", product="lacquer"), Step(act="pack"))
    bench.record(ScheduleDescribed, schedule="quick", steps=steps)
    bench.pieces("a", schedule="quick")
    (flush,) = lines(planned(bench), "flush")
    assert flush.says == "flush lacquer out with what its data sheet names at the day's end"
    assert flush.cautions == ("flammable_solvent",)


def test_a_clean_gun_is_only_filled() -> None:
    bench = shop()
    bench.record(GunSetUp, gun="g1", lot="can-1")
    bench.later(0.1).record(GunFlushed, gun="g1")
    bench.pieces("a", schedule="two")
    acts = [line.act for line in lines(planned(bench)) if line.begins < on_day("1 08:00")]
    assert "set_up" in acts
    assert "flush" not in acts


def test_what_is_wiped_on_by_hand_takes_no_gun() -> None:
    bench = shop()
    bench.clear("oil", kind="oil_based")
    bench.can("can-o", "oil")
    steps = (Step(act="coat", product="oil", by_hand=True), Step(act="pack"))
    bench.record(ScheduleDescribed, schedule="oiled", steps=steps)
    bench.pieces("a", schedule="oiled")
    found = lines(planned(bench))
    assert [line.act for line in found if line.act in ("coat", "set_up", "flush")] == ["coat"]
    assert found[0].gun is None
