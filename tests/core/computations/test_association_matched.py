"""The exact matched test: Fisher's where there is one stratum, enumeration where there are more."""

from itertools import product

import pytest
from coatledger.computations.association import TwoByTwo, fisher_exact, mantel_haenszel, odds_ratio
from coatledger.computations.association_matched import matched_exact, matched_odds_ratio
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import nchypergeom_fisher

# Mantel, JASA 58 (1963): penicillin for rabbits, cured and died, at five levels; R's dataset
# `Rabbits` in ?mantelhaen.test, whose exact test prints S = 16, p-value = 0.03994 (from memory;
# the enumeration below agrees).
RABBITS = (
    TwoByTwo(0, 6, 0, 5), TwoByTwo(3, 6, 0, 6), TwoByTwo(6, 6, 2, 6), TwoByTwo(5, 6, 6, 6),
    TwoByTwo(2, 2, 5, 5),
)  # fmt: skip


@st.composite
def tables(draw: st.DrawFn) -> TwoByTwo:
    n1, n2 = draw(st.integers(0, 6)), draw(st.integers(0, 6))
    return TwoByTwo(draw(st.integers(0, n1)), n1, draw(st.integers(0, n2)), n2)


def enumerated(strata: tuple[TwoByTwo, ...], odds: float = 1.0) -> dict[int, float]:
    """Every way the bad ones may fall, stratum by stratum, by scipy."""
    ways = []
    for t in strata:
        if t.with_all + t.without_all == 0:
            continue
        law = nchypergeom_fisher(
            t.with_all + t.without_all, t.with_bad + t.without_bad, t.with_all, odds
        )
        ways.append([(x, float(law.pmf(x))) for x in range(t.with_all + 1) if law.pmf(x) > 0])
    totals: dict[int, float] = {}
    for way in product(*ways):
        chance = 1.0
        for _, one in way:
            chance *= one
        total = sum(x for x, _ in way)
        totals[total] = totals.get(total, 0.0) + chance
    return totals


def test_the_rabbits_of_the_published_example() -> None:
    assert matched_exact(RABBITS).two_sided == pytest.approx(0.03994, abs=5e-6)


def test_the_rabbits_odds_ratio() -> None:
    """R's mantelhaen.test(Rabbits, exact = TRUE) prints 10.36102 (from memory)."""
    assert matched_odds_ratio(RABBITS).ratio == pytest.approx(10.36102, abs=5e-5)


def test_at_the_ends_of_its_interval_the_rabbits_tails_are_as_asked() -> None:
    found = matched_odds_ratio(RABBITS, 0.95)
    for odds, at_least in ((found.low, True), (found.high, False)):
        totals = enumerated(RABBITS, odds)
        tail = sum(p for x, p in totals.items() if (x >= 16 if at_least else x <= 16))
        assert tail == pytest.approx(0.025, rel=1e-6)


def test_with_one_stratum_the_odds_ratio_is_fishers() -> None:
    for table in (TwoByTwo(4, 10, 2, 12), TwoByTwo(3, 9, 0, 8), TwoByTwo(0, 4, 3, 5)):
        one, other = matched_odds_ratio((table,)), odds_ratio(table)
        assert one.low == pytest.approx(other.low, rel=1e-9)
        assert one.high == pytest.approx(other.high, rel=1e-9)
        assert one.ratio == pytest.approx(other.ratio, rel=1e-9)
    assert matched_odds_ratio((TwoByTwo(0, 3, 0, 5),)).ratio is None


@given(st.lists(tables(), min_size=1, max_size=3).map(tuple))
def test_it_is_what_enumeration_gives(strata: tuple[TwoByTwo, ...]) -> None:
    totals = enumerated(strata)
    seen = sum(t.with_bad for t in strata)
    found = matched_exact(strata)
    assert found.greater == pytest.approx(sum(p for x, p in totals.items() if x >= seen), abs=1e-9)
    assert found.less == pytest.approx(sum(p for x, p in totals.items() if x <= seen), abs=1e-9)
    alike = sum(p for p in totals.values() if p <= totals[seen] * (1 + 1e-7))
    assert found.two_sided == pytest.approx(alike, abs=1e-9)


@given(tables())
def test_with_one_stratum_it_is_fishers(table: TwoByTwo) -> None:
    one, other = matched_exact((table,)), fisher_exact(table)
    assert one.two_sided == pytest.approx(other.two_sided, abs=1e-12)
    assert one.greater == pytest.approx(other.greater, abs=1e-12)


def test_with_nothing_to_compare_nothing_is_unlikely() -> None:
    assert matched_exact(()).two_sided == 1.0
    assert matched_exact((TwoByTwo(0, 0, 3, 9),)).two_sided == 1.0


def test_matching_takes_away_what_lies_with_the_wood() -> None:
    """Oak comes out worse with any gun, and one gun sprays the oak."""
    oak, cherry = TwoByTwo(18, 60, 6, 20), TwoByTwo(1, 20, 3, 60)
    crude = TwoByTwo(19, 80, 9, 80)
    assert fisher_exact(crude).two_sided < 0.06
    assert matched_exact((oak, cherry)).two_sided > 0.9
    assert mantel_haenszel((oak, cherry)).ratio == pytest.approx(1.0, abs=0.1)
