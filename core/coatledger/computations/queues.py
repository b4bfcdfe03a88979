"""Reference queues: how long work waits before a bench, from how busy the bench is.

Formulas to check a simulation by and to explain a waiting time with, not to promise by.
"""

import math

from msgspec import Struct

from coatledger.computations.ranges import require

_MOST = 1e9
_SMALLEST = 1e-9
_BUSIEST = 1.0 - 1e-9


class Queue(Struct, frozen=True):
    """A queue in its long run: jobs in it and waiting, time in it and waiting, chance of empty."""

    jobs: float
    jobs_waiting: float
    time_in: float
    time_waiting: float
    chance_empty: float


class WaitingRoom(Struct, frozen=True):
    """As `Queue`, for a fixed crowd that comes back; `throughput` is what is finished per time."""

    jobs: float
    jobs_waiting: float
    time_in: float
    time_waiting: float
    chance_empty: float
    throughput: float


def one_server(arrival_rate: float, service_rate: float) -> Queue:
    """Return the M/M/1 queue.

    *Reference:* Kleinrock, Queueing Systems I (1975), section 3.2: L = rho / (1 - rho). *Valid:*
    arrivals and services without memory, arrivals slower than service.
    """
    return several_servers(arrival_rate, service_rate, 1)


def erlang_c(arrival_rate: float, service_rate: float, servers: int) -> float:
    """Return the chance that a job has to wait at all.

    *Reference:* Erlang 1917; Kleinrock I, section 3.5, by the recursion of Erlang's B. *Valid:* as
    `several_servers`.
    """
    require("servers", servers, 1, 10_000, "Erlang's C")
    require("service_rate", service_rate, _SMALLEST, _MOST, "Erlang's C")
    require("arrival_rate", arrival_rate, _SMALLEST, _MOST, "Erlang's C")
    load = arrival_rate / service_rate
    busy = require("utilisation", load / servers, 0.0, _BUSIEST, "Erlang's C")
    blocked = 1.0
    for count in range(1, servers + 1):
        blocked = load * blocked / (count + load * blocked)
    return blocked / (1.0 - busy * (1.0 - blocked))


def several_servers(arrival_rate: float, service_rate: float, servers: int) -> Queue:
    """Return the M/M/c queue; the rates are of all arrivals and of one server.

    *Reference:* Kleinrock I, section 3.5. *Valid:* utilisation below 1.
    """
    waits = erlang_c(arrival_rate, service_rate, servers)
    load = arrival_rate / service_rate
    busy = load / servers
    jobs_waiting = waits * busy / (1.0 - busy)
    log_terms = [count * math.log(load) - math.lgamma(count + 1) for count in range(servers)]
    last = servers * math.log(load) - math.lgamma(servers + 1) - math.log1p(-busy)
    chance_empty = 1.0 / math.fsum(math.exp(term) for term in (*log_terms, last))
    return Queue(
        jobs=jobs_waiting + load,
        jobs_waiting=jobs_waiting,
        time_in=(jobs_waiting + load) / arrival_rate,
        time_waiting=jobs_waiting / arrival_rate,
        chance_empty=chance_empty,
    )


def any_service(arrival_rate: float, service_time: float, service_cv2: float) -> Queue:
    """Return the M/G/1 queue for a squared coefficient of variation of the service time.

    Steady service (cv2 = 0) is M/D/1 and waits half as long as M/M/1 (cv2 = 1).
    *Reference:* Pollaczek 1930, Khinchine 1932: Lq = rho^2 (1 + cv2) / (2 (1 - rho)). *Valid:*
    arrivals without memory, utilisation below 1.
    """
    require("arrival_rate", arrival_rate, _SMALLEST, _MOST, "Pollaczek & Khinchine")
    require("service_time", service_time, _SMALLEST, _MOST, "Pollaczek & Khinchine")
    require("service_cv2", service_cv2, 0.0, 1e6, "Pollaczek & Khinchine")
    busy = arrival_rate * service_time
    require("utilisation", busy, 0.0, _BUSIEST, "Pollaczek & Khinchine")
    jobs_waiting = busy * busy * (1.0 + service_cv2) / (2.0 * (1.0 - busy))
    time_waiting = jobs_waiting / arrival_rate
    return Queue(
        jobs=jobs_waiting + busy,
        jobs_waiting=jobs_waiting,
        time_in=time_waiting + service_time,
        time_waiting=time_waiting,
        chance_empty=1.0 - busy,
    )


def steady_service(arrival_rate: float, service_time: float) -> Queue:
    """Return the M/D/1 queue. *Reference, Valid:* as `any_service` with cv2 = 0."""
    return any_service(arrival_rate, service_time, 0.0)


def kingman_wait(
    utilisation: float, arrival_cv2: float, service_cv2: float, service_time: float
) -> float:
    """Return about how long a job waits at one server.

    *Reference:* Kingman 1961 in the form of Hopp and Spearman, Factory Physics: variability times
    utilisation times time. *Valid:* an approximation, good when busy; exact for M/G/1.

    >>> round(kingman_wait(0.8, 0.5, 0.5, 1.0), 9)
    2.0
    """
    require("utilisation", utilisation, 0.0, _BUSIEST, "Kingman 1961")
    require("arrival_cv2", arrival_cv2, 0.0, 1e6, "Kingman 1961")
    require("service_cv2", service_cv2, 0.0, 1e6, "Kingman 1961")
    require("service_time", service_time, _SMALLEST, _MOST, "Kingman 1961")
    variability = (arrival_cv2 + service_cv2) / 2.0
    return variability * utilisation / (1.0 - utilisation) * service_time


def machine_repair(failure_rate: float, repair_rate: float, machines: int) -> WaitingRoom:
    """Return one repairer among machines that fail: a closed crowd, as a rack of drying pieces is.

    *Reference:* Kleinrock I, section 3.8 (M/M/1//K): p_n ~ K! / (K - n)! (lambda / mu)^n. *Valid:*
    times without memory; the failure rate is of each machine that runs.
    """
    require("machines", machines, 1, 10_000, "M/M/1//K")
    require("failure_rate", failure_rate, _SMALLEST, _MOST, "M/M/1//K")
    require("repair_rate", repair_rate, _SMALLEST, _MOST, "M/M/1//K")
    log_load = math.log(failure_rate / repair_rate)
    logs = [n * log_load - math.lgamma(machines - n + 1) for n in range(machines + 1)]
    top = max(logs)
    weights = [math.exp(value - top) for value in logs]
    chances = [weight / math.fsum(weights) for weight in weights]
    jobs = math.fsum(n * chance for n, chance in enumerate(chances))
    throughput = repair_rate * (1.0 - chances[0])
    jobs_waiting = jobs - (1.0 - chances[0])
    return WaitingRoom(
        jobs=jobs,
        jobs_waiting=jobs_waiting,
        time_in=jobs / throughput,
        time_waiting=jobs_waiting / throughput,
        chance_empty=chances[0],
        throughput=throughput,
    )
