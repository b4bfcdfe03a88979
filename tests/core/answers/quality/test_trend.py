"""Is it getting worse: a doubling is flagged and dated, a quiet year is not, and charts say how
often they cry wolf."""

from itertools import pairwise

import numpy as np
import pytest
from coatledger.answers.quality.cases import Counted
from coatledger.answers.quality.rare import bad_in_order, gaps, piece_by_piece
from coatledger.answers.quality.trend import TrendAnswer, by_week
from coatledger.computations.control_charts import p_chart
from coatledger.subjects.tallies_quality import Case
from worse_shop import answered, weeks_of


@pytest.fixture(scope="module")
def worse() -> TrendAnswer:
    """One of ten reworked for eighteen weeks, then four of ten."""
    return answered(weeks_of([1, 0, 2, 1, 1, 0, 1, 2, 1] * 2 + [4, 5, 3, 4, 4, 5]))


def test_a_change_is_dated_with_its_interval_and_strength(worse: TrendAnswer) -> None:
    assert worse.change is not None
    assert worse.change.earliest <= "2026-W28" <= worse.change.latest
    assert worse.change.week == "2026-W28"
    assert worse.change.strong
    assert worse.change.before == pytest.approx(0.1, abs=0.02)
    assert worse.change.after == pytest.approx(0.417, abs=0.02)


def test_every_chart_signals_the_change_and_says_how_often_it_cries_wolf(
    worse: TrendAnswer,
) -> None:
    alarms = {alarm.chart: alarm for alarm in worse.alarms}
    assert alarms["rules"].signals > 0
    assert alarms["ewma"].signals > 0
    # Champ and Woodall 1987: 370.4 and 91.75 points; Lucas and Saccucci 1990: 500; Montgomery: 465.
    assert alarms["limits"].weeks_to_false_alarm == pytest.approx(370.4, abs=0.05)
    assert alarms["rules"].weeks_to_false_alarm == pytest.approx(91.75, abs=0.06)
    assert alarms["ewma"].weeks_to_false_alarm == pytest.approx(500, rel=0.02)
    assert alarms["cusum"].weeks_to_false_alarm == pytest.approx(465, rel=0.01)


def test_the_points_are_those_of_the_chart_and_of_the_counts(worse: TrendAnswer) -> None:
    counts = [point.count for point in worse.points]
    assert counts[:4] == [1, 0, 2, 1]
    assert [point.of for point in worse.points] == [10] * 24
    assert worse.chart in ("p", "p'")
    plain = p_chart(counts, [10] * 24)
    assert worse.center == pytest.approx(plain.center)


def test_a_doubling_is_flagged_piece_by_piece(worse: TrendAnswer) -> None:
    assert worse.pieces is not None
    assert worse.pieces.signalled[0] >= "2026-07-06"
    assert worse.gaps is not None


def test_few_weeks_have_no_chart_rather_than_a_bold_one() -> None:
    told = answered(weeks_of([1, 2, 0]))
    assert (told.points, told.chart, told.change, told.alarms) == ((), None, None, ())
    assert [mark.what for mark in told.marks if mark.near_change] == []


def row(at: str, outcome: str, many: int) -> Counted:
    case = Case(at=at, outcome=outcome, looks="", wood="ash", kinds=(), coats=(), whole=True)
    return Counted(case, many, "2026-W10")


ROWS = (
    row("2026-03-02T09:00", "fp", 3), row("2026-03-02T09:00", "fr", 1),
    row("2026-03-03T09:00", "fp", 2), row("2026-03-03T10:00", "fr", 2),
    row("2026-03-04T09:00", "fp", 5), row("2026-03-04T09:00", "fr", 1),
    row("2026-03-05T09:00", "fr", 1), row("2026-03-05T10:00", "s", 1),
)  # fmt: skip


def test_gaps_are_good_pieces_and_hours_between_bad_ones() -> None:
    found = gaps(ROWS, "reworked")
    assert found is not None
    assert [point.gap for point in found.g] == [3, 2, 0, 5, 0]
    assert [point.gap for point in found.t] == [25, 23, 24]
    assert found.g_center == 2.0


def test_within_a_quarter_hour_the_good_ones_come_first() -> None:
    order = bad_in_order(ROWS, "reworked")
    assert [bad for _, bad in order[:4]] == [False, False, False, True]
    assert len(order) == 16
    assert all(a <= b for (a, _), (b, _) in pairwise(order))


def test_each_measure_counts_what_it_says() -> None:
    assert by_week(ROWS, "reworked") == (("2026-W10",), (5,), (16,))
    assert by_week(ROWS, "failed_first") == (("2026-W10",), (5,), (15,))
    assert by_week(ROWS, "scrapped") == (("2026-W10",), (1,), (16,))
    assert by_week(ROWS, "defects") == (("2026-W10",), (0,), (16,))


def test_a_steady_shop_is_hardly_ever_flagged() -> None:
    rng = np.random.default_rng(3)
    flagged = 0
    for _ in range(40):
        rows = [
            row(
                f"2026-{1 + d // 28:02}-{1 + d % 28:02}T09:00",
                "fr" if rng.random() < 0.1 else "fp",
                1,
            )
            for d in range(330)
        ]
        told = piece_by_piece(rows, "reworked")
        flagged += bool(told and told.signalled)
    assert flagged <= 10
