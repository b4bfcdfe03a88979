"""What a schedule costs: hands-on hours, litres and days, so that two can be laid side by side.

Hours by act are habits, not measurements: a shop with facts of its own passes its own minutes.
"""

import math
from collections.abc import Mapping
from types import MappingProxyType

from msgspec import Struct

from coatledger.computations.ranges import require
from coatledger.computations.schedule import Proposal, ProposedStep

ACTS = "hands-on minutes of one act"

# Minutes for a square metre, and for taking a batch up and setting it down again.
# Common practice, no published source.
MIN_PER_M2: Mapping[str, float] = MappingProxyType(
    {
        "sand": 6.0, "raise_grain": 2.0, "blow_off": 1.0, "fill_grain": 10.0, "stain": 6.0,
        "coat": 3.0, "scuff": 3.0, "rub_out": 20.0, "polish": 15.0, "inspect": 1.5, "cure": 0.0,
        "pack": 6.0,
    }
)  # fmt: skip
SETUP_MIN: Mapping[str, float] = MappingProxyType({"coat": 15.0, "stain": 10.0, "fill_grain": 10.0})
UNKNOWN_FILM_UM = 60.0  # a washcoat, sealer or tie coat with no film of its own in the schedule


class Cost(Struct, frozen=True):
    """One batch through one schedule: hands-on hours, litres sprayed, elapsed hours, work days."""

    hands_on_h: float
    litres: float
    elapsed_h: float
    days: int


class Comparison(Struct, frozen=True):
    """Two schedules for the same batch; differences are second less first."""

    first: Cost
    second: Cost
    hands_on_h: float
    litres: float
    days: int
    words: str


def cost(
    proposal: Proposal,
    area_m2: float,
    efficiency_pct: float,
    day_h: float = 9,
    min_per_m2: Mapping[str, float] = MIN_PER_M2,
) -> Cost:
    """Hours, litres and days of a batch.

    *Reference:* counting: a step starts when its wait is over and people are there; nights count as
    waiting. Wet film times area over transfer efficiency for litres. *Valid:* one batch alone in
    the shop, day after day; a step longer than a day is refused, make the batch smaller.
    """
    require("area_m2", area_m2, 0.001, 1000, "the area of one batch")
    require("efficiency_pct", efficiency_pct, 1, 100, "transfer efficiency")
    require("day_h", day_h, 1, 24, "one working day")
    hands_on = litres = clock_h = done_h = 0.0
    for step in proposal.steps:
        work_h = _minutes(step, area_m2, min_per_m2) / 60
        require(f"hours of {step.act}", work_h, 0, day_h, "one working day; make the batch smaller")
        clock_h = _start(clock_h, work_h, day_h) + work_h
        done_h = clock_h
        clock_h += step.wait_h
        hands_on += work_h
        if step.act == "coat":
            film = UNKNOWN_FILM_UM if step.wet_film_um is None else step.wet_film_um
            litres += area_m2 * film / 1000 / (efficiency_pct / 100)
    return Cost(hands_on, litres, done_h, max(1, math.ceil(round(done_h / 24, 9))))


def compare(first: Cost, second: Cost) -> Comparison:
    """Lay two costs side by side, with a sentence."""
    hours = second.hands_on_h - first.hands_on_h
    litres = second.litres - first.litres
    days = second.days - first.days
    words = (
        f"The second takes {_more(hours, 'hands-on hours')}, {_more(litres, 'litres')} and "
        f"{_more(days, 'days')}."
    )
    return Comparison(first, second, hours, litres, days, words)


def _minutes(step: ProposedStep, area_m2: float, min_per_m2: Mapping[str, float]) -> float:
    rate = min_per_m2.get(step.act)
    if rate is None:
        raise ValueError(f"no minutes are known for {step.act}")
    require(f"minutes of {step.act}", rate, 0, 600, ACTS)
    slower = 1.5 if step.by_hand else 1.0  # common practice, no published source
    return rate * slower * area_m2 + SETUP_MIN.get(step.act, 0.0)


def _start(clock_h: float, work_h: float, day_h: float) -> float:
    """The first moment from `clock_h` at which a step fits into a working day."""
    into_day = clock_h % 24
    if into_day + work_h <= day_h + 1e-9:
        return clock_h
    return clock_h - into_day + 24


def _more(amount: float, of_what: str) -> str:
    if abs(amount) < 0.05:
        return f"the same {of_what}"
    return f"{abs(amount):.3g} {'more' if amount > 0 else 'fewer'} {of_what}"
