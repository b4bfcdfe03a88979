"""Which fact may follow which in the life of a piece: one literal table.

Stage -> act -> next stage. An act is the tag of its event, except that an inspection at the final
point is told apart by its result. BACK stands for the stage the piece's own coats and preparation
give. What is missing from a row cannot have happened there. Readiness is never a stage: time alone
changes nothing here. The diagram in DEVELOPERS.md is drawn from this table.
"""

from collections.abc import Mapping
from typing import Literal

from coatledger.events.base import Fact
from coatledger.events.catalogue import TAG_OF
from coatledger.events.judging import Inspected

Stage = Literal[
    "unborn", "expected", "bare", "prepared", "coated", "passed", "in_rework", "packed", "shipped",
    "scrapped",
]  # fmt: skip
BACK = "back"


def _stay(stage: str) -> Mapping[str, str]:
    """What may be noted of a piece that is here, without changing its stage."""
    return {
        "wood_moisture_read": stage,
        "condition_recorded": stage,
        "turned": stage,
        "moved": stage,
        "dryness_checked": stage,
        "inspected": stage,
        "failed_final": stage,
        "defect_found": stage,
        "photo_taken": stage,
        "gloss_measured": stage,
        "held": stage,
        "released": stage,
        "piece_allotted": stage,
        "finding_settled": stage,
    }


_LEAVING: Mapping[str, str] = {
    "packed": "packed",
    "shipped": "shipped",
    "handed_over": "shipped",
    "scrapped": "scrapped",
}


def _elsewhere(stage: str) -> Mapping[str, str]:
    """What may be noted of a piece nobody can work on."""
    return {
        "defect_found": stage,
        "photo_taken": stage,
        "condition_recorded": stage,
        "piece_allotted": stage,
        "finding_settled": stage,
    }


NEXT: Mapping[str, Mapping[str, str]] = {
    "unborn": {"piece_expected": "expected", "piece_started": "bare"},
    "expected": {
        "piece_expected": "expected",
        "piece_started": "bare",
        "piece_allotted": "expected",
        "finding_settled": "expected",
        "scrapped": "scrapped",
    },
    "bare": {
        **_stay("bare"),
        "sanded": "prepared",
        "grain_raised": "prepared",
        "blown_off": "prepared",
        "grain_filled": "prepared",
        "stained": "prepared",
        "coat_applied": "coated",
        "rubbed_out": "bare",
        "polished": "bare",
        "passed_final": "passed",
        "rework_started": "in_rework",
        **_LEAVING,
    },
    "prepared": {
        **_stay("prepared"),
        "sanded": "prepared",
        "grain_raised": "prepared",
        "blown_off": "prepared",
        "grain_filled": "prepared",
        "stained": "prepared",
        "coat_applied": "coated",
        "rubbed_out": "prepared",
        "polished": "prepared",
        "passed_final": "passed",
        "rework_started": "in_rework",
        **_LEAVING,
    },
    "coated": {
        **_stay("coated"),
        "sanded": "coated",
        "grain_raised": "coated",
        "blown_off": "coated",
        "grain_filled": "coated",
        "stained": "coated",
        "coat_applied": "coated",
        "rubbed_out": "coated",
        "polished": "coated",
        "passed_final": "passed",
        "rework_started": "in_rework",
        **_LEAVING,
    },
    "passed": {
        **_stay("passed"),
        "failed_final": BACK,
        "sanded": BACK,
        "grain_raised": BACK,
        "grain_filled": BACK,
        "stained": BACK,
        "coat_applied": BACK,
        "blown_off": "passed",
        "rubbed_out": "passed",
        "polished": "passed",
        "passed_final": "passed",
        "rework_started": "in_rework",
        **_LEAVING,
    },
    "in_rework": {
        **_stay("in_rework"),
        "sanded": "in_rework",
        "grain_raised": "in_rework",
        "blown_off": "in_rework",
        "grain_filled": "in_rework",
        "stained": "in_rework",
        "coat_applied": "in_rework",
        "rubbed_out": "in_rework",
        "polished": "in_rework",
        "passed_final": "in_rework",
        "rework_started": "in_rework",
        "rework_finished": BACK,
        **_LEAVING,
    },
    "packed": {
        **_elsewhere("packed"),
        "moved": "packed",
        "held": "packed",
        "released": "packed",
        "unpacked": BACK,
        "shipped": "shipped",
        "handed_over": "shipped",
        "scrapped": "scrapped",
    },
    "shipped": {
        **_elsewhere("shipped"),
        "handed_over": "shipped",
        "damage_reported": "shipped",
        "returned": BACK,
    },
    "scrapped": _elsewhere("scrapped"),
}

STAGES: tuple[str, ...] = tuple(NEXT)
OPEN_STAGES: tuple[str, ...] = (
    "expected",
    "bare",
    "prepared",
    "coated",
    "passed",
    "in_rework",
    "packed",
)
# In the shop and not yet packed or gone: what work in process counts.
IN_PROCESS: tuple[str, ...] = ("bare", "prepared", "coated", "passed", "in_rework", "packed")


def act_of(fact: Fact) -> str:
    """Name the act a fact is in the table's words."""
    if isinstance(fact, Inspected) and fact.point == "final":
        return "passed_final" if fact.passed else "failed_final"
    return TAG_OF[type(fact)]


def acts_possible(stage: str) -> tuple[str, ...]:
    """List the acts the table allows at a stage."""
    return tuple(NEXT[stage])
