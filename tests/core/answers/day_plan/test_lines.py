"""The lines of work: which steps, when, until when dry, and what to mind at each."""

from bench import on_day
from coatledger.answers.day_plan.batches import tasks
from coatledger.answers.day_plan.lines import film_of
from coatledger.answers.day_plan.says import SANDING
from coatledger.computations.simulate.shop import Likely
from coatledger.events.judging import DefectFound, ReworkStarted
from coatledger.events.preparing import BlownOff, Sanded
from coatledger.events.setup import ScheduleDescribed, Step
from coatledger.open_shop.drying import UNTIL_WARMED
from coatledger.open_shop.known import known
from coatledger.open_shop.shop_now import shop_now
from coatledger.subjects.asked import ask
from planned import TWO_COATS, lines, planned, shop


def test_what_is_done_of_a_job_already_is_neither_told_nor_timed_again() -> None:
    bench = shop()
    bench.pieces("a", "b", schedule="two")
    bench.record(Sanded, pieces=("a", "b"), stage="bare", grit=150)
    found = lines(planned(bench.later(0.0)))
    assert found[0].act == "blow_off"
    assert (found[0].ends - found[0].begins).total_seconds() == 2 * 60
    bench.record(BlownOff, pieces=("a", "b"), by="vacuum")
    assert lines(planned(bench))[0].act == "set_up"


def test_steps_of_one_job_share_its_minutes_and_follow_each_other() -> None:
    bench = shop()
    bench.pieces("a", schedule="two")
    sand, dust = lines(planned(bench))[:2]
    assert (sand.begins, sand.ends) == (on_day("1 07:00"), on_day("1 07:10"))
    assert (dust.begins, dust.ends) == (sand.ends, on_day("1 07:11"))


def test_work_that_closing_time_cuts_is_told_in_its_parts() -> None:
    bench = shop("1 16:55")
    bench.pieces("a", schedule="two")
    sand = lines(planned(bench), "sand")[0]
    assert [(part.begins, part.ends) for part in sand.parts] == [
        (on_day("1 16:55"), on_day("1 17:00")), (on_day("2 07:00"), on_day("2 07:05")),
    ]  # fmt: skip
    assert sand.notes == ("5 min are left when the shop closes",)


def test_a_coat_says_when_it_may_be_touched_coated_and_packed() -> None:
    bench = shop()
    bench.pieces("a", schedule="two")
    coat = lines(planned(bench), "coat")[0]
    film = {one.purpose: one for one in coat.ready}
    assert list(film) == ["touch", "recoat", "stack", "pack", "use"]
    for one in film.values():
        assert one.earliest is not None
        assert one.likely is not None
        assert one.sure is not None
        assert coat.ends < one.earliest < one.likely < one.sure
    # At the sheet's own climate and film its hours hold: recoat after 3 h, wrap after 24 h.
    assert film["recoat"].likely == coat.ends.replace(hour=coat.ends.hour + 3)
    assert (coat.coat_number, coat.wet_film_um, coat.room) == (1, 100.0, "spray")


def test_a_film_that_never_dries_has_no_times() -> None:
    assert film_of("pack", on_day("1 09:00"), UNTIL_WARMED).sure is None
    some = film_of("pack", on_day("1 09:00"), Likely(60.0, 120.0, 180.0))
    assert some.likely == on_day("1 11:00")


def test_grits_are_the_schedule_s_else_the_sheet_s_else_the_usual() -> None:
    bench = shop()
    bench.pieces("a", schedule="two")
    found = {line.act: line.grit for line in lines(planned(bench), *SANDING)}
    assert found == {"sand": 150, "scuff": 320}
    own = tuple(
        Step(act="sand", grit=120) if s.act == "sand" else s for s in TWO_COATS
    )  # fmt: skip
    bench.record(ScheduleDescribed, schedule="two", steps=own)
    assert lines(planned(bench), "sand")[0].grit == 120


def test_a_film_below_is_sanded_with_care_and_bare_wood_is_dust() -> None:
    bench = shop()
    bench.pieces("a", schedule="two")
    plan = planned(bench)
    (sand,), (scuff,) = lines(plan, "sand"), lines(plan, "scuff")
    assert sand.cautions == ("dust",)
    assert scuff.cautions == ("uncured_film", "dust")
    told = {caution.code for caution in plan.cautions}
    assert {code for line in lines(plan) for code in line.cautions} == told


def test_what_was_found_and_what_is_in_rework_is_to_be_minded() -> None:
    bench = shop("1 08:00")
    bench.pieces("a", "b", schedule="two")
    bench.coat("a", "b")
    bench.at("1 15:00").record(DefectFound, pieces=("a",), kind="nib")
    bench.record(ReworkStarted, pieces=("b",), remedy="spot_sand", because="nib")
    plan = planned(bench)
    notes = {line.pieces: line.notes for line in lines(plan) if line.notes and line.pieces}
    assert notes[("a",)] == ("judge first what was found: nib",)
    assert notes[("b",)] == ("in rework: spot sand; record rework_finished when it is done",)


def test_steps_are_found_again_in_the_operations_they_were_put_into() -> None:
    bench = shop()
    bench.pieces("a", schedule="two")
    with bench.store.reading() as reader:
        place = ask(reader, bench.now)
        described = place.view(reader).shop()
        assert described is not None
        facts = known(reader, place, described, {})
        batches = shop_now(reader, place, facts, (), {}).batches
        (task,) = tasks(facts, batches).values()
    acts = [[task.steps[n].act for n in inside] for inside in task.jobs]
    assert [one for one in acts if one] == [
        ["sand", "blow_off"], ["coat"], ["scuff"], ["coat"], ["inspect"], ["pack"],
    ]  # fmt: skip
