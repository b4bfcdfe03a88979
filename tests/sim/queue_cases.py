"""Queues with known values, as shops that never close, and the rows that print the values.

Chance is drawn here and written into the data, so that a model without any chance of its own must
give the queue's long run. A queue of these is served in order of arrival; the machines are not (the
smaller id goes first), which leaves throughput and mean times as they are.
"""

import csv
from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import numpy as np
import numpy.typing as npt
from shop_spec import NOBODY, PERSON, Batch, Opening, Operation, Person, Range, Shop

GOLDEN = Path(__file__).parents[1] / "golden" / "computations"
START = datetime(2026, 3, 2, tzinfo=UTC)
FAR = date(2100, 1, 1)
ALWAYS = tuple(Opening(day, time(0), time(0)) for day in range(1, 8))
# One unit of a queue's time, so that rounding to whole microseconds does not show.
UNIT_MIN = 60.0

Floats = npt.NDArray[np.float64]


def rows(name: str, kind: str) -> list[dict[str, str]]:
    """Return a printed table's rows of one kind; the file names their sources."""
    lines = (GOLDEN / name).read_text(encoding="utf-8").splitlines()
    table = csv.reader(line for line in lines if not line.startswith("#"))
    head = next(table)
    return [dict(zip(head, row, strict=True)) for row in table if row[0] == kind]


def _endless(batches: Sequence[Batch], people: int) -> Shop:
    return Shop(
        zone="UTC",
        now=START,
        openings=ALWAYS,
        people=tuple(Person(f"p{n}") for n in range(people)),
        batches=tuple(batches),
        pick_up_weekdays=tuple(range(1, 8)),
        cut_off=time(12),
    )


def served_in_turn(arrivals_min: Floats, services_min: Floats, people: int = 1) -> Shop:
    """Return the shop in which customer n arrives and is served for the minutes given."""
    return _endless(
        [
            Batch(
                id=f"c{number:07d}",
                order=f"c{number:07d}",
                pieces=1,
                ordered_at=START + timedelta(minutes=float(arrives)),
                due=FAR,
                operations=(Operation("serve", PERSON, float(serves), 0.0),),
                ready_in=Range(float(arrives), float(arrives), float(arrives)),
            )
            for number, (arrives, serves) in enumerate(zip(arrivals_min, services_min, strict=True))
        ],
        people,
    )


def poisson_min(rng: np.random.Generator, rate: float, count: int) -> Floats:
    """Return arrival times in minutes at so many a unit of time."""
    return np.cumsum(rng.exponential(UNIT_MIN / rate, count))


def waits_in_turn(arrivals_min: Floats, services_min: Floats) -> Floats:
    """Return what each customer waits before one server.

    *Reference:* Lindley, Proc. Camb. Phil. Soc. 48 (1952): w' = max(0, w + s - a).
    """
    steps = services_min[:-1] - np.diff(arrivals_min)
    walk = np.concatenate(([0.0], np.cumsum(steps)))
    waits: Floats = walk - np.minimum.accumulate(walk)
    return waits


def machines(runs_min: Floats, repairs_min: Floats) -> Shop:
    """Return the shop of one repairer: row k of the tables is what machine k runs and needs."""
    return _endless(
        [
            Batch(
                id=f"m{number}",
                order=f"m{number}",
                pieces=1,
                ordered_at=START,
                due=FAR,
                operations=tuple(
                    step
                    for runs, needs in zip(machine_runs, machine_needs, strict=True)
                    for step in (
                        Operation("run", NOBODY, float(runs), 0.0),
                        Operation("repair", PERSON, float(needs), 0.0),
                    )
                ),
            )
            for number, (machine_runs, machine_needs) in enumerate(
                zip(runs_min, repairs_min, strict=True)
            )
        ],
        1,
    )
