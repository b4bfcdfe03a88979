"""What goes with each kind of defect: candidates ranked by association, and the trial to settle it.

An association is not a cause, and looking at many things finds something by chance; so each is
compared like with like (within product and wood), tested exactly, and held against how many were
looked at. What was sprayed in one act shares its luck, so an act counts once, however many pieces
it had. Beside each stands what so few acts could have shown at all.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime

import numpy as np
import numpy.typing as npt
from msgspec import Struct
from msgspec.structs import replace

from coatledger.answers.quality.facts import CoatCase, coat_cases
from coatledger.answers.quality.trials import sentence, trial
from coatledger.computations.association import (
    TwoByTwo,
    detectable_odds_ratio,
    false_discovery_rates,
    mantel_haenszel,
)
from coatledger.computations.association_matched import matched_exact, matched_odds_ratio
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked, iso
from coatledger.subjects.span import OPEN, Within, span_of

# At this rate of false discoveries a candidate is named; common practice is 0.05 to 0.10.
RATE = 0.05
POWER = 0.8
# Fewer acts on a side, or fewer bad ones in all, say nothing that holds.
ACTS_LEAST, BAD_LEAST = 2, 2
SHOWN = 10
Flags = npt.NDArray[np.bool_]


class Candidate(Struct, frozen=True, kw_only=True):
    """One thing that was so for some acts of coating and not for others; an act is bad when the
    defect followed on any of its pieces.

    `odds_ratio` is matched on product and wood; None where no stratum compares anything, and its
    ends are None where the data leave them open. `rate` is the share of false discoveries to expect
    if all up to this one were named; `named` says that it is low enough. `could_show` is the least
    odds ratio that so few acts would have shown, looking at so many things; None: none at all.
    """

    fact: str
    value: str
    with_bad: int
    with_all: int
    without_bad: int
    without_all: int
    odds_ratio: float | None
    low: float | None
    high: float | None
    p: float
    rate: float
    named: bool
    could_show: float | None
    says: str
    trial: str


class DefectWhy(Struct, frozen=True, kw_only=True):
    """One kind of defect: how many acts and coats it followed, and what goes with it, ranked."""

    kind: str
    bad: int
    bad_coats: int
    named: int
    candidates: tuple[Candidate, ...]


class WhyAnswer(Struct, frozen=True, kw_only=True):
    """What goes with the defects of some weeks. `tests` is how many comparisons were made."""

    position: int
    as_of: datetime | None
    zone: str
    first_week: str
    last_week: str
    first_day: date
    last_day: date
    coats: int
    acts: int
    tests: int
    kinds: tuple[DefectWhy, ...]
    too_few: tuple[str, ...]
    definitions: Mapping[str, str]


DEFINITIONS: Mapping[str, str] = {
    "act": "what was sprayed in one act and is alike in all that is compared counts once",
    "odds_ratio": "exact conditional over strata of product and wood, with its exact 95 % interval"
    " (Gart 1970)",
    "p": "exact conditional test over the strata, two-sided (Birch 1964)",
    "rate": "false-discovery rate over all comparisons here (Benjamini and Hochberg 1995)",
    "named": f"rate at most {RATE:g}, and odds above those of the others",
    "could_show": f"odds ratio found with {POWER:.0%} power by so many acts at the level left"
    " after so many comparisons (Fleiss, Levin and Paik 2003)",
    "goes with": "association, not cause; acts of one day may still share their luck",
    "silence": "acts of which a fact was not told are left out of its comparison",
    "finding": "what a rule says of a coat, or of the work before it since the last coat, as the"
    " shop stood then; no where none was raised, also where too little was told to raise it",
}  # fmt: skip


def why(reader: Reader, asked: Asked, *, defect: str = "", within: Within = OPEN) -> WhyAnswer:
    """Rank what goes with each kind of defect, or with one, on the pieces of some days."""
    span = span_of(reader, asked, within)
    cases = coat_cases(reader, asked, span)
    acts = acts_of(cases)
    kinds, tests = ranked(acts, (defect,) if defect else None)
    counted = Counter(kind for case in cases for kind in case.kinds)
    shown = {one.kind for one in kinds}
    kinds = tuple(replace(one, bad_coats=counted[one.kind]) for one in kinds)
    return WhyAnswer(
        position=asked.position(reader),
        as_of=iso(asked.now_us),
        zone=span.zone,
        first_week=span.first_week,
        last_week=span.last_week,
        first_day=span.first_day,
        last_day=span.last_day,
        coats=len(cases),
        acts=len(acts),
        tests=tests,
        kinds=kinds,
        too_few=tuple(sorted(kind for kind in counted if kind not in shown and not defect)),
        definitions=DEFINITIONS,
    )


def acts_of(cases: Sequence[CoatCase]) -> tuple[CoatCase, ...]:
    """Join coats of one act that are alike in all that is compared."""
    found: dict[tuple[object, ...], CoatCase] = {}
    for case in cases:
        key = (case.act, case.product, case.wood, *sorted(case.facts.items()))
        known = found.get(key)
        found[key] = case if known is None else replace(known, kinds=known.kinds | case.kinds)
    return tuple(found.values())


class _Tested(Struct, frozen=True):
    """One comparison before it is put into words."""

    kind: str
    fact: str
    value: str
    strata: tuple[TwoByTwo, ...]
    ratio: float | None
    p: float


def ranked(
    cases: Sequence[CoatCase], only: tuple[str, ...] | None = None
) -> tuple[tuple[DefectWhy, ...], int]:
    """Rank candidates within each kind of defect; return them and how many were compared."""
    counted = Counter(kind for case in cases for kind in case.kinds)
    wanted = [
        kind
        for kind, bad in counted.most_common()
        if bad >= BAD_LEAST and (only is None or kind in only)
    ]
    strata = _strata(cases)
    splits = tuple(_splits(cases))
    tested = [
        one
        for kind in wanted
        for bad in (np.array([kind in case.kinds for case in cases]),)
        for fact, value, other, told, has in splits
        if (one := _test(kind, fact, (value, other), bad, told, has, strata)) is not None
    ]
    rates = false_discovery_rates([one.p for one in tested])
    rows = list(zip(tested, rates, strict=True))
    return tuple(_of_kind(kind, counted[kind], rows, len(tested)) for kind in wanted), len(tested)


def _strata(cases: Sequence[CoatCase]) -> npt.NDArray[np.int64]:
    numbers: dict[tuple[str, str], int] = {}
    return np.array(
        [numbers.setdefault((case.product, case.wood), len(numbers)) for case in cases],
        dtype=np.int64,
    )


def _splits(cases: Sequence[CoatCase]) -> Iterator[tuple[str, str, str | None, Flags, Flags]]:
    """Yield each fact and value with who told it and of whom it is true. Of a fact with two values
    only the rarer is compared, and the other named: both would be one comparison twice."""
    names = dict.fromkeys(name for case in cases for name in case.facts)
    for name in names:
        told = np.array([name in case.facts for case in cases])
        values = Counter(case.facts[name] for case in cases if name in case.facts).most_common()
        pair = len(values) == 2
        for value, many in values[1:] if pair else values:
            if min(many, int(told.sum()) - many) >= ACTS_LEAST:
                has = np.array([case.facts.get(name) == value for case in cases])
                yield name, value, values[0][0] if pair else None, told, has


def _test(
    kind: str, fact: str, values: tuple[str, str | None], bad: Flags, told: Flags, has: Flags,
    strata: npt.NDArray[np.int64],
) -> _Tested | None:  # fmt: skip
    tables = _tables(bad, told, has, strata)
    if not tables:
        return None
    ratio = mantel_haenszel(tables).ratio
    value, other = values
    if other is not None and ratio is not None and ratio < 1.0:
        value = other
        tables = tuple(
            TwoByTwo(t.without_bad, t.without_all, t.with_bad, t.with_all) for t in tables
        )
        ratio = mantel_haenszel(tables).ratio
    return _Tested(kind, fact, value, tables, ratio, matched_exact(tables).two_sided)


def _tables(
    bad: Flags, told: Flags, has: Flags, strata: npt.NDArray[np.int64]
) -> tuple[TwoByTwo, ...]:
    size = int(strata.max()) + 1 if len(strata) else 0
    rest = told & ~has
    columns = [
        np.bincount(strata[side], minlength=size) for side in (has & bad, has, rest & bad, rest)
    ]
    tables = (TwoByTwo(*(int(cell) for cell in cells)) for cells in zip(*columns, strict=True))
    # Where one side is empty, or nothing is bad, there is nothing to compare.
    return tuple(
        t
        for t in tables
        if t.with_all
        and t.without_all
        and 0 < t.with_bad + t.without_bad < t.with_all + t.without_all
    )


def _of_kind(kind: str, bad: int, rows: Sequence[tuple[_Tested, float]], tests: int) -> DefectWhy:
    mine = [(one, rate) for one, rate in rows if one.kind == kind]
    mine.sort(key=lambda row: (not _above(row[0]), row[0].p, -(row[0].ratio or 0.0)))
    named = sum(1 for one, rate in mine if rate <= RATE and _above(one))
    return DefectWhy(
        kind=kind,
        bad=bad,
        bad_coats=bad,
        named=named,
        candidates=tuple(
            _candidate(one, rate, tests) for one, rate in mine[: max(SHOWN, named)] if _above(one)
        ),
    )


def _above(one: _Tested) -> bool:
    return one.ratio is not None and one.ratio > 1.0


def _candidate(one: _Tested, rate: float, tests: int) -> Candidate:
    table = TwoByTwo(
        sum(t.with_bad for t in one.strata), sum(t.with_all for t in one.strata),
        sum(t.without_bad for t in one.strata), sum(t.without_all for t in one.strata),
    )  # fmt: skip
    # Half a bad coat more than there were: a share of exactly 0 has no odds.
    usual = (table.without_bad + 0.5) / (table.without_all + 1.0)
    could = detectable_odds_ratio(
        table.with_all, table.without_all, usual, POWER, RATE / max(1, tests)
    )
    named = rate <= RATE
    ratio = matched_odds_ratio(one.strata)
    return Candidate(
        fact=one.fact,
        value=one.value,
        with_bad=table.with_bad,
        with_all=table.with_all,
        without_bad=table.without_bad,
        without_all=table.without_all,
        odds_ratio=_finite(ratio.ratio),
        low=_finite(ratio.low),
        high=_finite(ratio.high),
        p=one.p,
        rate=rate,
        named=named,
        could_show=_finite(could),
        says=sentence(one.kind, one.fact, one.value, table, ratio, named=named),
        trial=trial(one.kind, one.fact, one.value, table, ratio),
    )


def _finite(value: float | None) -> float | None:
    return value if value is not None and np.isfinite(value) else None
