"""The figures of ISO 22400-2 that a finishing shop can fill in, and the rolled yield it is not in.

Each takes the standard's own quantities and refuses those that no shop can have had. The shop's own
"shipped per week" is another number under another name.
"""

import math
from collections.abc import Sequence

from coatledger.computations.ranges import require

_SOURCE = "ISO 22400-2"
_MOST = 1e9
_SMALLEST_H = 1e-6


def throughput_rate_per_h(produced: int, order_execution_h: float) -> float:
    """Return pieces per hour of actual order execution, waiting and drying included.

    *Reference:* ISO 22400-2, throughput rate = PQ / AOET. *Valid:* time above 0.

    >>> throughput_rate_per_h(120, 16)
    7.5
    """
    require("produced", produced, 0, _MOST, _SOURCE)
    require("order_execution_h", order_execution_h, _SMALLEST_H, _MOST, _SOURCE)
    return produced / order_execution_h


def quality_ratio(good: int, produced: int) -> float:
    """Return the good share of what was produced.

    *Reference:* ISO 22400-2, quality ratio = GQ / PQ. *Valid:* good <= produced.
    """
    return _share("good", good, "produced", produced)


def first_pass_yield(good_at_first: int, inspected: int) -> float:
    """Return the share that passed its first inspection with no rework before it.

    *Reference:* ISO 22400-2, first pass yield = GP / IP. *Valid:* each piece counted once, by its
    own identity.
    """
    return _share("good_at_first", good_at_first, "inspected", inspected)


def rework_ratio(reworked: int, produced: int) -> float:
    """Return the share that missed its requirements and can meet them by further work.

    *Reference:* ISO 22400-2, rework ratio = RQ / PQ. *Valid:* reworked <= produced, each once.
    """
    return _share("reworked", reworked, "produced", produced)


def scrap_ratio(scrapped: int, produced: int) -> float:
    """Return the share that was scrapped.

    *Reference:* ISO 22400-2, scrap ratio = SQ / PQ. *Valid:* scrapped <= produced.
    """
    return _share("scrapped", scrapped, "produced", produced)


def actual_to_planned_scrap_ratio(scrapped: int, planned: int) -> float:
    """Return scrap against what was planned for; above 1 more was lost than expected.

    *Reference:* ISO 22400-2, SQ / PSQ. *Valid:* something planned.
    """
    require("planned", planned, 1, _MOST, _SOURCE)
    require("scrapped", scrapped, 0, _MOST, _SOURCE)
    return scrapped / planned


def production_loss_ratio(lost: float, consumed: float) -> float:
    """Return the lost share of a material, such as finish mixed and thrown away.

    *Reference:* ISO 22400-2, production loss ratio = PL / CM, in one unit. *Valid:* lost <=
    consumed.
    """
    return _share("lost", lost, "consumed", consumed)


def allocation_ratio(unit_busy_h: Sequence[float], order_execution_h: float) -> float:
    """Return the share of an order's time in which somebody worked on it; the rest it waited.

    *Reference:* ISO 22400-2, allocation ratio = sum of AUBT / AOET. *Valid:* may exceed 1 where
    operations overlap.
    """
    for busy_h in unit_busy_h:
        require("unit_busy_h", busy_h, 0.0, _MOST, _SOURCE)
    require("order_execution_h", order_execution_h, _SMALLEST_H, _MOST, _SOURCE)
    return math.fsum(unit_busy_h) / order_execution_h


def setup_rate(setup_h: float, processing_h: float) -> float:
    """Return set-up against processing time, such as mixing and flushing against spraying.

    *Reference:* ISO 22400-2, setup rate = ASUT / AUPT, where AUPT contains ASUT. *Valid:* setup_h
    <= processing_h.
    """
    return _share("setup_h", setup_h, "processing_h", processing_h)


def worker_efficiency(work_h: float, attendance_h: float) -> float:
    """Return the share of attendance spent on orders.

    *Reference:* ISO 22400-2, worker efficiency = APWT / APAT. *Valid:* work_h <= attendance_h.
    """
    return _share("work_h", work_h, "attendance_h", attendance_h)


def rolled_throughput_yield(first_pass_yields: Sequence[float]) -> float:
    """Return the chance that a piece passes every step at first.

    *Reference:* product of the steps' first pass yields; common practice, not in ISO 22400-2.
    *Valid:* steps that fail independently.

    >>> round(rolled_throughput_yield([0.95, 0.9, 0.98]), 9)
    0.8379
    """
    require("number of steps", len(first_pass_yields), 1, 1_000, "a rolled yield")
    for step_yield in first_pass_yields:
        require("first_pass_yield", step_yield, 0.0, 1.0, "a rolled yield")
    return math.prod(first_pass_yields)


def _share(part_name: str, part: float, whole_name: str, whole: float) -> float:
    require(whole_name, whole, _SMALLEST_H, _MOST, _SOURCE)
    require(part_name, part, 0.0, whole, _SOURCE)
    return part / whole
