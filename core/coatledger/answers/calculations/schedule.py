"""Calculations about time: a schedule proposed, two laid side by side, a film's drying clock."""

from typing import Annotated

from msgspec import Meta, Struct

from coatledger.answers.calculations.calculation import (
    AirC,
    AreaM2,
    Calculation,
    EfficiencyPct,
    Hours,
    RhPct,
    WetUm,
)
from coatledger.clocks.sheets import STAGE_FIELDS
from coatledger.computations import schedule, schedule_cost
from coatledger.computations.drying import STAGES, Kind, Sheet, Stage, spread
from coatledger.computations.drying_climate import HOUR_US, climate, course
from coatledger.computations.drying_clock import clock, one_coat
from coatledger.computations.schedule import Ask


class ComparisonAsked(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Two ways to finish the same batch, each asked as `schedule` asks."""

    first: Annotated[Ask, Meta(description="The first way: species=ash use=table look=filled.")]
    second: Annotated[Ask, Meta(description="The second way.")]
    area_m2: AreaM2
    efficiency_pct: EfficiencyPct = 65.0
    day_h: Annotated[float, Meta(description="Working hours a day.")] = 9.0


class ClockAsked(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A coat, its air, and the hours the data sheet gives at its own climate and film."""

    kind: Kind
    air_c: AirC
    rh_pct: RhPct
    wet_film_um: WetUm
    reference_wet_film_um: Annotated[
        float, Meta(description="Wet film of the sheet's hours, micrometres.")
    ]
    reference_air_c: AirC = 21.0
    reference_rh_pct: RhPct = 50.0
    touch_dry_h: Hours | None = None
    tack_free_h: Hours | None = None
    recoat_h: Hours | None = None
    stack_h: Hours | None = None
    wrap_h: Hours | None = None
    cure_h: Hours | None = None
    mfft_c: (
        Annotated[float, Meta(description="Lowest film-formation temperature, degrees Celsius.")]
        | None
    ) = None
    bare_wood: Annotated[bool, Meta(description="The first coat, on bare wood.")] = False
    extender_pct: Annotated[float, Meta(description="Extender added, percent.")] = 0.0


class HoursTo(Struct, frozen=True, kw_only=True):
    """Hours to one stage: one film in ten is sooner than `earliest_h`, half than `likely_h`, nine
    than `sure_h`. None: never in this air. `assumed`: the sheet is silent, common practice."""

    stage: Stage
    earliest_h: float | None
    likely_h: float | None
    sure_h: float | None
    assumed: bool


class ClockTold(Struct, frozen=True, kw_only=True):
    """A coat's hours in air that stays as it is. A film that cannot form will not become sound."""

    stages: tuple[HoursTo, ...]
    film_forms: bool


class ScheduleTold(Struct, frozen=True, kw_only=True):
    """The proposal, and `steps_to_record`: the same as the `steps` of a schedule_described line, to
    which the shop adds its own products."""

    steps: tuple[schedule.ProposedStep, ...]
    coats: int
    faces: tuple[str, ...]
    cautions: tuple[str, ...]
    steps_to_record: str


def _propose(asked: Ask) -> ScheduleTold:
    made = schedule.propose(asked)
    return ScheduleTold(
        steps=made.steps,
        coats=made.coats,
        faces=made.faces,
        cautions=made.cautions,
        steps_to_record="; ".join(map(_as_cell, made.steps)),
    )


def _as_cell(step: schedule.ProposedStep) -> str:
    said: dict[str, object] = {
        "act": step.act, "grit": step.grit_p, "role": step.role, "wet_film_um": step.wet_film_um,
        "by_hand": "yes" if step.by_hand else None,
    }  # fmt: skip
    return " ".join(f"{name}={_plain(value)}" for name, value in said.items() if value is not None)


def _plain(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def _compare(asked: ComparisonAsked) -> schedule_cost.Comparison:
    first, second = (
        schedule_cost.cost(schedule.propose(ask), asked.area_m2, asked.efficiency_pct, asked.day_h)
        for ask in (asked.first, asked.second)
    )
    return schedule_cost.compare(first, second)


def _clock(asked: ClockAsked) -> ClockTold:
    given = {stage: getattr(asked, field) for stage, field in STAGE_FIELDS.items()}
    sheet = Sheet(
        kind=asked.kind,
        reference_air_c=asked.reference_air_c,
        reference_rh_pct=asked.reference_rh_pct,
        reference_wet_film_um=asked.reference_wet_film_um,
        stage_hours={stage: hours for stage, hours in given.items() if hours is not None},
        mfft_c=asked.mfft_c,
    )
    coat = one_coat(
        0, asked.wet_film_um, bare_wood=asked.bare_wood, extender_pct=asked.extender_pct
    )
    run = course(sheet, climate([0], [asked.air_c], [asked.rh_pct]), 0)
    ran = clock(sheet, coat, run, spread())
    return ClockTold(
        stages=tuple(
            HoursTo(
                stage=stage,
                earliest_h=_hours(ran.stages[stage].p10_us),
                likely_h=_hours(ran.stages[stage].p50_us),
                sure_h=_hours(ran.stages[stage].p90_us),
                assumed=ran.stages[stage].assumed,
            )
            for stage in STAGES
        ),
        film_forms=ran.void_from_us is None,
    )


def _hours(us: int | None) -> float | None:
    return None if us is None else us / HOUR_US


ALL: tuple[Calculation, ...] = (
    Calculation(
        "drying-clock",
        "When a coat is touch-dry, sandable, packable and cured in this air.",
        ClockAsked,
        ClockTold,
        _clock,
        "the data sheet's hours, moved by wet-bulb depression, film (Kiil 2006) and Arrhenius",
        {
            "kind": "water_borne",
            "air_c": 18,
            "rh_pct": 75,
            "wet_film_um": 110,
            "reference_wet_film_um": 100,
            "recoat_h": 3,
            "cure_h": 168,
        },
    ),
    Calculation(
        "schedule",
        "A finishing schedule for a species, use and look, with the reason for each step.",
        Ask,
        ScheduleTold,
        _propose,
        "the data sheet; USDA Wood Handbook for pores and hardness; common practice elsewhere",
        {"species": "white_oak", "use": "table", "look": "filled"},
    ),
    Calculation(
        "schedule-comparison",
        "Two schedules for the same batch: hands-on hours, litres and days.",
        ComparisonAsked,
        schedule_cost.Comparison,
        _compare,
        "counting; minutes by act are common practice, no published source",
        {
            "first": {"species": "ash", "use": "table", "look": "filled"},
            "second": {"species": "ash", "use": "decor"},
            "area_m2": 2,
        },
    ),
)
