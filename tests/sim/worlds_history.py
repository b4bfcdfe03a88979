"""What a shop can learn from in a world: jobs, waits and inspections as they were written down."""

from dataclasses import dataclass
from math import exp

from shop_spec import Range
from simpy_chance import Z90
from wall_clock import MINUTE
from worlds import DRY_SPREAD
from worlds_truth import Entry, Lived, day_of


@dataclass(frozen=True)
class JobDone:
    """A job as it was written down; the change-over is not in its minutes."""

    kind: str
    operation: str
    pieces: int
    planned_min: float
    told_min: float
    ended_min: float  # since the world's start


@dataclass(frozen=True)
class WaitSeen:
    """A wait that ended in (not_before, not_after]; `expected` is the plan in its weather."""

    product: str
    expected: Range
    not_before_min: float
    not_after_min: float
    ended_min: float


@dataclass(frozen=True)
class Judged:
    """An inspection: how many pieces, how many sent back, how many scrap."""

    kind: str
    pieces: int
    again: int
    scrap: int
    at_min: float


def in_weather(wait: Range, weather: float) -> Range:
    """Return a planned wait as a clock sees it that reads the air: moved, and less wide."""
    middle, spread = wait.p50 * exp(weather), exp(Z90 * DRY_SPREAD * 1.6)
    return Range(middle / spread, middle, middle * spread)


Histories = tuple[list[tuple[int, JobDone]], list[tuple[int, WaitSeen]], list[tuple[int, Judged]]]


def histories(lived: Lived) -> Histories:
    """Return what can be learnt, each with the moment from which it was on record."""
    jobs: list[tuple[int, JobDone]] = []
    waits: list[tuple[int, WaitSeen]] = []
    judged: list[tuple[int, Judged]] = []
    weather = lived.world.nature.weather
    steps = {b.id: b.operations for o in lived.world.orders for b in o.batches}
    ended: dict[str, Entry] = {}
    for entry in sorted(lived.entries, key=lambda entry: entry.number):
        kind, at_min = lived.world.kinds[entry.batch], entry.at / MINUTE
        step = steps[entry.batch][entry.index]
        if entry.what == "ended":
            ended[entry.batch] = entry
            planned = step.setup_min + step.piece_min * entry.pieces
            done = JobDone(kind, step.name, entry.pieces, planned, entry.minutes, at_min)
            jobs.append((entry.recorded, done))
            if step.inspects():
                judged.append((entry.recorded, Judged(kind, entry.pieces, 0, 0, at_min)))
        elif entry.what == "back":
            looked = judged.pop()[1] if judged and judged[-1][1].at_min == at_min else None
            pieces = looked.pieces if looked else ended[entry.batch].pieces
            again = entry.pieces - entry.scrap
            both = max(entry.recorded, ended[entry.batch].recorded)
            judged.append((both, Judged(kind, pieces, again, entry.scrap, at_min)))
        elif entry.what == "dry" and step.wait:
            begins = ended[entry.batch]
            expected = in_weather(step.wait, weather[day_of(weather, begins.at)])
            after = (entry.recorded - begins.at) / MINUTE
            before = (entry.at - begins.at) / MINUTE if entry.recorded == entry.at else 0.0
            seen = WaitSeen(step.product, expected, before, after, at_min)
            waits.append((max(entry.recorded, begins.recorded), seen))
    for rows in (jobs, waits, judged):
        rows.sort(key=lambda row: row[0])
    return jobs, waits, judged
