"""One share as a small shop should see it: with both intervals, and called small where it is."""

from functools import lru_cache

from msgspec import Struct

from coatledger.computations.intervals import exact, wilson

CONFIDENCE = 0.95
# Below so many an interval spans a third of all there is, and more; common practice.
FEW = 20
DEFINITION = (
    "95 % intervals: Wilson to look at, exact (Clopper-Pearson) to promise by (NIST/SEMATECH"
    " e-Handbook 7.2.4)"
)


class Proportion(Struct, frozen=True, kw_only=True):
    """`count` of `of`. Without anything to count there is no value rather than a number; `few` says
    that so few prove little."""

    count: int
    of: int
    value: float | None = None
    low: float | None = None
    high: float | None = None
    exact_low: float | None = None
    exact_high: float | None = None
    few: bool = True


@lru_cache(maxsize=20_000)
def proportion(count: int, of: int) -> Proportion:
    """Write a share with its Wilson and its exact interval."""
    if of == 0:
        return Proportion(count=count, of=of)
    score, sure = wilson(count, of, CONFIDENCE), exact(count, of, CONFIDENCE)
    return Proportion(
        count=count,
        of=of,
        value=count / of,
        low=score.low,
        high=score.high,
        exact_low=sure.low,
        exact_high=sure.high,
        few=of < FEW,
    )
