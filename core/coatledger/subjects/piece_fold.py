"""What each fact makes of a piece. Folds are total: an impossible fact changes nothing but is kept
in `disputed`, so that somebody can settle it."""

from collections.abc import Callable, Mapping
from typing import Any

from msgspec.structs import replace

from coatledger.events import about, bare, coating, judging, leaving, orders, preparing
from coatledger.events.base import Fact, Work
from coatledger.ledger.record import micros
from coatledger.subjects.piece import (
    BlowOff,
    Check,
    Coat,
    Defect,
    Inspection,
    Layer,
    Move,
    Packing,
    Piece,
    Sanding,
    Settled,
)
from coatledger.subjects.piece_life import BACK, NEXT, act_of
from coatledger.subjects.piece_rework import finished, share_of_cost, started

VERSION = 2
Arm = Callable[[Piece, Any, int], Piece]


def initial(piece: str) -> Piece:
    """A word nobody has used yet."""
    return Piece(piece=piece)


def may_follow(piece: Piece, fact: Fact) -> bool:
    """Say whether the table allows this fact at the piece's stage."""
    return act_of(fact) in NEXT[piece.stage]


def evolve(piece: Piece, fact: Fact) -> Piece:
    """Fold one more fact in, in order of (occurred, position)."""
    at_us = micros(fact.occurred_at)
    stage = NEXT[piece.stage].get(act_of(fact))
    if stage is None:
        return replace(piece, disputed=(*piece.disputed, fact.id))
    arm = _ARMS.get(type(fact))
    changed = piece if arm is None else arm(piece, fact, at_us)
    if stage == BACK:
        stage = _own_stage(changed)
    minutes = changed.hands_on_min
    if isinstance(fact, Work):
        if fact.hands_on_min is not None:
            minutes += fact.hands_on_min / len(fact.pieces)  # type: ignore[attr-defined]
        if piece.in_rework:
            changed = share_of_cost(changed, fact)
    return replace(changed, stage=stage, hands_on_min=minutes, last_us=at_us, last_event=fact.id)


def _own_stage(piece: Piece) -> str:
    if piece.in_rework:  # packed or shipped meanwhile, and back: nobody said the rework was over
        return "in_rework"
    if piece.coats:
        return "coated"
    worked = piece.sandings or piece.layers or piece.blown or piece.raised_us is not None
    return "prepared" if worked else "bare"


def _expected(piece: Piece, fact: bare.PieceExpected, at_us: int) -> Piece:
    return replace(
        piece,
        kind=fact.kind or piece.kind,
        species=fact.species or piece.species,
        coat_area_m2=fact.coat_area_m2 or piece.coat_area_m2,
        schedule=fact.schedule or piece.schedule,
        likely_on=str(fact.likely_on),
        earliest_on=str(fact.earliest_on) if fact.earliest_on else None,
        latest_on=str(fact.latest_on) if fact.latest_on else None,
    )


def _started(piece: Piece, fact: bare.PieceStarted, at_us: int) -> Piece:
    return replace(
        piece,
        started_us=at_us,
        kind=fact.kind,
        species=fact.species,
        substrate=fact.substrate,
        coat_area_m2=fact.coat_area_m2,
        length_mm=fact.length_mm,
        width_mm=fact.width_mm,
        thickness_mm=fact.thickness_mm,
        use=fact.use,
        declared_value=fact.declared_value,
        currency=fact.currency,
        sheen=fact.sheen,
        stained=fact.stained,
        refinish=fact.refinish,
        schedule=fact.schedule or piece.schedule,
        sku=fact.sku,
        options=fact.options,
    )


def _sanded(piece: Piece, fact: preparing.Sanded, at_us: int) -> Piece:
    sanding = Sanding(
        event=fact.id, at_us=at_us, stage=fact.stage, grit=fact.grit, by=fact.by,
        abrasive=fact.abrasive, coats_before=len(piece.coats),
    )  # fmt: skip
    return replace(piece, sandings=(*piece.sandings, sanding))


def _blown(piece: Piece, fact: preparing.BlownOff, at_us: int) -> Piece:
    return replace(piece, blown=BlowOff(event=fact.id, at_us=at_us, by=fact.by, cloth=fact.cloth))


def _filled(piece: Piece, fact: preparing.GrainFilled, at_us: int) -> Piece:
    layer = Layer(event=fact.id, at_us=at_us, what="filler", lot=fact.lot, room=fact.room)
    return replace(piece, layers=(*piece.layers, layer))


def _stained(piece: Piece, fact: preparing.Stained, at_us: int) -> Piece:
    layer = Layer(
        event=fact.id, at_us=at_us, what="stain", lot=fact.lot, room=fact.room, binder=fact.binder
    )
    return replace(piece, layers=(*piece.layers, layer), stained=True)


def _coated(piece: Piece, fact: coating.CoatApplied, at_us: int) -> Piece:
    in_rework = piece.in_rework
    coat = Coat(
        event=fact.id,
        at_us=at_us,
        ended_us=micros(fact.ended_at) if fact.ended_at else None,
        lot=fact.lot,
        gun=fact.gun,
        room=fact.room,
        faces=fact.faces,
        role=fact.role,
        method=fact.method,
        wet_film_um=fact.wet_film_um,
        amount_l=fact.amount_l,
        sharers=len(fact.pieces),
        place=fact.pieces.index(piece.piece),
        in_rework=in_rework,
        # Rework repairs the film; only after a strip does the schedule begin again.
        counts=not in_rework or piece.reworks[-1].remedy == "strip",
        actor=fact.actor,
        cleaned=_cleaned_since(piece),
    )
    moves = piece.moves
    if fact.room and fact.room != piece.room_at(at_us):
        moves = (*moves, Move(at_us=at_us, room=fact.room))
    return replace(piece, coats=(*piece.coats, coat), moves=moves)


def _cleaned_since(piece: Piece) -> BlowOff | None:
    """How dust was taken off since the last coat, if anybody said."""
    blown = piece.blown
    if blown is None or (piece.coats and blown.at_us <= piece.coats[-1].at_us):
        return None
    return blown


def _moved(piece: Piece, fact: coating.Moved, at_us: int) -> Piece:
    move = Move(at_us=at_us, room=fact.room, place=fact.place, resting_on=fact.resting_on)
    return replace(piece, moves=(*piece.moves, move))


def _turned(piece: Piece, fact: coating.Turned, at_us: int) -> Piece:
    return replace(piece, moves=(*piece.moves, Move(at_us=at_us, resting_on=fact.resting_on)))


def _checked(piece: Piece, fact: coating.DrynessChecked, at_us: int) -> Piece:
    check = Check(event=fact.id, at_us=at_us, stage=fact.stage, ready=fact.ready, face=fact.face)
    return replace(piece, checks=(*piece.checks, check))


def _inspected(piece: Piece, fact: judging.Inspected, at_us: int) -> Piece:
    look = Inspection(event=fact.id, at_us=at_us, point=fact.point, passed=fact.passed)
    return replace(piece, inspections=(*piece.inspections, look))


def _defect(piece: Piece, fact: judging.DefectFound, at_us: int) -> Piece:
    defect = Defect(
        event=fact.id, at_us=at_us, kind=fact.kind, face=fact.face, extent=fact.extent,
        found_by=fact.found_by, coats_before=len(piece.coats),
    )  # fmt: skip
    return replace(piece, defects=(*piece.defects, defect))


def _packed(piece: Piece, fact: leaving.Packed, at_us: int) -> Piece:
    return replace(piece, packing=Packing(event=fact.id, at_us=at_us, touching=fact.touching))


def _allotted(piece: Piece, fact: orders.PieceAllotted, at_us: int) -> Piece:
    return replace(piece, order=fact.order, line=fact.line)


def _shipped(piece: Piece, fact: leaving.Shipped, at_us: int) -> Piece:
    return replace(_for_order(piece, fact.order), shipped_us=(*piece.shipped_us, at_us))


def _handed(piece: Piece, fact: leaving.HandedOver, at_us: int) -> Piece:
    shipped = piece.shipped_us if piece.stage == "shipped" else (*piece.shipped_us, at_us)
    return replace(_for_order(piece, fact.order), handed_us=at_us, shipped_us=shipped)


def _for_order(piece: Piece, order: str | None) -> Piece:
    """A piece that leaves for another order than it was allotted to leaves that order's line."""
    return piece if order in (None, piece.order) else replace(piece, order=order, line=None)


def _settled(piece: Piece, fact: about.FindingSettled, at_us: int) -> Piece:
    settled = Settled(about=fact.about, code=fact.code, how=fact.how)
    return replace(piece, settled=(*piece.settled, settled))


_ARMS: Mapping[type, Arm] = {
    bare.PieceExpected: _expected,
    bare.PieceStarted: _started,
    bare.WoodMoistureRead: lambda p, f, us: replace(p, moisture_pct=f.moisture_pct),
    preparing.Sanded: _sanded,
    preparing.GrainRaised: lambda p, f, us: replace(p, raised_us=us),
    preparing.BlownOff: _blown,
    preparing.GrainFilled: _filled,
    preparing.Stained: _stained,
    coating.CoatApplied: _coated,
    coating.Turned: _turned,
    coating.Moved: _moved,
    coating.DrynessChecked: _checked,
    judging.Inspected: _inspected,
    judging.DefectFound: _defect,
    judging.ReworkStarted: started,
    judging.ReworkFinished: finished,
    judging.Held: lambda p, f, us: replace(p, held=True),
    judging.Released: lambda p, f, us: replace(p, held=False),
    leaving.RubbedOut: lambda p, f, us: replace(p, rubbed_us=us),
    leaving.Polished: lambda p, f, us: replace(p, polished_us=us),
    leaving.Packed: _packed,
    leaving.Unpacked: lambda p, f, us: replace(p, packing=None),
    leaving.Shipped: _shipped,
    leaving.HandedOver: _handed,
    leaving.Returned: lambda p, f, us: replace(p, returned_us=(*p.returned_us, us), packing=None),
    leaving.Scrapped: lambda p, f, us: replace(p, scrapped_us=us),
    orders.PieceAllotted: _allotted,
    about.FindingSettled: _settled,
}
