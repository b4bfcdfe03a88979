"""Tables against published tests, scipy, and enumeration of every table there could be."""

import csv
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import scipy.stats
from coatledger.computations import association
from coatledger.computations.association import TwoByTwo
from coatledger.computations.ranges import OutOfRange
from hypothesis import given
from hypothesis import strategies as st

GOLDEN = Path(__file__).parents[2] / "golden" / "computations"
# The table prints nine or ten digits.
PRINTED = 1e-8


def rows(name: str) -> list[dict[str, str]]:
    lines = (GOLDEN / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@st.composite
def tables(draw: st.DrawFn, most: int = 60) -> TwoByTwo:
    with_all, without_all = draw(st.integers(1, most)), draw(st.integers(1, most))
    bad = draw(st.integers(0, with_all)), draw(st.integers(0, without_all))
    return TwoByTwo(bad[0], with_all, bad[1], without_all)


def cells(table: TwoByTwo) -> list[list[int]]:
    return [
        [table.with_bad, table.with_all - table.with_bad],
        [table.without_bad, table.without_all - table.without_bad],
    ]


@pytest.mark.parametrize("row", rows("two_proportions.csv"), ids=lambda r: f"{r['x1']}/{r['n1']}")
def test_two_shares_compare_as_printed(row: dict[str, str]) -> None:
    table = TwoByTwo(*(int(row[name]) for name in ("x1", "n1", "x2", "n2")))
    fisher, compared = association.fisher_exact(table), association.compare_shares(table)
    assert fisher.two_sided == pytest.approx(float(row["fisher_two"]), abs=PRINTED)
    assert fisher.less == pytest.approx(float(row["fisher_less"]), abs=PRINTED)
    assert fisher.greater == pytest.approx(float(row["fisher_greater"]), abs=PRINTED)
    assert compared.z == pytest.approx(float(row["z_pooled"]), abs=PRINTED)
    assert compared.p == pytest.approx(float(row["p_z"]), abs=PRINTED)
    assert compared.interval.low == pytest.approx(float(row["newcombe_lo"]), abs=PRINTED)
    assert compared.interval.high == pytest.approx(float(row["newcombe_hi"]), abs=PRINTED)


def test_the_textbook_table_has_its_one_sided_chance() -> None:
    """Montgomery and Runger, example S10-1: 4 of 10 against 8 of 10, 0.0848 of rounded terms."""
    assert association.fisher_exact(TwoByTwo(4, 10, 8, 10)).less == pytest.approx(0.0848, abs=2e-4)


@given(tables())
def test_the_exact_test_agrees_with_scipy(table: TwoByTwo) -> None:
    ours = association.fisher_exact(table)
    for side, p in (("two-sided", ours.two_sided), ("less", ours.less), ("greater", ours.greater)):
        oracle = scipy.stats.fisher_exact(cells(table), alternative=side).pvalue
        assert p == pytest.approx(oracle, rel=1e-7)


@given(tables(30))
def test_the_conditional_odds_ratio_agrees_with_scipy(table: TwoByTwo) -> None:
    oracle = scipy.stats.contingency.odds_ratio(cells(table), kind="conditional")
    ours = association.odds_ratio(table)
    if ours.ratio is None:
        assert math.isnan(oracle.statistic)
        assert (ours.low, ours.high) == (0.0, math.inf)
        return
    interval = oracle.confidence_interval(0.95)
    assert ours.ratio == pytest.approx(oracle.statistic, rel=1e-6)
    assert ours.low == pytest.approx(interval.low, rel=1e-6)
    assert ours.high == pytest.approx(interval.high, rel=1e-6)


def test_the_tea_tasting_has_the_odds_ratio_that_r_prints() -> None:
    """R's fisher.test example TeaTasting (from memory): its root search stops at 1.2e-4, and its
    95 % interval is one-sided, which is the lower end of a two-sided one at 90 %."""
    found = association.odds_ratio(TwoByTwo(3, 4, 1, 4), 0.9)
    assert found.ratio == pytest.approx(6.408309, rel=1.2e-4)
    assert found.low == pytest.approx(0.3135693, rel=1.2e-4)


@given(tables())
def test_turning_the_table_turns_the_ratio(table: TwoByTwo) -> None:
    turned = TwoByTwo(table.without_bad, table.without_all, table.with_bad, table.with_all)
    for measure in (association.odds_ratio, association.haldane_odds_ratio):
        first, second = measure(table), measure(turned)
        if first.ratio and math.isfinite(first.ratio) and second.ratio:
            assert first.ratio * second.ratio == pytest.approx(1.0, rel=1e-9)
            assert first.low * second.high == pytest.approx(1.0, rel=1e-6)


def test_half_a_piece_in_each_cell_keeps_an_empty_cell_finite() -> None:
    found = association.haldane_odds_ratio(TwoByTwo(0, 10, 5, 10))
    by_hand = (0.5 * 5.5) / (10.5 * 5.5)
    reach = 1.959964 * math.sqrt(1 / 0.5 + 1 / 10.5 + 1 / 5.5 + 1 / 5.5)
    assert found.ratio == pytest.approx(by_hand)
    assert found.low == pytest.approx(by_hand * math.exp(-reach), rel=1e-6)


# Bickel, Hammel and O'Connell, Science 187 (1975): admitted and applied, men then women, six
# departments, as the data set UCBAdmissions of R holds them.
ADMISSIONS = [
    TwoByTwo(512, 825, 89, 108), TwoByTwo(353, 560, 17, 25), TwoByTwo(120, 325, 202, 593),
    TwoByTwo(138, 417, 131, 375), TwoByTwo(53, 191, 94, 393), TwoByTwo(22, 373, 24, 341),
]  # fmt: skip


def test_the_admissions_compare_like_with_like_as_r_prints() -> None:
    """R's mantelhaen.test example: 0.9046968, 95 % 0.7719074 to 1.0603298 (from memory)."""
    found = association.mantel_haenszel(ADMISSIONS)
    assert found.ratio == pytest.approx(0.9046968, abs=5e-8)
    assert found.low == pytest.approx(0.7719074, abs=5e-8)
    assert found.high == pytest.approx(1.0603298, abs=5e-8)


def test_lumped_together_the_same_admissions_seem_to_tell_another_story() -> None:
    sums = np.sum([[t.with_bad, t.with_all, t.without_bad, t.without_all] for t in ADMISSIONS], 0)
    lumped = association.mantel_haenszel([TwoByTwo(*(int(total) for total in sums))])
    assert lumped.low > 1.5


@given(tables())
def test_one_stratum_is_the_plain_ratio_with_the_plain_variance(table: TwoByTwo) -> None:
    """With one stratum the variance of Robins, Breslow and Greenland is Woolf's."""
    (a, b), (c, d) = cells(table)
    found = association.mantel_haenszel([table])
    if min(a, b, c, d) == 0:
        assert (found.low, found.high) == (0.0, math.inf) or found.ratio is not None
        return
    assert found.ratio == pytest.approx(a * d / (b * c))
    spread = math.log(found.high / found.low) / (2 * 1.959964)
    assert spread == pytest.approx(math.sqrt(1 / a + 1 / b + 1 / c + 1 / d), rel=1e-6)


def test_strata_that_compare_nothing_leave_the_ratio_open() -> None:
    assert association.mantel_haenszel([]).ratio is None
    assert association.mantel_haenszel([TwoByTwo(0, 0, 0, 0), TwoByTwo(2, 5, 0, 0)]).ratio is None
    assert association.mantel_haenszel([TwoByTwo(0, 5, 2, 5)]).ratio == 0.0
    assert association.mantel_haenszel([TwoByTwo(2, 5, 0, 5)]).ratio == math.inf


@given(st.lists(st.floats(0, 1), max_size=40))
def test_false_discovery_rates_agree_with_scipy(p_values: list[float]) -> None:
    ours = association.false_discovery_rates(p_values)
    oracle = scipy.stats.false_discovery_control(p_values) if p_values else []
    assert list(ours) == pytest.approx(list(oracle))


def test_what_twenty_pieces_a_side_can_show_is_a_strong_driver_only() -> None:
    few = association.detectable_odds_ratio(20, 20, 0.1)
    many = association.detectable_odds_ratio(400, 400, 0.1)
    assert few is not None
    assert many is not None
    assert few > 7
    assert many < 2.1
    assert association.detectable_odds_ratio(1, 200, 0.5) is None


@pytest.mark.parametrize(("pieces", "share"), [((60, 60), 0.2), ((40, 160), 0.3)])
def test_the_detectable_ratio_is_detected_as_often_as_it_says(
    pieces: tuple[int, int], share: float
) -> None:
    """Every outcome of the z test enumerated; the normal approximation is good to 4 points here."""
    ratio = association.detectable_odds_ratio(*pieces, share, power=0.8)
    assert ratio is not None
    odds = ratio * share / (1 - share)
    chance_with = scipy.stats.binom.pmf(range(pieces[0] + 1), pieces[0], odds / (1 + odds))
    chance_without = scipy.stats.binom.pmf(range(pieces[1] + 1), pieces[1], share)
    found = sum(
        chance_with[x] * chance_without[y]
        for x in range(pieces[0] + 1)
        for y in range(pieces[1] + 1)
        if association.compare_shares(TwoByTwo(x, pieces[0], y, pieces[1])).p <= 0.05
    )
    assert found == pytest.approx(0.8, abs=0.04)


def test_shares_that_are_all_alike_have_no_z() -> None:
    compared = association.compare_shares(TwoByTwo(0, 5, 0, 9))
    assert compared.z is None
    assert compared.p == 1.0


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: TwoByTwo(5, 4, 0, 4), "with_bad"),
        (lambda: TwoByTwo(0, 4, -1, 4), "without_bad"),
        (lambda: association.compare_shares(TwoByTwo(0, 0, 1, 2)), "trials"),
        (lambda: association.haldane_odds_ratio(TwoByTwo(0, 0, 1, 2)), "with_all"),
        (lambda: association.odds_ratio(TwoByTwo(1, 2, 1, 2), 1.0), "confidence"),
        (lambda: association.false_discovery_rates([0.5, 1.1]), "p is"),
        (lambda: association.detectable_odds_ratio(0, 4, 0.1), "with_all"),
        (lambda: association.detectable_odds_ratio(4, 4, 0.0), "share_without"),
    ],
)
def test_tables_that_cannot_be_are_refused(call: Callable[[], object], named: str) -> None:
    with pytest.raises(OutOfRange, match=named):
        call()
