"""What was told of a piece, in the words and times people read."""

from datetime import datetime
from uuid import UUID

from msgspec import Struct

from coatledger.ledger.record import moment
from coatledger.subjects.asked import iso
from coatledger.subjects.piece import Piece


class CoatFact(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One coat as this piece got it."""

    event: UUID
    at: datetime
    lot: str
    faces: tuple[str, ...]
    role: str
    method: str
    gun: str | None = None
    room: str | None = None
    wet_film_um: float | None = None
    in_rework: bool = False


class DefectFact(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One fault found, and after which coat."""

    event: UUID
    at: datetime
    kind: str
    face: str
    extent: str
    found_by: str
    coats_before: int


class ReworkFact(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One way through rework; without `ended` it lasts."""

    event: UUID
    started: datetime
    remedy: str
    because: str | None = None
    ended: datetime | None = None
    done: str | None = None


class InspectionFact(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One look, and its result."""

    event: UUID
    at: datetime
    point: str
    passed: bool


class PieceFacts(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A piece as its facts describe it. Areas in square metres, lengths in millimetres."""

    kind: str | None = None
    species: str | None = None
    substrate: str | None = None
    use: str | None = None
    coat_area_m2: float | None = None
    length_mm: float | None = None
    width_mm: float | None = None
    thickness_mm: float | None = None
    declared_value: int | None = None
    currency: str | None = None
    sheen: str | None = None
    stained: bool = False
    refinish: bool = False
    schedule: str | None = None
    line: str | None = None
    expected_on: str | None = None
    started_at: datetime | None = None
    room: str | None = None
    place: str | None = None
    moisture_pct: float | None = None
    hands_on_min: float = 0.0
    coats: tuple[CoatFact, ...] = ()
    coats_stripped: int = 0
    defects: tuple[DefectFact, ...] = ()
    reworks: tuple[ReworkFact, ...] = ()
    inspections: tuple[InspectionFact, ...] = ()
    packed_at: datetime | None = None
    shipped_at: datetime | None = None
    returned_at: datetime | None = None
    scrapped_at: datetime | None = None
    disputed: tuple[UUID, ...] = ()


def piece_facts(piece: Piece, at_us: int) -> PieceFacts:
    """Write a piece's state for people."""
    places = [move.place for move in piece.moves if move.room or move.place]
    return PieceFacts(
        kind=piece.kind,
        species=piece.species,
        substrate=piece.substrate,
        use=piece.use,
        coat_area_m2=piece.coat_area_m2,
        length_mm=piece.length_mm,
        width_mm=piece.width_mm,
        thickness_mm=piece.thickness_mm,
        declared_value=piece.declared_value,
        currency=piece.currency,
        sheen=piece.sheen,
        stained=piece.stained,
        refinish=piece.refinish,
        schedule=piece.schedule,
        line=piece.line,
        expected_on=piece.likely_on,
        started_at=iso(piece.started_us),
        room=piece.room_at(at_us),
        place=places[-1] if places else None,
        moisture_pct=piece.moisture_pct,
        hands_on_min=round(piece.hands_on_min, 3),
        coats=_coats(piece),
        coats_stripped=piece.stripped,
        defects=_defects(piece),
        reworks=_reworks(piece),
        inspections=tuple(
            InspectionFact(event=i.event, at=moment(i.at_us), point=i.point, passed=i.passed)
            for i in piece.inspections
        ),
        packed_at=iso(piece.packing.at_us) if piece.packing else None,
        shipped_at=iso(piece.shipped_us[0]) if piece.shipped_us else None,
        returned_at=iso(piece.returned_us[-1]) if piece.returned_us else None,
        scrapped_at=iso(piece.scrapped_us),
        disputed=piece.disputed,
    )


def _coats(piece: Piece) -> tuple[CoatFact, ...]:
    return tuple(
        CoatFact(
            event=coat.event,
            at=moment(coat.at_us),
            lot=coat.lot,
            gun=coat.gun,
            room=coat.room,
            faces=coat.faces,
            role=coat.role,
            method=coat.method,
            wet_film_um=coat.wet_film_um,
            in_rework=coat.in_rework,
        )
        for coat in piece.coats
    )


def _defects(piece: Piece) -> tuple[DefectFact, ...]:
    return tuple(
        DefectFact(
            event=defect.event,
            at=moment(defect.at_us),
            kind=defect.kind,
            face=defect.face,
            extent=defect.extent,
            found_by=defect.found_by,
            coats_before=defect.coats_before,
        )
        for defect in piece.defects
    )


def _reworks(piece: Piece) -> tuple[ReworkFact, ...]:
    return tuple(
        ReworkFact(
            event=rework.event,
            started=moment(rework.at_us),
            remedy=rework.remedy,
            because=rework.because,
            ended=iso(rework.ended_us),
            done=rework.done,
        )
        for rework in piece.reworks
    )
