"""What the clock learned of a product: the sheet's hours alone, then the shop's own checks."""

import pytest
from bench import Bench
from coatledger.answers.drying import DryingAnswer, drying
from coatledger.events.coating import DrynessChecked
from coatledger.subjects.asked import ask


def told(bench: Bench) -> DryingAnswer:
    with bench.store.reading() as reader:
        found = drying(reader, "clear-w", ask(reader, bench.now))
    assert found is not None
    return found


def checked(slow: bool) -> Bench:
    """Ten coats, each tried at the sheet's three hours and again an hour and a half later."""
    bench = Bench().open_shop()
    bench.climate()
    for n in range(10):
        bench.pieces(f"p{n}")
        bench.climate()
        bench.coat(f"p{n}")
        bench.later(3).record(DrynessChecked, pieces=(f"p{n}",), stage="sandable", ready=not slow)
        if slow:
            bench.later(1.5).record(DrynessChecked, pieces=(f"p{n}",), stage="sandable", ready=True)
        bench.later(4)
    return bench


def test_without_checks_the_sheet_stands_with_the_priors_range() -> None:
    found = told(Bench().open_shop())
    hours = {row.stage: row for row in found.stages}
    assert (hours["sandable"].sheet_h, hours["sandable"].likely_h) == (3.0, 3.0)
    assert hours["sandable"].earliest_h < 3.0 < hours["sandable"].sure_h
    assert (found.learned.checks, found.learned.posterior) == (0, found.learned.prior)


def test_checks_move_and_sharpen_the_shops_hours() -> None:
    slow = told(checked(slow=True))
    row = next(row for row in slow.stages if row.stage == "sandable")
    assert slow.learned.coats == 10
    assert 3.0 < row.likely_h < 4.6
    before, after = slow.learned.prior, slow.learned.posterior
    assert after.p90 / after.p10 < before.p90 / before.p10
    quick = told(checked(slow=False))
    assert quick.learned.posterior.p50 < 1.0


def test_a_product_nobody_described_has_no_answer() -> None:
    with Bench().store.reading() as reader:
        assert drying(reader, "clear-w", ask(reader, Bench().now)) is None


def test_every_check_stands_with_its_coat_and_the_interval_it_leaves() -> None:
    """At the sheet's own climate and film the factor reached is hours over the sheet's three."""
    found = told(checked(slow=True))
    assert len(found.data) == 10
    first = found.data[0]
    assert (first.piece, first.lot, first.disputed) == ("p0", "can-1", False)
    assert [check.ready for check in first.checks] == [False, True]
    assert first.more_than == pytest.approx(1.0, rel=1e-3)
    assert first.at_most == pytest.approx(1.5, rel=1e-3)
    assert found.learned.own is not None
    own, coat = found.learned.own, found.learned.posterior
    assert own.p90 / own.p10 < coat.p90 / coat.p10


def test_checks_that_contradict_each_other_are_marked() -> None:
    bench = Bench().open_shop()
    bench.climate()
    bench.pieces("a")
    bench.coat("a")
    bench.later(3).record(DrynessChecked, pieces=("a",), stage="sandable", ready=True)
    bench.later(1).record(DrynessChecked, pieces=("a",), stage="sandable", ready=False)
    assert told(bench).data[0].disputed


def test_the_clocks_past_word_is_scored_against_the_sheets() -> None:
    """Every coat takes 1.0 to 1.5 times the sheet's hours: after the first day the clock expects
    that, the sheet alone never does."""
    found = told(checked(slow=True)).hindsight
    assert found is not None
    assert found.coats == 10
    assert found.clock.brier < found.sheet_alone.brier
    assert found.clock.log_score < found.sheet_alone.log_score
    assert told(Bench().open_shop()).hindsight is None


def test_a_can_that_dries_unlike_the_others_is_told_in_words() -> None:
    bench = checked(slow=False)
    assert "only one can" in told(bench).learned.says
    bench.can("can-2", "clear-w")
    for n in range(10, 16):
        bench.pieces(f"p{n}")
        bench.climate()
        bench.coat(f"p{n}", lot="can-2")
        bench.later(5).record(DrynessChecked, pieces=(f"p{n}",), stage="sandable", ready=False)
        bench.later(3)
    learned = told(bench).learned
    assert learned.newest_lot == "can-2"
    assert learned.drift is not None
    assert learned.drift.notice
    assert "can-2 dries unlike the cans before it" in learned.says
