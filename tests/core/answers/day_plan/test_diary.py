"""The entries of the shop's calendar: each keeps its key while it means the same thing."""

from bench import Bench, on_day
from coatledger.answers.day_plan.diary import Diary, diary
from coatledger.answers.day_plan.plan import day_plan
from coatledger.events.orders import (
    OrderLine,
    OrderTaken,
    PieceAllotted,
    PromiseMade,
    PromiseRevised,
)
from coatledger.events.setup import ClosureAnnounced
from coatledger.subjects.asked import ask
from planned import day, planned, shop


def kept(bench: Bench, **more: object) -> Diary:
    with bench.store.reading() as reader:
        place = ask(reader, bench.now)
        plan = day_plan(reader, place, days=5)
        return diary(reader, place, plan, **more)  # type: ignore[arg-type]


def of(found: Diary, kind: str) -> dict[str, tuple[object, object]]:
    return {e.key: (e.begins, e.ends) for e in found.entries if e.kind == kind}


def test_pieces_get_ready_at_their_sure_times() -> None:
    bench = shop("1 08:00")
    bench.pieces("a", "b", schedule="two")
    fact = bench.coat("a", "b")
    bench.later(0.1)
    found = of(kept(bench), "ready")
    sure = {film.purpose: film.sure for film in planned(bench).drying[0].ready}
    assert found == {
        f"ready/{purpose}/{fact.id}/a": (sure[purpose], sure[purpose])
        for purpose in ("touch", "recoat", "stack", "pack")
    }


def test_a_planned_coat_keeps_its_key_when_it_moves() -> None:
    bench = shop("1 08:00")
    bench.pieces("a", schedule="two")
    first = of(kept(bench), "coat")
    later = of(kept(bench.at("1 12:00")), "coat")
    assert first.keys() == later.keys() == {"coat/1/a", "coat/2/a"}
    assert first["coat/1/a"] != later["coat/1/a"]


def test_a_promised_day_is_a_whole_day_and_counts_how_often_it_was_changed() -> None:
    bench = shop()
    bench.record(OrderTaken, order="o1", lines=(OrderLine(line="1", quantity=1),))
    bench.pieces("a", schedule="two")
    bench.record(PieceAllotted, pieces=("a",), order="o1")
    bench.record(PromiseMade, order="o1", ships_by=day(5), level_pct=80.0)
    (one,) = [e for e in kept(bench).entries if e.kind == "ship"]
    assert (one.begins, one.ends, one.revision) == (day(5), day(6), 0)
    bench.record(PromiseRevised, order="o1", ships_by=day(8), level_pct=80.0)
    (again,) = [e for e in kept(bench).entries if e.kind == "ship"]
    assert (again.key, again.begins, again.revision) == (one.key, day(8), 1)


def test_pick_ups_of_four_weeks_but_none_on_a_closed_day() -> None:
    bench = shop(pickup_days=("tue",), pickup_cutoff="15:00")
    assert list(of(kept(bench), "pick_up").values()) == [
        (on_day(f"{n} 15:00"), on_day(f"{n} 15:00")) for n in (2, 9, 16, 23)
    ]
    bench.record(ClosureAnnounced, first_day=day(8), last_day=day(12))
    assert len(of(kept(bench), "pick_up")) == 3


def test_closed_days_that_follow_each_other_are_one_entry() -> None:
    bench = shop()
    bench.record(ClosureAnnounced, first_day=day(8), last_day=day(12))
    found = of(kept(bench, holidays=[day(15), day(13)]), "closed")
    assert list(found.values()) == [(day(8), day(14)), (day(15), day(16))]
    # A holiday on a Saturday closes nothing.
    assert of(kept(shop(), holidays=[day(6)]), "closed") == {}


def test_an_empty_ledger_has_an_empty_calendar() -> None:
    assert kept(Bench()).entries == ()
