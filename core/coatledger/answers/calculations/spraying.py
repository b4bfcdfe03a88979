"""Calculations about spraying: a trial setting of the gun, and the air of the spraying place."""

from collections.abc import Mapping
from typing import Annotated, Literal

from msgspec import Meta, Struct

from coatledger.answers.calculations.calculation import AirC, Calculation, EfficiencyPct
from coatledger.computations import gun, ventilation
from coatledger.computations.practice import PRACTICE


class TrialAsked(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What was set and measured on a trial, and perhaps the batch it is for."""

    fan_width_mm: Annotated[float, Meta(description="Fan on paper at that distance, millimetres.")]
    distance_mm: Annotated[float, Meta(description="Gun to piece, millimetres.")]
    overlap_pct: Annotated[float, Meta(description="Overlap of strokes, percent.")]
    speed_mm_s: Annotated[float, Meta(description="Speed of the gun, millimetres a second.")]
    flow_l_min: Annotated[float, Meta(description="Flow of finish, litres a minute.")]
    efficiency_pct: EfficiencyPct = 65.0
    passes: Annotated[int, Meta(description="Passes over the same place.", ge=1, le=20)] = 1
    target_wet_film_um: (
        Annotated[float, Meta(description="Wet film wanted, micrometres.")] | None
    ) = None
    most_wet_film_um: (
        Annotated[float, Meta(description="The sheet's most wet film of a coat, micrometres.")]
        | None
    ) = None
    area_m2: Annotated[float, Meta(description="Area of the batch, square metres.")] | None = None
    stroke_mm: Annotated[float, Meta(description="Length of a stroke, millimetres.")] = 600.0


class TrialTold(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """The film the setting lays and how even strokes of other overlaps would lay it, the passes to
    a wanted film, and what a batch takes."""

    lay: gun.Lay
    overlaps: tuple[gun.Overlap, ...] = ()
    passes: gun.Passes | None = None
    batch: gun.SprayedBatch | None = None


class BoothAsked(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A spraying place: its open face, what evaporates there, and the airflow measured."""

    open_face_m2: Annotated[float, Meta(description="Open face of the booth, square metres.")]
    airflow_m3_s: Annotated[
        float, Meta(description="Airflow as measured, cubic metres a second; not the fan's plate.")
    ]
    solvent_l_per_h: Annotated[
        float, Meta(description="Solvent that evaporates an hour, litres, without water.")
    ]
    solvent_density_g_per_l: Annotated[float, Meta(description="Its density, grams a litre.")]
    molar_mass_g: Annotated[float, Meta(description="Its molar mass, grams a mole.")]
    lel_pct: Annotated[
        float, Meta(description="Its lower explosive limit by the safety data sheet, percent.")
    ]
    limit_ppm: Annotated[float, Meta(description="Its exposure limit, parts per million.")]
    operation: Literal["air_operated", "electrostatic_unmanned", "dry_booth", "electrostatic"] = (
        "air_operated"
    )
    crossdraft: Literal["negligible", "to_50_fpm", "to_100_fpm", "any"] = "to_50_fpm"
    booth: Literal["large", "small", "any"] = "large"
    air_c: AirC = 21.0


def _trial(asked: TrialAsked) -> TrialTold:
    trial = gun.Trial(
        fan_width_mm=asked.fan_width_mm,
        distance_mm=asked.distance_mm,
        overlap_pct=asked.overlap_pct,
        passes=asked.passes,
        speed_mm_s=asked.speed_mm_s,
        flow_l_min=asked.flow_l_min,
        efficiency_pct=asked.efficiency_pct,
    )
    lay = gun.lay(trial)
    target = asked.target_wet_film_um
    return TrialTold(
        lay=lay,
        overlaps=gun.overlaps(lay.wet_film_um, sharpness=trial.sharpness),
        passes=None
        if target is None
        else gun.passes_for(target, lay.per_pass_um, asked.most_wet_film_um),
        batch=None if asked.area_m2 is None else gun.batch(trial, asked.area_m2, asked.stroke_mm),
    )


class ExposureAsked(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What people breathe, by substance, each against its own limit in the same unit."""

    levels: Annotated[
        Mapping[str, float],
        Meta(min_length=1, max_length=20, description="Eight-hour means: toluene=40 acetone=200."),
    ]
    limits: Annotated[
        Mapping[str, float],
        Meta(min_length=1, max_length=20, description="Limits by the safety data sheets."),
    ]


class ExposureTold(Struct, frozen=True, kw_only=True):
    """Shares of the limits added up: above 1 the mixture is above its limit."""

    index: float
    above_limit: bool
    cautions: tuple[str, ...]


def _exposure(asked: ExposureAsked) -> ExposureTold:
    unknown = sorted(set(asked.levels) ^ set(asked.limits))
    if unknown:
        raise ValueError(f"give a level and a limit of each: {', '.join(unknown)}")
    pairs = [(level, asked.limits[name]) for name, level in asked.levels.items()]
    index = ventilation.mixture_index(pairs)
    said = ("More air comes before a mask.",) if index > 1 else ()
    return ExposureTold(index=index, above_limit=index > 1, cautions=(*said, ventilation.DEFER))


def _booth(asked: BoothAsked) -> ventilation.AirAnswer:
    line = ventilation.booth_velocity(asked.operation, asked.crossdraft, asked.booth)
    vapour = ventilation.vapour_m3_per_l(
        asked.solvent_density_g_per_l, asked.molar_mass_g, asked.air_c
    )
    return ventilation.air_answer(
        ventilation.Spraying(
            solvent_l_per_h=asked.solvent_l_per_h,
            vapour_m3_per_l=vapour,
            lel_pct=asked.lel_pct,
            limit_ppm=asked.limit_ppm,
            airflow_m3_s=asked.airflow_m3_s,
            booth_airflow_m3_s=ventilation.booth_airflow_m3_s(asked.open_face_m2, line.design_m_s),
        )
    )


ALL: tuple[Calculation, ...] = (
    Calculation(
        "gun-trial",
        "The film a trial setting lays and how even, passes to a film, time and litres of a batch.",
        TrialAsked,
        TrialTold,
        _trial,
        f"conservation of volume; fan profile by Balkan and Arikan (1999), from memory; {PRACTICE}"
        " for fan, distance and overlap",
        {
            "fan_width_mm": 200,
            "distance_mm": 180,
            "overlap_pct": 50,
            "speed_mm_s": 500,
            "flow_l_min": 0.3,
            "target_wet_film_um": 100,
            "area_m2": 2,
        },
    ),
    Calculation(
        "exposure",
        "What several vapours together are to the breather. Never a permission.",
        ExposureAsked,
        ExposureTold,
        _exposure,
        "29 CFR 1910.1000(d)(2): sum of level over limit, for agents of like effect",
        {"levels": {"toluene": 40, "acetone": 200}, "limits": {"toluene": 200, "acetone": 1000}},
    ),
    Calculation(
        "booth-air",
        "Airflow a spraying place needs, exposure, fire. Never a permission.",
        BoothAsked,
        ventilation.AirAnswer,
        _booth,
        "29 CFR 1910.94(c), 1910.107(b)(5)(i), 1910.1000(d); the safety data sheet, local codes and"
        " licensed practice decide",
        {
            "open_face_m2": 2,
            "airflow_m3_s": 1.1,
            "solvent_l_per_h": 1,
            "solvent_density_g_per_l": 866,
            "molar_mass_g": 92.1,
            "lel_pct": 1.2,
            "limit_ppm": 200,
        },
    ),
)
