"""Who and what is busy, and what one more of it would give."""

from collections.abc import Mapping, Sequence

from msgspec import Struct

from coatledger.answers.flow.covered import Covered
from coatledger.computations.flow import Load, loads
from coatledger.subjects.piece import Piece

HOUR_US = 3_600_000_000


class Busy(Struct, frozen=True, kw_only=True):
    """How busy one kind of resource is. `one_more_gives` is the most by which the shop could ship
    more with one more of it, until the next resource is as busy."""

    resource: str
    units: int
    share: float
    one_more_gives: float


def busy_of(
    left: Sequence[Piece], window: tuple[int, int], opened: Covered, units: Mapping[str, int]
) -> tuple[Busy, ...]:
    """Lay the hours of work told against the hours available, the busiest first."""
    open_h = opened.within(*window) / HOUR_US
    if open_h <= 0.0 or not left:
        return ()
    work: dict[str, float] = {"people": sum(p.hands_on_min for p in left) / 60.0}
    uses = {
        (coat.gun, coat.at_us, coat.ended_us)
        for piece in left
        for coat in piece.ever_coated
        if coat.gun is not None and coat.ended_us is not None and coat.at_us >= window[0]
    }
    for gun, start, end in uses:
        work[f"gun {gun}"] = work.get(f"gun {gun}", 0.0) + (end - start) / HOUR_US
    available = {name: open_h * units.get(name, 1) for name in work}
    found = loads(work, available)
    return tuple(
        Busy(
            resource=load.resource,
            units=units.get(load.resource, 1),
            share=round(load.share, 6),
            one_more_gives=round(_gain(load, found, units.get(load.resource, 1)), 6),
        )
        for load in found
    )


def _gain(load: Load, all_: Sequence[Load], units: int) -> float:
    """Return by what share the busiest resource's load falls with one more unit of this one.

    *Reference:* utilisation as load over capacity: throughput can rise until the then busiest
    resource is full (Factory Physics). *Valid:* an upper bound, work of the same kind.
    """
    busiest = max(one.share for one in all_)
    after = max(
        (one.share for one in all_ if one.resource != load.resource),
        default=0.0,
    )
    after = max(after, load.share * units / (units + 1))
    return busiest / after - 1.0 if after > 0.0 else 0.0
