"""Pages of flat rows, all of one position of the ledger, in the order of pieces or of positions.

A page is read on its own, so however long a table is, no more than a page of it is held.
"""

from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

from msgspec import Struct

from coatledger.answers.flat.columns import CoatRow, DefectRow, PieceRow, ReadingRow
from coatledger.events.catalogue import EventAmended
from coatledger.events.room_gun import ClimateRead
from coatledger.findings.place import HOUR_US, READING_HOLDS_H
from coatledger.ledger.record import Row, micros, moment, recorded
from coatledger.ledger.store import ClimateRow, Reader
from coatledger.subjects.asked import Asked, iso
from coatledger.subjects.counts import known_piece
from coatledger.subjects.parked import ParkedError
from coatledger.subjects.piece import Coat, Piece
from coatledger.subjects.registry import state_of

PIECES_A_PAGE = 200
EVENTS_A_PAGE = 1_000
DAY_US = 24 * HOUR_US
FARTHEST_US = 1 << 62
HOLDS_US = round(READING_HOLDS_H * HOUR_US)


class Page(NamedTuple):
    """Some rows, and after which piece or position the next page begins; None on the last."""

    rows: tuple[Struct, ...]
    after: str | None


class Around:
    """What a page's coats name: the finish in each can, the air at each act, read once."""

    def __init__(self, reader: Reader, asked: Asked, newest: int) -> None:
        self._reader = reader
        self._view = asked.view(reader)
        self._newest = newest
        self._products: dict[str, str | None] = {}
        self._air: dict[tuple[str, int], ClimateRow | None] = {}

    def product(self, lot: str) -> str | None:
        """Name what is in a can."""
        if lot not in self._products:
            subject = f"lot:{lot}"
            stored = self._reader.folds((subject,)).get(subject)
            try:
                still = stored is not None and stored.position <= self._newest
                state = state_of("lot", stored.state) if stored and still else self._view.lot(lot)
                self._products[lot] = state.product
            except ParkedError:
                self._products[lot] = None
        return self._products[lot]

    def air(self, room: str | None, at_us: int) -> ClimateRow | None:
        """Return the last reading of a room before a moment that still says something of it."""
        if room is None:
            return None
        if (room, at_us) not in self._air:
            row = self._reader.climate_before(room, at_us, self._newest)
            fresh = row is not None and at_us - row.at_us <= HOLDS_US
            self._air[room, at_us] = row if fresh else None
        return self._air[room, at_us]


Told = Callable[[Around, Piece], Iterator[Struct]]


def paged_pieces(reader: Reader, asked: Asked, after: str, told: Told) -> Page:
    """Return what is told of the next pieces after a word, at the position asked for."""
    stored = reader.shelf("piece", None, f"piece:{after}" if after else "", PIECES_A_PAGE)
    # What nothing was recorded about since then still is what it was.
    newest = asked.known if asked.known is not None else reader.head().size
    around = Around(reader, asked, newest)
    rows: list[Struct] = []
    for fold in stored:
        place = Asked(now_us=asked.now_us) if fold.position <= newest else asked
        piece = known_piece(reader, place, fold)
        if piece is not None and piece.stage != "unborn":
            rows += told(around, piece)
    last = stored[-1].subject.partition(":")[2] if len(stored) == PIECES_A_PAGE else None
    return Page(tuple(rows), last)


def coats_told(around: Around, piece: Piece) -> Iterator[CoatRow]:
    """Tell each coat of a piece, with what was so then and what came of it."""
    coats = piece.ever_coated
    ends = (*[coat.at_us for coat in coats], FARTHEST_US)[1:]
    before: Coat | None = None
    for number, (coat, end_us) in enumerate(zip(coats, ends, strict=True), start=1):
        yield _coat_row(around, piece, number, coat, before, end_us)
        before = coat


def _coat_row(
    around: Around, piece: Piece, number: int, coat: Coat, before: Coat | None, end_us: int
) -> CoatRow:
    air = around.air(coat.room, coat.at_us)
    found = {
        one.kind for one in piece.defects
        if one.found_by == "shop" and coat.at_us < one.at_us <= end_us
    }  # fmt: skip
    waited_us = None if before is None else coat.at_us - (before.ended_us or before.at_us)
    return CoatRow(
        piece=piece.piece, coat_number=number, event=coat.event, at=moment(coat.at_us),
        ended_at=iso(coat.ended_us), kind=piece.kind, wood=piece.species,
        schedule=piece.schedule, order=piece.order, product=around.product(coat.lot),
        lot=coat.lot, gun=coat.gun, room=coat.room, person=coat.actor, role=coat.role,
        method=coat.method, faces=" ".join(coat.faces), wet_film_um=coat.wet_film_um,
        share_l=None if coat.amount_l is None else coat.amount_l / coat.sharers,
        in_rework=coat.in_rework,
        blown_off_by=None if coat.cleaned is None else coat.cleaned.by,
        cloth=None if coat.cleaned is None else coat.cleaned.cloth,
        waited_h=None if waited_us is None else waited_us / HOUR_US,
        air_c=None if air is None else air.air_c, rh_pct=None if air is None else air.rh_pct,
        defects=" ".join(sorted(found)),
        reworked=any(coat.at_us < one.at_us <= end_us and not one.after_leaving
                     for one in piece.reworks),
    )  # fmt: skip


def piece_told(_: Around, piece: Piece) -> Iterator[PieceRow]:
    """Tell one piece."""
    first = piece.first_final
    shipped_us = piece.shipped_us[0] if piece.shipped_us else None
    passed = None
    if first is not None:
        passed = first.passed and not any(one.at_us <= first.at_us for one in piece.reworks)
    lead_us = None
    if shipped_us is not None and piece.started_us is not None:
        lead_us = shipped_us - piece.started_us
    yield PieceRow(
        piece=piece.piece, kind=piece.kind, wood=piece.species, substrate=piece.substrate,
        use=piece.use, sku=piece.sku, schedule=piece.schedule, order=piece.order,
        coat_area_m2=piece.coat_area_m2, stage=piece.stage, started_at=iso(piece.started_us),
        first_inspected_at=None if first is None else moment(first.at_us), passed_first=passed,
        first_shipped_at=iso(shipped_us), scrapped_at=iso(piece.scrapped_us),
        lead_days=None if lead_us is None else lead_us / DAY_US,
        coats=len(piece.ever_coated), stripped=piece.stripped, defects_found=len(piece.defects),
        reworks=sum(not one.after_leaving for one in piece.reworks),
        returns=len(piece.returned_us), hands_on_min=piece.hands_on_min,
    )  # fmt: skip


def defects_told(around: Around, piece: Piece) -> Iterator[DefectRow]:
    """Tell each defect of a piece, with the coat it was found on."""
    for one in piece.defects:
        under = [coat for coat in piece.ever_coated if coat.at_us < one.at_us]
        coat = under[-1] if under else None
        yield DefectRow(
            piece=piece.piece, event=one.event, at=moment(one.at_us), defect=one.kind,
            face=one.face, extent=one.extent, found_by=one.found_by, wood=piece.species,
            coat_event=None if coat is None else coat.event,
            coat_number=len(under) or None,
            product=None if coat is None else around.product(coat.lot),
            lot=None if coat is None else coat.lot, gun=None if coat is None else coat.gun,
            room=None if coat is None else coat.room,
            person=None if coat is None else coat.actor,
        )  # fmt: skip


def paged_readings(reader: Reader, asked: Asked, after: str) -> Page:
    """Return the readings told by the next events after a position, those corrected left out."""
    newest = asked.known if asked.known is not None else reader.head().size
    rows = [row for row in reader.rows(int(after or 0), EVENTS_A_PAGE) if row.position <= newest]
    told = tuple(
        ReadingRow(
            position=one.position, room=one.room, at=moment(one.at_us), air_c=one.air_c,
            rh_pct=one.rh_pct, surface_c=one.surface_c,
        )
        for row in rows
        for one in _in_force(reader, row, newest)
    )  # fmt: skip
    return Page(told, str(rows[-1].position) if len(rows) == EVENTS_A_PAGE else None)


def _in_force(reader: Reader, row: Row, known: int) -> Sequence[ClimateRow]:
    """Return the readings that an event told and that count at a position."""
    if row.type not in ("climate_read", "event_amended"):
        return ()
    fact = recorded(row).event
    read = fact.replacement if isinstance(fact, EventAmended) else fact
    if not isinstance(read, ClimateRead):
        return ()
    times = [micros(one.at or read.occurred_at) for one in read.readings]
    kept = reader.climate(read.room, min(times), max(times), known)
    return [one for one in kept if one.position == row.position]
