"""A gun now: how it is set, what its last trial laid, its pressure limit, what cleaning is due."""

from datetime import datetime, timedelta

from msgspec import Struct

from coatledger.answers.guns.trial import NO_BATCH, Batched, TrialFound, trial_found, unusual
from coatledger.computations import cautions, gun, viscosity
from coatledger.computations.cautions import Caution
from coatledger.computations.practice import FLUSH_WITHIN_H, PRACTICE, STRIP_CLEAN_DAYS
from coatledger.computations.viscosity import Nozzle
from coatledger.events.room_gun import GunSetUp, TestSprayed
from coatledger.events.setup import GunDescribed, ProductDescribed
from coatledger.ledger.record import moment
from coatledger.ledger.store import Reader
from coatledger.refusal import refuse
from coatledger.subjects.asked import Asked, iso
from coatledger.subjects.view import View

HOUR_US = 3_600_000_000
USES = ("coat_applied", "test_sprayed", "gun_set_up")
CLEANINGS = ("gun_flushed", "gun_strip_cleaned")


class SetUp(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """The gun as it was filled and set last. `nozzles` are those that commonly suit what the cup
    read of the can; `notes` say what is unusual."""

    at: datetime
    lot: str
    product: str | None = None
    nozzle_mm: float | None = None
    cap_pressure_kpa: float | None = None
    fan_width_mm: float | None = None
    distance_mm: float | None = None
    overlap_pct: float | None = None
    viscosity_mm2_s: float | None = None
    nozzles: tuple[Nozzle, ...] = ()
    notes: tuple[str, ...] = ()


class Pressure(Struct, frozen=True, kw_only=True):
    """The highest cap pressure, and whose limit it is; none known means: the gun's manual."""

    cap_max_kpa: float | None
    source: str


class Cleaning(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """When the gun was last used, flushed and stripped clean, and what is due; a flush is overdue
    when finish stands in the gun over a night (common practice, no published source)."""

    last_used_at: datetime | None = None
    flushed_at: datetime | None = None
    flush_due: bool = False
    flush_overdue: bool = False
    strip_cleaned_at: datetime | None = None
    strip_clean_every_days: int = STRIP_CLEAN_DAYS
    strip_clean_source: str = PRACTICE
    strip_clean_by: datetime | None = None
    strip_clean_overdue: bool = False


class GunAnswer(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One gun. Cautions are of the gun and of what goes through it; none of them permits."""

    position: int
    as_of: datetime | None
    gun: str
    name: str | None = None
    method: str | None = None
    body: str | None = None
    pressure: Pressure
    set_up: SetUp | None = None
    trial: TrialFound | None = None
    cleaning: Cleaning
    cautions: tuple[Caution, ...] = ()


def gun_answer(
    reader: Reader, word: str, asked: Asked, batch: Batched = NO_BATCH
) -> GunAnswer | None:
    """Answer everything about one gun; None when nobody described or used it by then."""
    view = asked.view(reader)
    described = view.gun_described(word)
    used = view.last(f"gun:{word}", USES, 1)
    if described is None and not used:
        return None
    tried = view.last(f"gun:{word}", ("test_sprayed",), 1)
    last_trial = tried[-1].fact if tried else None
    filled = view.gun(word).set_up
    lot = getattr(used[-1].fact, "lot", None) if used else None
    sheet = view.product_of_lot(lot)
    try:
        trial = (
            trial_found(view, described, last_trial, filled, batch)
            if isinstance(last_trial, TestSprayed)
            else None
        )
    except ValueError as fault:
        raise refuse("beyond_source", "", str(fault)) from fault
    return GunAnswer(
        position=asked.position(reader),
        as_of=iso(asked.now_us),
        gun=word,
        name=described.name if described else None,
        method=described.method if described else None,
        body=described.body if described else None,
        pressure=_pressure(described),
        set_up=None if filled is None else _set_up(view, filled, described),
        trial=trial,
        cleaning=cleaning_of(view, word, described, asked.now_us),
        cautions=_cautions(described, sheet),
    )


def _set_up(view: View, fact: GunSetUp, described: GunDescribed | None) -> SetUp:
    sheet, seen = view.product_of_lot(fact.lot), view.lot(fact.lot).viscosity
    notes = list(unusual(fact.fan_width_mm, fact.distance_mm, fact.overlap_pct))
    mm2_s = None
    if seen is not None:
        try:
            mm2_s = viscosity.viscosity_mm2_s(seen.cup, seen.efflux_s)
        except ValueError as fault:
            notes.append(str(fault))
    if fact.cap_pressure_kpa is not None and described is not None:
        most = described.cap_pressure_max_kpa
        notes += gun.pressure_notes(described.method, fact.cap_pressure_kpa, most)
    low = None if sheet is None else sheet.nozzle_min_mm
    high = None if sheet is None else sheet.nozzle_max_mm
    if fact.nozzle_mm is not None and not (low or 0.0) <= fact.nozzle_mm <= (high or 99.0):
        notes.append(f"the data sheet asks for a nozzle of {low or 0:g} to {high or 99:g} mm")
    return SetUp(
        at=fact.occurred_at,
        lot=fact.lot,
        product=None if sheet is None else sheet.product,
        nozzle_mm=fact.nozzle_mm,
        cap_pressure_kpa=fact.cap_pressure_kpa,
        fan_width_mm=fact.fan_width_mm,
        distance_mm=fact.distance_mm,
        overlap_pct=fact.overlap_pct,
        viscosity_mm2_s=mm2_s,
        nozzles=() if mm2_s is None else viscosity.nozzles_for(mm2_s),
        notes=tuple(notes),
    )


def _pressure(described: GunDescribed | None) -> Pressure:
    if described is not None and described.cap_pressure_max_kpa is not None:
        return Pressure(cap_max_kpa=described.cap_pressure_max_kpa, source="the gun's own limit")
    if described is not None and described.method == "hvlp":
        limit = gun.PRESSURE_LIMITS["hvlp_cap"]
        return Pressure(cap_max_kpa=limit.high_kpa, source=limit.source)
    return Pressure(cap_max_kpa=None, source="not described: the gun's manual decides")


def cleaning_of(view: View, word: str, described: GunDescribed | None, now_us: int) -> Cleaning:
    """Say when a gun was used and cleaned last, and what is due."""
    used = view.last(f"gun:{word}", USES, 1)
    cleaned = view.last(f"gun:{word}", CLEANINGS, 1)
    flushed = view.last(f"gun:{word}", ("gun_flushed",), 1)
    stripped = view.last(f"gun:{word}", ("gun_strip_cleaned",), 1)
    since = stripped[-1].fact if stripped else described
    told = None if described is None else described.strip_clean_every_days
    days = STRIP_CLEAN_DAYS if told is None else told
    by = None if since is None else since.occurred_at + timedelta(days=days)
    unclean = bool(used) and (not cleaned or cleaned[-1][:2] < used[-1][:2])
    return Cleaning(
        last_used_at=moment(used[-1].at_us) if used else None,
        flushed_at=moment(flushed[-1].at_us) if flushed else None,
        flush_due=unclean,
        flush_overdue=unclean and now_us - used[-1].at_us > FLUSH_WITHIN_H * HOUR_US,
        strip_cleaned_at=moment(stripped[-1].at_us) if stripped else None,
        strip_clean_every_days=days,
        strip_clean_source=PRACTICE if told is None else "the shop's own interval",
        strip_clean_by=by,
        strip_clean_overdue=by is not None and moment(now_us) > by,
    )


def _cautions(
    described: GunDescribed | None, sheet: ProductDescribed | None
) -> tuple[Caution, ...]:
    found: list[Caution] = []
    if described is not None and sheet is not None:
        found += cautions.for_coating(described.method, sheet.kind)
    if described is not None and described.body == "aluminium":
        found += cautions.for_gun("aluminium", "chlorinated_solvent")
    return tuple(dict.fromkeys(found))
