"""Queues against library values, one another, and Little's law."""

import csv
from collections.abc import Callable
from pathlib import Path

import pytest
from coatledger.computations import queues
from coatledger.computations.ranges import OutOfRange
from hypothesis import given
from hypothesis import strategies as st

GOLDEN = Path(__file__).parents[2] / "golden" / "computations"
# The tables print nine decimals.
PRINTED = 6e-10


def rows(name: str) -> list[dict[str, str]]:
    lines = (GOLDEN / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@pytest.mark.parametrize("row", rows("queues.csv"), ids=lambda r: f"{r['model']} {r['lam']}")
def test_queues_without_memory_are_the_printed_ones(row: dict[str, str]) -> None:
    arrivals, services = float(row["lam"]), float(row["mu"])
    queue: queues.Queue | queues.WaitingRoom
    if row["model"] == "M/M/1":
        queue = queues.one_server(arrivals, services)
    elif row["model"] == "M/M/c":
        servers = int(row["c"])
        queue = queues.several_servers(arrivals, services, servers)
        waits = queues.erlang_c(arrivals, services, servers)
        assert waits == pytest.approx(float(row["extra"]), abs=PRINTED)
    else:
        queue = queues.machine_repair(arrivals, services, int(row["K"]))
        assert queue.throughput == pytest.approx(float(row["extra"]), abs=PRINTED)
    assert queue.jobs == pytest.approx(float(row["L"]), abs=PRINTED)
    assert queue.jobs_waiting == pytest.approx(float(row["Lq"]), abs=PRINTED)
    assert queue.time_in == pytest.approx(float(row["W"]), abs=PRINTED)
    assert queue.time_waiting == pytest.approx(float(row["Wq"]), abs=PRINTED)
    assert queue.chance_empty == pytest.approx(float(row["P0"]), abs=PRINTED)


@pytest.mark.parametrize(
    "row", rows("queues_general.csv"), ids=lambda r: f"{r['kind']} {r['rho']} {r['cs2']}"
)
def test_queues_of_any_service_are_the_printed_ones(row: dict[str, str]) -> None:
    busy, time = float(row["rho"]), float(row["tau"])
    arrival_cv2, service_cv2 = float(row["ca2"]), float(row["cs2"])
    # One row prints a third as 0.33333333.
    within = 3e-8 if "uniform" in row["note"] else PRINTED
    wait = queues.kingman_wait(busy, arrival_cv2, service_cv2, time)
    assert wait == pytest.approx(float(row["Wq"]), abs=within)
    assert wait * busy / time == pytest.approx(float(row["Lq"]), abs=within)
    if row["kind"] == "Pollaczek-Khinchine":
        queue = queues.any_service(busy / time, time, service_cv2)
        assert queue.time_waiting == pytest.approx(float(row["Wq"]), abs=within)
        assert queue.jobs == pytest.approx(float(row["L"]), abs=within)


@given(st.floats(0.01, 0.97), st.floats(0.1, 10), st.integers(1, 40))
def test_littles_law_holds_in_every_queue(busy: float, service_rate: float, servers: int) -> None:
    arrivals = busy * service_rate * servers
    shared = queues.several_servers(arrivals, service_rate, servers)
    assert shared.jobs == pytest.approx(arrivals * shared.time_in)
    assert shared.jobs_waiting == pytest.approx(arrivals * shared.time_waiting)
    assert shared.time_in == pytest.approx(shared.time_waiting + 1 / service_rate)
    steady = queues.steady_service(busy * service_rate, 1 / service_rate)
    assert steady.jobs == pytest.approx(busy * service_rate * steady.time_in)
    crowd = queues.machine_repair(arrivals, service_rate, servers)
    assert crowd.jobs == pytest.approx(crowd.throughput * crowd.time_in)
    # Of the crowd, those not at the repairer fail at the given rate.
    assert crowd.throughput == pytest.approx(arrivals * (servers - crowd.jobs), rel=1e-6)


@given(st.floats(0.01, 0.97))
def test_steady_service_waits_half_as_long(busy: float) -> None:
    steady, random = queues.steady_service(busy, 1.0), queues.one_server(busy, 1.0)
    assert steady.time_waiting == pytest.approx(random.time_waiting / 2)
    assert queues.any_service(busy, 1.0, 1.0).jobs == pytest.approx(random.jobs)


@given(st.floats(0.05, 0.9), st.integers(1, 20))
def test_sharing_one_line_never_waits_longer(busy: float, servers: int) -> None:
    shared = queues.several_servers(busy * servers, 1.0, servers)
    assert shared.time_waiting <= queues.one_server(busy, 1.0).time_waiting + 1e-12


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: queues.one_server(2.0, 2.0), "utilisation"),
        (lambda: queues.several_servers(1.0, 1.0, 0), "servers"),
        (lambda: queues.any_service(1.0, 1.2, 1.0), "utilisation"),
        (lambda: queues.any_service(1.0, 0.5, -1.0), "service_cv2"),
        (lambda: queues.kingman_wait(1.0, 1.0, 1.0, 1.0), "utilisation"),
        (lambda: queues.machine_repair(1.0, 1.0, 0), "machines"),
        (lambda: queues.machine_repair(0.0, 1.0, 2), "failure_rate"),
    ],
)
def test_queues_that_never_settle_are_refused(call: Callable[[], object], named: str) -> None:
    with pytest.raises(OutOfRange, match=named):
        call()
