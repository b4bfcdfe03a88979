"""The reference model as a queue, against printed long runs; the tables name their sources.

Two steps each: the model serves each customer as the recursion of the same draws does, and a long
recursion comes to the printed mean. So the model's own runs may be short and still be exact.
"""

import math

import numpy as np
import pytest
from queue_cases import (
    UNIT_MIN,
    Floats,
    machines,
    poisson_min,
    rows,
    served_in_turn,
    waits_in_turn,
)
from shop_spec import Shop
from simpy_chance import Chance
from simpy_shop import OpenShop, Seen, simulate
from wall_clock import MINUTE, WallClock

SHORT, LONG = 3_000, 2_000_000
# A relative error of a long run: some 4 standard errors at the busiest row (0.8), whose waits
# forget each other only after about (1 - 0.8)^-2 customers.
WITHIN = 0.03


def served(arrivals: Floats, services: Floats, people: int = 1) -> Floats:
    """Return when the model has served each customer, in minutes."""
    ready: Floats = simulate(served_in_turn(arrivals, services, people), 1, 1).ready_min[0]
    return ready


def services_min(rng: np.random.Generator, mean: float, cv2: float, count: int) -> Floats:
    """Return service times: steady, without memory, or in two equal stages."""
    if cv2 == 0.0:
        return np.full(count, mean * UNIT_MIN)
    return rng.gamma(1.0 / cv2, mean * cv2 * UNIT_MIN, count)


CASES = (
    *(
        (float(r["lam"]), 1.0 / float(r["mu"]), 1.0, float(r["Wq"]))
        for r in rows("queues.csv", "M/M/1")
    ),
    *(
        (float(r["rho"]) / float(r["tau"]), float(r["tau"]), float(r["cs2"]), float(r["Wq"]))
        for r in rows("queues_general.csv", "Pollaczek-Khinchine")
        if r["note"] in ("M/D/1", "M/M/1", "Erlang-2 service")
    ),
)


@pytest.mark.parametrize(("arrival_rate", "service", "cv2", "wait"), CASES)
def test_one_person_makes_customers_wait_as_printed(
    arrival_rate: float, service: float, cv2: float, wait: float
) -> None:
    rng = np.random.default_rng(20260302)
    arrivals = poisson_min(rng, arrival_rate, LONG)
    services = services_min(rng, service, cv2, LONG)
    waits = waits_in_turn(arrivals, services)
    assert waits.mean() / UNIT_MIN == pytest.approx(wait, rel=WITHIN)
    ready = served(arrivals[:SHORT], services[:SHORT])
    expected = arrivals[:SHORT] + waits[:SHORT] + services[:SHORT]
    assert np.abs(ready - expected).max() < SHORT * 1.0 / MINUTE  # each step rounds once


@pytest.mark.parametrize("row", rows("queues.csv", "M/M/c"), ids=lambda r: f"{r['lam']} {r['c']}")
def test_several_people_make_customers_wait_as_printed(row: dict[str, str]) -> None:
    rng = np.random.default_rng(7)
    count, people = 300_000, int(row["c"])
    arrivals = poisson_min(rng, float(row["lam"]), count)
    services = services_min(rng, 1.0 / float(row["mu"]), 1.0, count)
    ready = np.empty(count)
    free = np.zeros(people)
    for n in range(count):  # the first person to be free serves who came first
        first = int(free.argmin())
        free[first] = ready[n] = max(float(free[first]), float(arrivals[n])) + float(services[n])
    waits = (ready - arrivals - services) / UNIT_MIN
    error = waits.std() / math.sqrt(
        count * (1 - float(row["lam"]) / people / float(row["mu"])) ** 2
    )
    assert waits.mean() == pytest.approx(float(row["Wq"]), abs=4.0 * error)
    found = served(arrivals[:SHORT], services[:SHORT], people)
    assert np.abs(found - ready[:SHORT]).max() < SHORT * 1.0 / MINUTE


@pytest.mark.parametrize(
    "row", rows("queues.csv", "machine repair M/M/1//K"), ids=lambda r: f"{r['lam']} {r['K']}"
)
def test_one_repairer_keeps_as_many_machines_running_as_printed(row: dict[str, str]) -> None:
    rng = np.random.default_rng(11)
    count, cycles = int(row["K"]), 4_000
    runs = rng.exponential(UNIT_MIN / float(row["lam"]), (count, cycles))
    repairs = rng.exponential(UNIT_MIN / float(row["mu"]), (count, cycles))
    # Machines with a smaller id go first and so come to their last cycle sooner; only what happens
    # before the first of them stops belongs to the printed model.
    seen = repaired(machines(runs, repairs))
    ends = min(max(at for at, machine in seen if machine == m) for m in range(count))
    done = sum(at <= ends for at, _ in seen)
    throughput = done / (ends / UNIT_MIN)
    # A count of independent cycles is off by one over its root; four of those.
    assert throughput == pytest.approx(float(row["extra"]), rel=4.0 / math.sqrt(done))


def repaired(shop: Shop) -> list[tuple[float, int]]:
    """Return when each repair ended, in minutes, and of which machine."""
    seen: list[tuple[float, int]] = []

    def watch(event: Seen) -> None:
        if event.what == "ended" and event.person:
            seen.append((event.at / MINUTE, int(event.run.batch.id[1:])))

    OpenShop(shop, Chance(shop, np.random.default_rng(0)), WallClock(shop), watch).run()
    return seen
