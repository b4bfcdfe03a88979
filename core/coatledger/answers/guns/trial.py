"""The last trial of a gun: the film a pass lays, how uneven, passes to a film, a batch's litres.

Fan and film count as they were measured on the trial; the data sheet of what is in the gun says
which film is wanted.
"""

from collections.abc import Iterator
from datetime import datetime
from typing import NamedTuple

from msgspec import Struct
from msgspec.structs import replace

from coatledger.computations import gun
from coatledger.computations.film import TRANSFER_EFFICIENCY
from coatledger.computations.practice import DISTANCE_MM, FAN_WIDTH_MM, OVERLAP_PCT, PRACTICE
from coatledger.events.room_gun import GunSetUp, TestSprayed
from coatledger.events.setup import GunDescribed, ProductDescribed
from coatledger.subjects.view import View

OVERLAPS_PCT = (40.0, 50.0, 60.0)


class Batched(NamedTuple):
    """What a batch needs that no fact says: its area, the gun's speed, the film wanted."""

    area_m2: float | None = None
    speed_mm_s: float | None = None
    target_wet_film_um: float | None = None
    stroke_mm: float = 600.0


NO_BATCH = Batched()


class Batch(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One coat of a batch at the trial's film: litres sprayed, of which `stays_l` stays; minutes of
    spraying when the gun's speed is given."""

    area_m2: float
    sprayed_l: float
    stays_l: float
    efficiency_pct: float
    efficiency_source: str
    trigger_min: float | None = None
    minutes: float | None = None


class TrialFound(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """The last trial and what it means. `overlaps` shows how uneven its film is at its own overlap
    and at 40, 50 and 60 %; `passes` reach the film wanted."""

    at: datetime
    result: str
    lot: str
    sprayed_passes: int
    wet_film_um: float | None = None
    per_pass_um: float | None = None
    overlap_pct: float | None = None
    wanted_um: float | None = None
    wanted_source: str | None = None
    passes: gun.Passes | None = None
    overlaps: tuple[gun.Overlap, ...] = ()
    batch: Batch | None = None
    notes: tuple[str, ...] = ()


def trial_found(
    view: View, described: GunDescribed | None, fact: TestSprayed, filled: GunSetUp | None,
    batch: Batched,
) -> TrialFound:  # fmt: skip
    """Read the trial; what it does not say is as the gun was set up."""
    fan_mm, distance_mm, overlap_pct = (
        getattr(filled, name, None) if getattr(fact, name) is None else getattr(fact, name)
        for name in ("fan_width_mm", "distance_mm", "overlap_pct")
    )
    told = TrialFound(
        at=fact.occurred_at,
        result=fact.result,
        lot=fact.lot,
        sprayed_passes=fact.passes,
        wet_film_um=fact.wet_film_um,
        overlap_pct=overlap_pct,
    )
    notes = list(unusual(fan_mm, distance_mm, overlap_pct))
    if fact.wet_film_um is None:
        notes.append("no wet film was read on the trial: passes and litres need the gauge")
        return replace(told, notes=tuple(notes))
    sheet = view.product_of_lot(fact.lot)
    wanted_um, source = _wanted(sheet, batch)
    one_um = fact.wet_film_um / fact.passes
    most_um = None if sheet is None else sheet.wet_film_max_um
    if most_um is not None and one_um > most_um:
        notes.append(f"one pass lays {one_um:.0f} um, more than the sheet's {most_um:g} um a coat")
        most_um = None
    passes = None if wanted_um is None else _passes(sheet, wanted_um, one_um, most_um)
    asked = {*OVERLAPS_PCT, *(() if overlap_pct is None else (overlap_pct,))}
    return replace(
        told,
        per_pass_um=one_um,
        wanted_um=wanted_um,
        wanted_source=source,
        passes=passes,
        overlaps=gun.overlaps(fact.wet_film_um, sorted(asked)),
        batch=_batch(described, passes, fan_mm, overlap_pct, batch),
        notes=tuple(notes),
    )


def _passes(
    sheet: ProductDescribed | None, wanted_um: float, one_um: float, most_um: float | None
) -> gun.Passes:
    """Passes nearest to the film wanted where the sheet allows that film, else enough to reach it.

    No number of passes lays just the film wanted: what lies within the sheet's range will do.
    """
    near = max(1, round(wanted_um / one_um))
    low = None if sheet is None else sheet.wet_film_min_um
    if low is not None and most_um is not None and low <= near * one_um <= most_um:
        return gun.Passes(near, near * one_um, 1)
    return gun.passes_for(wanted_um, one_um, most_um)


def _wanted(sheet: ProductDescribed | None, batch: Batched) -> tuple[float | None, str | None]:
    if batch.target_wet_film_um is not None:
        return batch.target_wet_film_um, "as asked"
    low = None if sheet is None else sheet.wet_film_min_um
    high = None if sheet is None else sheet.wet_film_max_um
    if low is not None and high is not None:
        return (low + high) / 2.0, "the middle of the data sheet's wet film"
    reference = None if sheet is None else sheet.reference_wet_film_um
    return reference, None if reference is None else "the film of the data sheet's hours"


def _batch(
    described: GunDescribed | None, passes: gun.Passes | None, fan_mm: float | None,
    overlap_pct: float | None, batch: Batched,
) -> Batch | None:  # fmt: skip
    if batch.area_m2 is None or passes is None:
        return None
    share = TRANSFER_EFFICIENCY["hvlp" if described is None else described.method]
    stays_l = passes.wet_film_um * batch.area_m2 / 1000
    told = Batch(
        area_m2=batch.area_m2,
        sprayed_l=stays_l / share.likely_pct * 100,
        stays_l=stays_l,
        efficiency_pct=share.likely_pct,
        efficiency_source=share.source,
    )
    if batch.speed_mm_s is None or fan_mm is None or overlap_pct is None:
        return told
    # The flow is that which explains the film at this speed; distance plays no part in it.
    step_mm = gun.step_mm(fan_mm, overlap_pct)
    film_mm = passes.wet_film_um / passes.passes / 1000
    flow = film_mm * batch.speed_mm_s * 60 * step_mm / 1e6 / share.likely_pct * 100
    trial = gun.Trial(
        fan_mm, 180, overlap_pct, passes.passes, batch.speed_mm_s, flow, share.likely_pct
    )
    took = gun.batch(trial, batch.area_m2, batch.stroke_mm)
    return replace(told, sprayed_l=took.litres, trigger_min=took.trigger_min, minutes=took.minutes)


def unusual(
    fan_mm: float | None, distance_mm: float | None, overlap_pct: float | None
) -> Iterator[str]:
    """Say what of a setting lies outside what is usual."""
    for name, value, unit, (low, high) in (
        ("fan", fan_mm, "mm", FAN_WIDTH_MM),
        ("distance", distance_mm, "mm", DISTANCE_MM),
        ("overlap", overlap_pct, "%", OVERLAP_PCT),
    ):
        if value is not None and not low <= value <= high:
            yield f"{name} {value:g} {unit} is outside {low:g} to {high:g} {unit} ({PRACTICE})"
