"""How work moves through the shop: work in process, lead times, cumulative flow, the bottleneck.

Times are hours from any common origin; whoever calls has turned moments into them.
"""

import math
from collections.abc import Mapping, Sequence

import numpy as np
from msgspec import Struct

from coatledger.computations.ranges import require

_LITTLE = "Little 1961"
_ANY = 1e9


class Stay(Struct, frozen=True):
    """One piece's time in the shop; `left_h` is None while it is there."""

    entered_h: float
    left_h: float | None

    def __post_init__(self) -> None:
        """Refuse a piece that left before it came."""
        require("entered_h", self.entered_h, -_ANY, _ANY, "a stay")
        if self.left_h is not None:
            require("left_h", self.left_h, self.entered_h, _ANY, "a stay")


class LittleCheck(Struct, frozen=True):
    """Little's law over a window: work in process from a tally against rate times time in.

    `residual` is in pieces and is nothing but rounding when tally and stays tell the same story;
    a piece that left without a fact, or was counted twice, shows in it. `edge_share` is the part of
    the hours that belongs to pieces already there at the start or still there at the end.
    """

    work_in_process: float
    rate_per_h: float
    time_in_h: float
    residual: float
    edge_share: float


class Load(Struct, frozen=True):
    """How busy a person, gun or rack is: hours of work over hours it could work."""

    resource: str
    share: float


def time_average(steps: Sequence[tuple[float, int]], start_h: float, end_h: float) -> float:
    """Return the mean of a tally that changes by steps: (hour, change), those before included.

    *Reference:* the definition of a time average. *Valid:* start_h < end_h; never below 0 pieces.
    """
    require("end_h", end_h, start_h + 1e-9, _ANY, _LITTLE)
    area, level, since = 0.0, 0, start_h
    for hour, change in sorted(steps):
        require("hour", hour, -_ANY, _ANY, _LITTLE)
        if hour >= end_h:
            break
        if hour > since:
            # Only the level at the end of an instant counts: two changes may share it.
            require("level", level, 0, _ANY, _LITTLE)
            area += level * (hour - since)
            since = hour
        level += change
    require("level", level, 0, _ANY, _LITTLE)
    return (area + level * (end_h - since)) / (end_h - start_h)


def little_check(
    tally: Sequence[tuple[float, int]], stays: Sequence[Stay], start_h: float, end_h: float
) -> LittleCheck:
    """Compare the tally's work in process with rate times time in, edges corrected.

    Pieces in the window at any time are counted, each with its time inside the window; so counted
    the law is exact for any window, not only in the long run.
    *Reference:* Little, Operations Research 9 (1961); for finite windows Little and Graves (2008)
    and El-Taha and Stidham (1999). *Valid:* start_h < end_h.
    """
    work_in_process = time_average(tally, start_h, end_h)
    window = end_h - start_h
    inside_h: list[float] = []
    edge_h: list[float] = []
    for stay in stays:
        left = math.inf if stay.left_h is None else stay.left_h
        if stay.entered_h >= end_h or left <= start_h:
            continue
        hours = min(left, end_h) - max(stay.entered_h, start_h)
        inside_h.append(hours)
        if stay.entered_h < start_h or left > end_h:
            edge_h.append(hours)
    total_h = math.fsum(inside_h)
    rate = len(inside_h) / window
    time_in = total_h / len(inside_h) if inside_h else 0.0
    return LittleCheck(
        work_in_process=work_in_process,
        rate_per_h=rate,
        time_in_h=time_in,
        residual=work_in_process - rate * time_in,
        edge_share=math.fsum(edge_h) / total_h if total_h > 0.0 else 0.0,
    )


def lead_time_percentiles(
    lead_times_h: Sequence[float], percents: Sequence[float]
) -> tuple[float, ...]:
    """Return percentiles of lead times of pieces that left.

    *Reference:* Hyndman and Fan, The American Statistician 50 (1996), type 8, median-unbiased.
    *Valid:* pieces that left only; those still here are the slow ones, so in a growing shop the
    figures flatter. With n pieces nothing is known beyond the (n - 1/3) / (n + 1/3) part; the ends
    stand there.
    """
    require("number of lead times", len(lead_times_h), 1, _ANY, "Hyndman & Fan 1996")
    for hours in lead_times_h:
        require("lead_time_h", hours, 0.0, _ANY, "Hyndman & Fan 1996")
    for percent in percents:
        require("percent", percent, 0.0, 100.0, "Hyndman & Fan 1996")
    shares = np.asarray(percents, dtype=np.float64) / 100.0
    found = np.quantile(np.asarray(lead_times_h), shares, method="median_unbiased")
    return tuple(float(value) for value in found)


def cumulative_flow(
    reached_h: Mapping[str, Sequence[float]], at_h: Sequence[float]
) -> Mapping[str, tuple[int, ...]]:
    """Count for each stage how many pieces had reached it at each hour.

    Between two curves lie, upright, the work between two stages and, level, its time there.
    *Reference:* the definition of a cumulative count. *Valid:* each piece once for each stage.
    """
    for stage, hours in reached_h.items():
        for hour in hours:
            require(f"hour of {stage}", hour, -_ANY, _ANY, "a cumulative count")
    return {
        stage: tuple(int(count) for count in np.searchsorted(sorted(hours), at_h, side="right"))
        for stage, hours in reached_h.items()
    }


def loads(work_h: Mapping[str, float], open_h: Mapping[str, float]) -> tuple[Load, ...]:
    """Return each resource's utilisation, the bottleneck first.

    *Reference:* utilisation as load over capacity; Hopp and Spearman, Factory Physics: the
    bottleneck is the most utilised. *Valid:* a share above 1 is more work than there are hours.
    """
    busy: list[Load] = []
    for resource, hours in work_h.items():
        require(f"work_h of {resource}", hours, 0.0, _ANY, "utilisation")
        capacity = open_h.get(resource, 0.0)
        require(f"open_h of {resource}", capacity, 1e-9, _ANY, "utilisation")
        busy.append(Load(resource, hours / capacity))
    return tuple(sorted(busy, key=lambda load: (-load.share, load.resource)))
