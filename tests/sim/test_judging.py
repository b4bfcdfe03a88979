"""The judges on promises whose worth is known: made up by hand, or drawn from a known law."""

from collections.abc import Sequence
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from judging import (
    Flow,
    Leads,
    Promise,
    by_tenth,
    chance_error,
    fixed_lead,
    kept_share,
    lead_ratios,
    past_quantile_lead,
    promised,
    score_shops,
)

DAY = date(2026, 3, 2)


def told(
    lead: int, true_lead: int, stated: float = 0.8, shop: int = 0, order: str = "0"
) -> Promise:
    days = (timedelta(days=lead), timedelta(days=true_lead))
    return Promise(shop, order, 0.8, DAY, DAY + days[0], stated, DAY + days[1])


def flow_of(ordered: Sequence[float], shipped: Sequence[float], true: Leads) -> Flow:
    """Return a flow whose orders are called by their number."""
    return Flow([str(n) for n in range(len(true))], ordered, shipped, true)


def leads(*values: int) -> Leads:
    return np.array(values, dtype=np.int64)


def test_the_promised_date_is_the_first_that_reaches_the_level() -> None:
    table = [(DAY, 0.1), (DAY + timedelta(days=1), 0.8), (DAY + timedelta(days=3), 1.0)]
    assert promised(table, 0.8) == (DAY + timedelta(days=1), 0.8)
    assert promised(table, 0.81) == (DAY + timedelta(days=3), 1.0)


@pytest.mark.parametrize(
    "table",
    [
        [],
        [(DAY, 0.5)],
        [(DAY, 0.9), (DAY + timedelta(days=1), 0.8)],
        [(DAY + timedelta(days=1), 0.8), (DAY, 0.9)],
        [(DAY, 0.5), (DAY, 0.9)],
    ],
)
def test_a_table_that_is_none_is_refused(table: list[tuple[date, float]]) -> None:
    with pytest.raises(ValueError, match="table"):
        promised(table, 0.8)


def test_shipped_on_the_day_is_kept_and_a_day_later_is_not() -> None:
    assert kept_share([told(5, 5), told(5, 6), told(5, 1), told(5, 9)]) == 0.5


def test_the_chance_error_sees_a_promise_that_says_too_much_or_too_little() -> None:
    assert chance_error([told(5, 5), told(5, 6)]) == pytest.approx(0.3)
    assert chance_error([told(5, 5)] * 4 + [told(5, 6)]) == pytest.approx(0.0)


def drawn(say: float, truth: float, shops: int = 40, each: int = 100) -> list[Promise]:
    """Return promises that say one chance and are kept by another."""
    rng = np.random.default_rng(5)
    return [
        told(5, 5 if rng.random() < truth else 6, say, shop)
        for shop in range(shops)
        for _ in range(each)
    ]


def test_each_tenth_is_judged_by_what_its_number_allows() -> None:
    (tenth,) = by_tenth(drawn(0.85, 0.85))
    assert (tenth.above, tenth.count) == (0.8, 4000)
    assert tenth.stated == pytest.approx(0.85)
    assert tenth.honest
    assert tenth.allowed == pytest.approx(3 * (0.85 * 0.15 / 4000) ** 0.5, rel=0.4)
    assert not by_tenth(drawn(0.85, 0.80))[0].honest
    assert by_tenth(drawn(0.85, 0.80, shops=4, each=5))[0].honest  # too few to tell


def test_shops_that_err_together_are_allowed_as_few_as_they_are() -> None:
    # Half the shops keep everything and half of them 70 %: right on average, by luck of 40.
    both = drawn(0.85, 1.0, shops=20) + [
        told(5, p.true_lead, 0.85, p.shop + 20) for p in drawn(0.85, 0.7, shops=20)
    ]
    assert by_tenth(both)[0].allowed > 3 * (0.85 * 0.15 / 4000) ** 0.5 * 2


def test_a_chance_of_one_belongs_to_the_last_tenth() -> None:
    assert [tenth.above for tenth in by_tenth([told(5, 5, 1.0), told(5, 5, 0.9)])] == [0.9]


def test_the_fixed_lead_is_the_shortest_that_keeps_the_share() -> None:
    true = [3, 5, 5, 8, 13]
    assert fixed_lead(true, 0.6) == 5.0
    assert fixed_lead(true, 1.0) == 13.0
    # Half way from 60 to 80 %: the mix of 7 days, which keeps 60 %, and 8, which keeps 80.
    assert fixed_lead(true, 0.7) == pytest.approx(7.5)


@given(st.lists(st.integers(0, 60), min_size=1, max_size=40), st.floats(0.0, 1.0))
def test_the_fixed_lead_grows_with_the_share_and_never_beats_the_longest(
    true: list[int], share: float
) -> None:
    assert fixed_lead(true, share * 0.9) <= fixed_lead(true, share) <= max(true)


def test_the_past_quantile_of_a_steady_shop_is_its_fixed_lead() -> None:
    rng = np.random.default_rng(3)
    true = rng.integers(5, 25, 4_000)
    ordered = np.arange(4_000.0)
    flow = flow_of(ordered.tolist(), (ordered + true).tolist(), true)
    past = past_quantile_lead(flow, flow.orders, 0.8)
    # It has to guess the quantile from forty leads, so it is a little longer.
    assert fixed_lead(true, 0.8) < past < 1.08 * fixed_lead(true, 0.8)


def test_the_past_quantile_follows_a_shop_whose_leads_drift() -> None:
    rng = np.random.default_rng(4)
    ordered = np.arange(2_000.0)
    true = (10 + ordered // 50 + rng.integers(0, 4, 2_000)).astype(np.int64)
    flow = flow_of(ordered.tolist(), (ordered + true).tolist(), true)
    past = past_quantile_lead(flow, flow.orders, 0.8)
    assert past < 0.8 * fixed_lead(true, 0.8)


def test_the_past_is_only_what_had_shipped() -> None:
    # The second order is taken before the first has shipped: nothing is known for either, and the
    # third, taken after both, sees leads of 10 and 2.
    flow = flow_of([0.0, 5.0, 20.0], [10.0, 7.0, 30.0], leads(10, 2, 10))
    assert past_quantile_lead(flow, flow.orders, 1.0) == 10.0


def test_only_the_orders_asked_for_are_promised_by_the_past() -> None:
    # Order 2 would need a lead of 30; nobody asks for it, so the rule need not keep it.
    flow = flow_of([0.0, 20.0, 21.0, 60.0], [10.0, 28.0, 51.0, 68.0], leads(10, 8, 30, 8))
    assert past_quantile_lead(flow, {"1"}, 1.0) == 10.0
    assert past_quantile_lead(flow, {"1", "2"}, 1.0) == 30.0


def test_promises_that_know_the_future_beat_both_rules_by_as_much_as_leads_differ() -> None:
    rng = np.random.default_rng(6)
    true = rng.integers(4, 21, 3_000)
    ordered = np.arange(3_000.0)
    flow = flow_of(ordered.tolist(), (ordered + true).tolist(), true)
    exact = [told(int(lead), int(lead), order=str(n)) for n, lead in enumerate(true)]
    scores = score_shops(exact, {0: flow})
    assert (scores[0].kept, scores[0].fixed) == (1.0, 20.0)
    assert scores[0].lead == pytest.approx(true.mean())
    fixed, past = lead_ratios(scores)
    assert fixed == pytest.approx(true.mean() / 20.0)
    assert past <= fixed * 1.05


def test_the_fixed_rule_itself_comes_to_one() -> None:
    true = [3, 5, 5, 8, 13] * 60
    ordered = [float(n) for n in range(300)]
    shipped = [at + lead for at, lead in zip(ordered, true, strict=True)]
    promises = [told(8, lead, order=str(n)) for n, lead in enumerate(true)]
    scores = score_shops(promises, {0: flow_of(ordered, shipped, np.array(true))})
    assert lead_ratios(scores)[0] == pytest.approx(1.0)
