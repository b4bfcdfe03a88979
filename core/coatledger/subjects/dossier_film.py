"""What the events of a pack tell of the film: coats, cans and their sheets, guns, air, tools."""

from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise
from typing import NamedTuple

from msgspec import Struct

from coatledger.computations.film import dry_film_um
from coatledger.events.base import Fact
from coatledger.events.catalogue import TAG_OF
from coatledger.events.coating import CoatApplied
from coatledger.events.finish import LotMixed, LotReceived, Parent
from coatledger.events.preparing import GrainFilled, Stained
from coatledger.events.room_gun import ClimateRead, GunFlushed, GunSetUp, GunStripCleaned
from coatledger.events.setup import InstrumentChecked, ProductDescribed
from coatledger.ledger.correct import Placed
from coatledger.ledger.normal import utc_text
from coatledger.ledger.record import Recorded, micros, moment
from coatledger.subjects.described import in_force

Facts = Callable[[str], tuple[Placed, ...]]


class ToldCoat(Struct, frozen=True, kw_only=True):
    """One film on the piece. The dry film follows from the wet one and the sheet's solids."""

    position: int
    at: str
    what: str
    role: str
    lot: str | None
    gun: str | None
    room: str | None
    faces: tuple[str, ...]
    shared_by: int
    wet_film_um: float | None
    dry_film_um: float | None


class ToldLot(Struct, frozen=True, kw_only=True):
    """A can or mix that is on the piece, and the data sheet in force when it was last used."""

    lot: str
    product: str | None
    parents: tuple[Parent, ...]
    sheet: int | None
    sheet_version: str | None
    sheet_sha256: str | None
    described_late: bool


class ToldGun(Struct, frozen=True, kw_only=True):
    """How the gun was set for a coat, and when it was cleaned before: positions of the events."""

    gun: str
    coat: int
    set_up: int | None
    nozzle_mm: float | None
    cap_pressure_kpa: float | None
    flushed: int | None
    strip_cleaned: int | None


class ToldAir(Struct, frozen=True, kw_only=True):
    """The readings of one room in the pack."""

    room: str
    readings: int
    first_at: str
    last_at: str
    air_min_c: float
    air_max_c: float
    rh_min_pct: float
    rh_max_pct: float
    longest_gap_s: int


class ToldTool(Struct, frozen=True, kw_only=True):
    """An instrument that read something here, and its last check before the last such reading."""

    instrument: str
    uses: int
    checked: int | None
    checked_at: str | None
    passed: bool | None
    error: float | None
    unit: str | None


class AirRead(NamedTuple):
    """One reading, for whoever draws it."""

    at_us: int
    air_c: float
    rh_pct: float


class Work:
    """The film work on one piece, as far as the events handed in tell of it."""

    def __init__(self, piece: str, facts: Sequence[Placed], facts_of: Facts) -> None:
        self._piece = piece
        self._facts_of = facts_of
        self._films = [p for p in facts if isinstance(p.fact, (CoatApplied, Stained, GrainFilled))]
        self._facts = facts

    @property
    def coated_between(self) -> tuple[int | None, int | None]:
        """When the first and the last film were put on."""
        times = [placed.at_us for placed in self._films]
        return (min(times), max(times)) if times else (None, None)

    def coats(self) -> tuple[ToldCoat, ...]:
        """List the films, oldest first."""
        return tuple(self._coat(placed) for placed in self._films)

    def lots(self) -> tuple[ToldLot, ...]:
        """List the cans on the piece, and what they were mixed of."""
        used: dict[str, int] = {}
        for placed in self._films:
            lot = getattr(placed.fact, "lot", None)
            if lot is not None:
                used[lot] = max(placed.at_us, used.get(lot, placed.at_us))
        waiting = list(used)
        while waiting:
            lot = waiting.pop()
            for parent in self._birth(lot)[1]:
                if parent.lot not in used:
                    used[parent.lot] = used[lot]
                    waiting.append(parent.lot)
        return tuple(self._lot(lot, at_us) for lot, at_us in sorted(used.items()))

    def guns(self) -> tuple[ToldGun, ...]:
        """Say for each sprayed coat how its gun was set and when it was cleaned before."""
        return tuple(self._gun(p, p.fact) for p in self._films if isinstance(p.fact, CoatApplied)
                     and p.fact.gun is not None)  # fmt: skip

    def air(self, events: Sequence[Recorded]) -> tuple[ToldAir, ...]:
        """Sum up the readings of each room."""
        rooms = sorted({s for row in events for s in row.previous if s.startswith("room:")})
        found = ((room, air_of(self._facts_of(room))) for room in rooms)
        return tuple(_air(room.partition(":")[2], reads) for room, reads in found if reads)

    def instruments(self, events: Sequence[Recorded]) -> tuple[ToldTool, ...]:
        """Name every instrument that read something here, with its last check."""
        names = {s for row in events for s in row.previous if s.startswith("instrument:")}
        return tuple(_tool(name, self._facts_of(name)) for name in sorted(names))

    def _coat(self, placed: Placed) -> ToldCoat:
        fact = placed.fact
        lot = getattr(fact, "lot", None)
        wet_um = getattr(fact, "wet_film_um", None)
        sheet = self._sheet(lot, placed.at_us)
        solids = sheet.volume_solids_pct if sheet is not None else None
        pieces: tuple[str, ...] = getattr(fact, "pieces", ())
        return ToldCoat(
            position=placed.position,
            at=utc_text(fact.occurred_at),
            what=TAG_OF[type(fact)],
            role=getattr(fact, "role", ""),
            lot=lot,
            gun=getattr(fact, "gun", None),
            room=getattr(fact, "room", None),
            faces=getattr(fact, "faces", ()),
            shared_by=len(pieces),
            wet_film_um=wet_um,
            dry_film_um=round(dry_film_um(wet_um, solids), 1) if wet_um and solids else None,
        )

    def _birth(self, lot: str) -> tuple[str | None, tuple[Parent, ...]]:
        for placed in self._facts_of(f"lot:{lot}"):
            fact = placed.fact
            if isinstance(fact, LotReceived):
                return fact.product, ()
            if isinstance(fact, LotMixed) and fact.lot == lot:
                return fact.product, fact.parents
        return None, ()

    def _sheets(self, product: str | None) -> tuple[Placed, ...]:
        facts = self._facts_of(f"product:{product}") if product else ()
        return tuple(p for p in facts if isinstance(p.fact, ProductDescribed))

    def _sheet(self, lot: str | None, at_us: int) -> ProductDescribed | None:
        product = self._birth(lot)[0] if lot else None
        told = [p.fact for p in self._sheets(product) if isinstance(p.fact, ProductDescribed)]
        return in_force(tuple(told), at_us)

    def _lot(self, lot: str, at_us: int) -> ToldLot:
        product, parents = self._birth(lot)
        sheet = self._sheet(lot, at_us)
        places = {p.fact.id: p for p in self._sheets(product)}
        placed = None if sheet is None else places[sheet.id]
        return ToldLot(
            lot=lot,
            product=product,
            parents=parents,
            sheet=None if placed is None else placed.corrected_at or placed.position,
            sheet_version=None if sheet is None else sheet.sheet_version,
            sheet_sha256=None if sheet is None else sheet.sheet_sha256,
            described_late=placed is not None and placed.at_us > at_us,
        )

    def _gun(self, placed: Placed, coat: CoatApplied) -> ToldGun:
        before = [p for p in self._facts_of(f"gun:{coat.gun}") if p[:2] < placed[:2]]
        set_up = _last(before, GunSetUp)
        told = set_up.fact if set_up is not None else None
        return ToldGun(
            gun=coat.gun or "",
            coat=placed.position,
            set_up=_position(set_up),
            nozzle_mm=told.nozzle_mm if isinstance(told, GunSetUp) else None,
            cap_pressure_kpa=told.cap_pressure_kpa if isinstance(told, GunSetUp) else None,
            flushed=_position(_last(before, GunFlushed)),
            strip_cleaned=_position(_last(before, GunStripCleaned)),
        )


def air_of(facts: Iterable[Placed]) -> tuple[AirRead, ...]:
    """List the readings in a room's facts, in order of time."""
    found = [
        AirRead(micros(one.at or p.fact.occurred_at), one.air_c, one.rh_pct)
        for p in facts
        if isinstance(p.fact, ClimateRead)
        for one in p.fact.readings
    ]
    return tuple(sorted(found))


def _air(room: str, reads: Sequence[AirRead]) -> ToldAir:
    air, damp = [read.air_c for read in reads], [read.rh_pct for read in reads]
    gaps = [b.at_us - a.at_us for a, b in pairwise(reads)]
    return ToldAir(
        room=room,
        readings=len(reads),
        first_at=utc_text(moment(reads[0].at_us)),
        last_at=utc_text(moment(reads[-1].at_us)),
        air_min_c=min(air),
        air_max_c=max(air),
        rh_min_pct=min(damp),
        rh_max_pct=max(damp),
        longest_gap_s=max(gaps, default=0) // 1_000_000,
    )


def _tool(subject: str, facts: Sequence[Placed]) -> ToldTool:
    uses = [p for p in facts if not isinstance(p.fact, InstrumentChecked)]
    last_us = max((p.at_us for p in uses), default=0)
    checks = [p for p in facts if isinstance(p.fact, InstrumentChecked) and p.at_us <= last_us]
    check = checks[-1] if checks else None
    fact = check.fact if check is not None else None
    told = fact if isinstance(fact, InstrumentChecked) else None
    return ToldTool(
        instrument=subject.partition(":")[2],
        uses=len(uses),
        checked=_position(check),
        checked_at=None if told is None else utc_text(told.occurred_at),
        passed=None if told is None else told.passed,
        error=None if told is None else told.error,
        unit=None if told is None else told.unit,
    )


def _last(facts: Iterable[Placed], kind: type[Fact]) -> Placed | None:
    return max((p for p in facts if isinstance(p.fact, kind)), default=None, key=lambda p: p[:2])


def _position(placed: Placed | None) -> int | None:
    return None if placed is None else placed.corrected_at or placed.position
