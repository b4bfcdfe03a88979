"""A trial setting of the gun: the film it lays, how even its strokes are, what the batch will take.

The fan is modelled across its width only; distance and pressure enter by the fan measured on paper
and the film measured with the gauge, which always win over the arithmetic.
"""

import math
from collections.abc import Mapping, Sequence
from types import MappingProxyType

import numpy as np
from msgspec import Struct

from coatledger.computations.practice import DISTANCE_MM, FAN_WIDTH_MM, OVERLAP_PCT, PRACTICE
from coatledger.computations.ranges import require
from coatledger.units import kpa_from_psi

GUN = "a hand-held gun"
BETA = "beta profile of a spray fan (Balkan and Arikan 1999, from memory)"
PARABOLIC = 2.0  # a well-set fan lies between flat (1) and a narrow heap (4): common practice
GRID = 2001  # places across one step; ripple is good to about 0.1 of a point


class PressureLimit(Struct, frozen=True):
    """A limit of air or finish pressure, with whose it is."""

    low_kpa: float
    high_kpa: float
    source: str


PRESSURE_LIMITS: Mapping[str, PressureLimit] = MappingProxyType(
    {
        "hvlp_cap": PressureLimit(
            kpa_from_psi(0.1),
            kpa_from_psi(10),
            "40 CFR 63.801: above 10 psi at the cap a gun is conventional; 0.1 psig from memory",
        ),
        "blow_off": PressureLimit(
            0, kpa_from_psi(30), "29 CFR 1910.242(b): cleaning air below 30 psi, chips guarded"
        ),
    }
)


class Trial(Struct, frozen=True):
    """What was set and measured on the trial: SI, the fan as seen on paper at that distance."""

    fan_width_mm: float
    distance_mm: float
    overlap_pct: float
    passes: int
    speed_mm_s: float
    flow_l_min: float
    efficiency_pct: float
    sharpness: float = PARABOLIC


class Lay(Struct, frozen=True):
    """What the trial lays down: mean film, its thinnest and thickest line, and what to mind."""

    step_mm: float
    per_pass_um: float
    wet_film_um: float
    ripple_pct: float
    thinnest_um: float
    thickest_um: float
    notes: tuple[str, ...]


class Ripple(Struct, frozen=True):
    """Superposed strokes: film at its thinnest and thickest over its mean, and their spread."""

    thinnest: float
    thickest: float
    ripple_pct: float


class Passes(Struct, frozen=True):
    """Passes to reach a film; `coats` is more than one where the sheet's most a coat forces it."""

    passes: int
    wet_film_um: float
    coats: int


class SprayedBatch(Struct, frozen=True):
    """What a batch takes: trigger time, time with handling, and litres through the gun."""

    trigger_min: float
    minutes: float
    litres: float


def step_mm(fan_width_mm: float, overlap_pct: float) -> float:
    """Distance between strokes: the fan less the part the next stroke covers again."""
    require("fan_width_mm", fan_width_mm, 10, 600, GUN)
    require("overlap_pct", overlap_pct, 0, 90, GUN)
    return fan_width_mm * (1 - overlap_pct / 100)


def per_pass_um(
    flow_l_min: float, speed_mm_s: float, step_mm: float, efficiency_pct: float
) -> float:
    """Mean wet film of one pass: what stays, over the area swept in the same time.

    *Reference:* conservation of volume, Q TE/(v s). *Valid:* strokes over the piece's inside; an
    edge gets less.
    """
    require("flow_l_min", flow_l_min, 0.005, 3, GUN)
    require("speed_mm_s", speed_mm_s, 20, 3000, GUN)
    require("step_mm", step_mm, 1, 600, GUN)
    require("efficiency_pct", efficiency_pct, 1, 100, "transfer efficiency")
    litre_mm3 = 1e6
    swept_mm2_min = speed_mm_s * 60 * step_mm
    return flow_l_min * litre_mm3 * efficiency_pct / 100 / swept_mm2_min * 1000


def ripple(overlap_pct: float, sharpness: float = PARABOLIC) -> Ripple:
    """Evenness of parallel strokes at an overlap, by superposing the fan's profile.

    *Reference:* profile (1 - u²)^(b-1) across the fan, u from -1 to 1 (Balkan and Arikan 1999, from
    memory): b = 1 is flat, 2 a parabola. *Valid:* overlap 0 to 90 %, b from 1 to 8.
    """
    require("overlap_pct", overlap_pct, 0, 90, GUN)
    require("sharpness", sharpness, 1, 8, BETA)
    step = 2 * (1 - overlap_pct / 100)  # in half fans
    reach = math.ceil(2 / step) + 1
    place = (np.arange(GRID) + 0.5) / GRID * step
    if sharpness > 1:  # the thinnest line may be a sharp valley right at a fan's edge
        place = np.append(place, [1 % step, -1 % step])
    film = np.zeros(place.size)
    for stroke in range(-reach, reach + 1):
        inside = np.clip(1 - (place - stroke * step) ** 2, 0, None)
        film += np.where(inside > 0, inside ** (sharpness - 1), 0)
    # The profile's area over the step: the integral of (1 - u²)^(b-1) from -1 to 1 is a beta value.
    mean = math.sqrt(math.pi) * math.gamma(sharpness) / math.gamma(sharpness + 0.5) / step
    thin, thick = float(film.min()) / mean, float(film.max()) / mean
    return Ripple(thin, thick, (thick - thin) * 100)


class Overlap(Struct, frozen=True):
    """One overlap: how uneven strokes come out, and the film at its thinnest and thickest line."""

    overlap_pct: float
    ripple_pct: float
    thinnest_um: float
    thickest_um: float


def overlaps(
    wet_film_um: float, overlap_pcts: Sequence[float] = (40, 50, 60), sharpness: float = PARABOLIC
) -> tuple[Overlap, ...]:
    """Lay several overlaps side by side at one mean film. *Reference:* `ripple`."""
    require("wet_film_um", wet_film_um, 0.5, 2000, GUN)
    found = [(pct, ripple(pct, sharpness)) for pct in overlap_pcts]
    return tuple(
        Overlap(pct, even.ripple_pct, wet_film_um * even.thinnest, wet_film_um * even.thickest)
        for pct, even in found
    )


def lay(trial: Trial) -> Lay:
    """Film, evenness and notes of a trial setting.

    *Reference:* `per_pass_um` and `ripple`; notes on fan, distance, overlap are common practice.
    """
    require("distance_mm", trial.distance_mm, 20, 600, GUN)
    require("passes", trial.passes, 1, 20, GUN)
    step = step_mm(trial.fan_width_mm, trial.overlap_pct)
    one = per_pass_um(trial.flow_l_min, trial.speed_mm_s, step, trial.efficiency_pct)
    even = ripple(trial.overlap_pct, trial.sharpness)
    film = one * trial.passes
    notes = _notes(trial)
    return Lay(step, one, film, even.ripple_pct, film * even.thinnest, film * even.thickest, notes)


def efficiency_seen_pct(measured_um: float, trial: Trial) -> float:
    """Transfer efficiency that explains a gauge reading of the trial: `lay` turned round."""
    require("measured_um", measured_um, 1, 2000, "a wet film gauge, ASTM D4414")
    step = step_mm(trial.fan_width_mm, trial.overlap_pct)
    whole = per_pass_um(trial.flow_l_min, trial.speed_mm_s, step, 100) * trial.passes
    return require(
        "efficiency seen", measured_um / whole * 100, 1, 100, "reading, flow and speed that agree"
    )


def passes_for(target_um: float, one_pass_um: float, most_um: float | None = None) -> Passes:
    """Whole passes that reach a target film, split into coats where the sheet limits one coat.

    *Reference:* counting; `most_um` is the data sheet's greatest wet film of one coat.
    """
    require("target_um", target_um, 1, 2000, "a wet film of one piece")
    require("one_pass_um", one_pass_um, 0.5, 2000, "one pass of a hand-held gun")
    passes = math.ceil(round(target_um / one_pass_um, 9))
    if most_um is None:
        return Passes(passes, passes * one_pass_um, 1)
    require("one_pass_um", one_pass_um, 0.5, most_um, "the data sheet's most wet film of a coat")
    in_one_coat = math.floor(round(most_um / one_pass_um, 9))
    return Passes(passes, passes * one_pass_um, math.ceil(passes / in_one_coat))


def batch(
    trial: Trial,
    area_m2: float,
    stroke_mm: float,
    overrun_mm: float = 100,
    trigger_share_pct: float = 50,
) -> SprayedBatch:
    """Time and litres of a batch at a trial's setting.

    *Reference:* length of stroke over speed; a stroke runs over its piece by `overrun_mm` in all,
    and the trigger is held about half the time (both common practice, no published source).
    """
    require("area_m2", area_m2, 0, 1000, "one batch")
    require("stroke_mm", stroke_mm, 20, 5000, "one stroke over a piece")
    require("overrun_mm", overrun_mm, 0, 1000, GUN)
    require("trigger_share_pct", trigger_share_pct, 5, 100, GUN)
    require("speed_mm_s", trial.speed_mm_s, 20, 3000, GUN)
    require("flow_l_min", trial.flow_l_min, 0.005, 3, GUN)
    require("passes", trial.passes, 1, 20, GUN)
    length_mm = area_m2 * 1e6 / step_mm(trial.fan_width_mm, trial.overlap_pct) * trial.passes
    trigger_min = length_mm * (1 + overrun_mm / stroke_mm) / trial.speed_mm_s / 60
    minutes = trigger_min * 100 / trigger_share_pct
    return SprayedBatch(trigger_min, minutes, trigger_min * trial.flow_l_min)


def pressure_notes(
    method: str, cap_kpa: float, gun_max_kpa: float | None = None
) -> tuple[str, ...]:
    """What is wrong with a cap pressure: outside HVLP's definition, above the gun's own limit."""
    require("cap_kpa", cap_kpa, 0, 30_000, GUN)
    notes = []
    limit = PRESSURE_LIMITS["hvlp_cap"]
    if method == "hvlp" and not limit.low_kpa <= cap_kpa <= limit.high_kpa:
        notes.append(
            f"An HVLP gun stays between {limit.low_kpa:.1f} and {limit.high_kpa:.0f} kPa at the "
            f"cap ({limit.source})."
        )
    if gun_max_kpa is not None and cap_kpa > gun_max_kpa:
        notes.append(f"Above the gun's own limit of {gun_max_kpa:g} kPa: let the pressure off.")
    return tuple(notes)


def _notes(trial: Trial) -> tuple[str, ...]:
    checks = (
        ("Fan width", trial.fan_width_mm, FAN_WIDTH_MM, "mm"),
        ("Distance", trial.distance_mm, DISTANCE_MM, "mm"),
        ("Overlap", trial.overlap_pct, OVERLAP_PCT, "%"),
    )
    return tuple(
        f"{name} {value:g} {unit} is outside {low:g} to {high:g} {unit} ({PRACTICE})."
        for name, value, (low, high), unit in checks
        if not low <= value <= high
    )
