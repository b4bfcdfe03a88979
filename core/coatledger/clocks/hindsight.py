"""What the clock had said of coats, held against what was found on them since: proper scores.

Each coat is foretold from what had been checked by the midnight before it, as the clock did then.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

from msgspec import Struct

from coatledger.clocks.overnight import midnight_us
from coatledger.clocks.shop_learning import Observed, believed, of_coats
from coatledger.computations import learning
from coatledger.computations.drying import COAT_LOG_SD, Spread
from coatledger.computations.learning import Posterior, RangeScore
from coatledger.computations.scoring import brier

# A coat found not ready and then ready says where between; where the two lie further apart than
# coats do from one another (two of `COAT_LOG_SD`), their middle says little.
NEAR_LOG = 2.0 * COAT_LOG_SD


class Scores(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Penalties, smaller is better. `brier` is of the chance given to the first check of each coat,
    `log_score` of the chance given to the interval all its checks leave. `ranges` is of the 10, 50
    and 90 % given to coats found not ready and soon after ready, in times of the sheet's hours.

    Slow coats are the ones looked at twice, so fewer than 80 % of those ranges hold even for a
    perfect clock: compare the clock with the sheet, not with 80 %.
    """

    brier: float
    log_score: float
    ranges: RangeScore | None = None


class Hindsight(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """How good the clock's word was on this shop's own later checks, and how good the sheet alone
    would have been. Ranges are in times of the sheet's hours."""

    coats: int
    bracketed: int
    clock: Scores
    sheet_alone: Scores


class _Coat(NamedTuple):
    """One coat's checks and the midnight its clock had learned by."""

    midnight_us: int
    seen: tuple[Observed, ...]


def hindsight(seen: Sequence[Observed], zone: str) -> Hindsight | None:
    """Score the clock's past word; None where nothing was checked.

    *Reference:* prequential scoring (Dawid 1984); Brier 1950, Good 1952, CRPS, interval score and
    pinball loss by Gneiting & Raftery 2007. *Valid:* the checks at hand, each taken as known from
    when it was made; a coat's later checks are not foretold, for its first one tells of them.
    """
    if not seen:
        return None
    coats = _coats(seen, zone)
    beliefs = {coat.midnight_us: _belief(seen, coat.midnight_us) for coat in coats}
    sheet = learning.prior()
    by_clock = [(beliefs[coat.midnight_us], coat) for coat in coats]
    return Hindsight(
        coats=len(coats),
        bracketed=sum(_middle(coat) is not None for coat in coats),
        clock=_scores(by_clock),
        sheet_alone=_scores([(sheet, coat) for coat in coats]),
    )


def _coats(seen: Sequence[Observed], zone: str) -> tuple[_Coat, ...]:
    checks: dict[str, list[Observed]] = {}
    for one in sorted(seen, key=lambda one: one.seen.at_us):
        checks.setdefault(one.check.coat, []).append(one)
    return tuple(_Coat(midnight_us(zone, own[0].applied_us), tuple(own)) for own in checks.values())


def _belief(seen: Sequence[Observed], by_us: int) -> Posterior:
    return believed([one for one in seen if one.seen.at_us <= by_us])


def _scores(foretold: Sequence[tuple[Posterior, _Coat]]) -> Scores:
    briers, logs = [], []
    ranges: list[Spread] = []
    found: list[float] = []
    for product, coat in foretold:
        belief = of_coats(product, coat.seen[0].bare_wood)
        first = coat.seen[0].check
        briers.append(brier(learning.chance_ready(belief, first.reached), first.ready))
        interval = learning.intervals([one.check for one in coat.seen])
        logs.append(learning.score_learning(*interval, start=belief).clock)
        middle = _middle(coat)
        if middle is not None:
            ranges.append(learning.next_coat(belief))
            found.append(middle)
    return Scores(
        brier=math.fsum(briers) / len(briers),
        log_score=math.fsum(logs) / len(logs),
        ranges=learning.score_ranges(ranges, found) if ranges else None,
    )


def _middle(coat: _Coat) -> float | None:
    """The geometric middle of the last check not ready and the first ready, when they are near."""
    low = max((o.check.reached for o in coat.seen if not o.check.ready), default=0.0)
    high = min((o.check.reached for o in coat.seen if o.check.ready), default=math.inf)
    near = 0.0 < low < high < math.inf and math.log(high / low) <= NEAR_LOG
    return math.sqrt(low * high) if near else None
