"""How good promises were: kept, honest about their chance, and how much earlier than simple rules.

A promise is judged by the first date told. Leads are whole days from the local date of the order to
the promised or true ship date. The two simple rules get the share of promises they keep from the
promises they are compared with, so that only their lead is left to compare.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from math import sqrt

import numpy as np
import numpy.typing as npt

# Ship dates in ascending order, each with the chance that the order has shipped by it.
Table = Sequence[tuple[date, float]]
Leads = npt.NDArray[np.int64]
PAST = 40  # how many of the last orders shipped the rolling rule looks at
CLEAR = 3.0  # standard errors from which on a deviation is no longer chance


@dataclass(frozen=True)
class Promise:
    """The date told at one level, the chance stated for it, and when the order really shipped."""

    shop: int
    order: str
    level: float
    ordered: date
    promised: date
    stated: float
    ships: date

    @property
    def kept(self) -> bool:
        return self.ships <= self.promised

    @property
    def lead(self) -> int:
        return (self.promised - self.ordered).days

    @property
    def true_lead(self) -> int:
        return (self.ships - self.ordered).days


@dataclass(frozen=True)
class Tenth:
    """The promises whose stated chance lies in one tenth; `allowed` is what their number allows."""

    above: float
    count: int
    stated: float
    kept: float
    allowed: float

    @property
    def honest(self) -> bool:
        return abs(self.kept - self.stated) <= self.allowed


def promised(table: Table, level: float) -> tuple[date, float]:
    """Return the first date whose chance reaches a level, and that chance."""
    days, chances = [day for day, _ in table], [chance for _, chance in table]
    if days != sorted(set(days)) or chances != sorted(chances):
        raise ValueError("a table of chances ascends in its dates and in its chances")
    for day, chance in table:
        if chance >= level - 1e-12:
            return day, chance
    raise ValueError(f"the table ends at {chances[-1:]} and never reaches {level}")


def kept_share(promises: Sequence[Promise]) -> float:
    return sum(p.kept for p in promises) / len(promises)


def chance_error(promises: Sequence[Promise]) -> float:
    """Return how far the mean stated chance is from the share kept."""
    return abs(sum(p.stated - p.kept for p in promises) / len(promises))


def by_tenth(promises: Sequence[Promise]) -> tuple[Tenth, ...]:
    """Return stated chance against share kept, tenth by tenth of the stated chance.

    What a number allows is three standard errors. Promises of one shop stand or fall together, so
    the error is the larger one of independent promises and of shops as clusters (Liang and Zeger,
    Biometrika 73, 1986).
    """
    found = []
    for tenth, group in _grouped(promises, lambda p: min(9, int(p.stated * 10.0 + 1e-9))):
        count = len(group)
        alone = sum(p.stated * (1.0 - p.stated) for p in group)
        shops = _grouped(group, lambda p: p.shop)
        together = sum(sum(p.kept - p.stated for p in each) ** 2 for _, each in shops)
        stated = sum(p.stated for p in group) / count
        allowed = CLEAR * sqrt(max(alone, together)) / count
        found.append(Tenth(tenth / 10.0, count, stated, kept_share(group), allowed))
    return tuple(found)


def fixed_lead(true_leads: Sequence[int] | Leads, share: float) -> float:
    """Return the shortest fixed lead that in hindsight would have kept a share of promises.

    Between two whole days the rule is a mix of both, told to some and the other to the rest, so
    that it keeps exactly the share and gains nothing from rounding.
    """
    leads = np.sort(np.asarray(true_leads))
    days = np.arange(0, int(leads[-1]) + 1)
    shares = np.searchsorted(leads, days, side="right") / len(leads)
    return _at_share(shares, days.astype(np.float64), share)


@dataclass(frozen=True)
class Flow:
    """All orders of a shop, from which a rule may learn once they have shipped; times in days."""

    orders: Sequence[str]
    ordered_at: Sequence[float]
    shipped_at: Sequence[float]
    true_leads: Leads


def past_quantile_lead(flow: Flow, asked: Collection[str], share: float) -> float:
    """Return the mean lead of promising a quantile of the last leads, at the same share kept.

    Only the orders asked for are promised and count. What was taken before anything had shipped
    gets no promise of this rule and does not count either.
    """
    shipped, true_leads = np.asarray(flow.shipped_at), flow.true_leads
    order = np.argsort(shipped, kind="stable")
    pasts, truths = [], []
    for name, at, lead in zip(flow.orders, flow.ordered_at, true_leads, strict=True):
        gone = order[: int(np.searchsorted(shipped[order], at, side="right"))]
        if name in asked and len(gone):
            pasts.append(np.sort(true_leads[gone[-PAST:]]))
            truths.append(lead)
    truth = np.array(truths)
    shares, means = [0.0], [0.0]
    for step in range(1, 41 + int(true_leads.max())):
        level, more = min(step / 40.0, 1.0), max(0, step - 40)  # then longer than the longest
        leads = np.array([_quantile(past, level) + more for past in pasts])
        shares.append(float(np.mean(truth <= leads)))
        means.append(float(np.mean(leads)))
    return _at_share(np.array(shares), np.array(means), share)


def _quantile(ascending: Leads, level: float) -> int:
    return int(ascending[max(0, int(np.ceil(level * len(ascending) - 1e-9)) - 1)])


def _at_share(
    shares: npt.NDArray[np.float64], leads: npt.NDArray[np.float64], share: float
) -> float:
    """Return the lead at which a rule keeps a share, mixing the two settings around it."""
    after = int(np.argmax(shares >= share - 1e-12))
    if shares[after] < share - 1e-12:
        raise ValueError(f"the rule never keeps {share}")
    if after == 0 or shares[after] == shares[after - 1]:
        return float(leads[after])
    part = (share - shares[after - 1]) / (shares[after] - shares[after - 1])
    return float(leads[after - 1] + part * (leads[after] - leads[after - 1]))


@dataclass(frozen=True)
class ShopScore:
    """One shop at one level: shares, and mean leads in days of the promises and of both rules."""

    shop: int
    count: int
    kept: float
    stated: float
    lead: float
    fixed: float
    past: float


def score_shops(promises: Iterable[Promise], flows: Mapping[int, Flow]) -> tuple[ShopScore, ...]:
    """Return how each shop's promises of one level did."""
    scores = []
    for shop, group in _grouped(promises, lambda p: p.shop):
        kept, flow = kept_share(group), flows[shop]
        scores.append(
            ShopScore(
                shop=shop,
                count=len(group),
                kept=kept,
                stated=sum(p.stated for p in group) / len(group),
                lead=sum(p.lead for p in group) / len(group),
                fixed=fixed_lead([p.true_lead for p in group], kept),
                past=past_quantile_lead(flow, {p.order for p in group}, kept),
            )
        )
    return tuple(scores)


def lead_ratios(scores: Sequence[ShopScore]) -> tuple[float, float]:
    """Return the promised lead over the fixed one and over the past quantile's, all promises."""
    lead, fixed, past = (
        sum(score.count * days for score, days in zip(scores, column, strict=True))
        for column in (
            [score.lead for score in scores],
            [score.fixed for score in scores],
            [score.past for score in scores],
        )
    )
    return lead / fixed, lead / past


def _grouped(promises: Iterable[Promise], key: object) -> list[tuple[int, list[Promise]]]:
    assert callable(key)
    return [(name, list(group)) for name, group in groupby(sorted(promises, key=key), key=key)]
