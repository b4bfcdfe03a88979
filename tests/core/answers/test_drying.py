"""What the clock learned of a product: the sheet's hours alone, then the shop's own checks."""

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
