"""What the buyer should know: from when a piece may be used, what not to do until then, its care.

The date is the cure clock's, likely and sure; where a finish is not whole yet there is none. The
advice is common practice, no published source: the finish's data sheet decides wherever it says
otherwise.
"""

from collections.abc import Mapping
from datetime import datetime

from msgspec import Struct

from coatledger.clocks.answer import PieceClock
from coatledger.clocks.clocks import shop_clocks
from coatledger.clocks.runs import NO_FACTORS
from coatledger.computations.drying import Spread
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked, iso
from coatledger.subjects.piece import Piece
from coatledger.subjects.plan import plan
from coatledger.subjects.view import View
from coatledger.subjects.whose import meant

UNTIL_THEN: tuple[str, ...] = (
    "Leave it uncovered in a dry, aired room; do not wrap it in plastic or blankets.",
    "Put nothing hot, wet or heavy on it, and nothing of rubber, vinyl or soft plastic.",
    "Do not lay cloths, mats, papers or printed covers on it: they can print through or stick.",
    "Do not clean it with anything but a soft, dry cloth.",
    "Do not stack it, and do not lean anything against its show faces.",
)
ALWAYS: tuple[str, ...] = (
    "Dust it with a soft cloth, dry or barely damp, and dry it after.",
    "Wipe up water, wine, alcohol and perfume at once; use coasters and mats with felt.",
    "No abrasives, ammonia, alcohol or silicone polish: they dull the film or spoil a later coat.",
    "Keep it from strong sun, stoves and radiators, and from very dry or damp air.",
    "If the film is ever scratched through, ask us before anything is put on it.",
)


class CarePiece(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One piece of the card. `in_use` says whether that day has come; `why_not` why there is no
    day."""

    piece: str
    kind: str | None = None
    species: str | None = None
    in_use: bool = False
    likely: datetime | None = None
    sure: datetime | None = None
    finish: tuple[str, ...] = ()
    why_not: str | None = None


class CareCard(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A card for the buyer of these pieces."""

    position: int
    as_of: datetime | None
    pieces: tuple[CarePiece, ...]
    until_then: tuple[str, ...]
    always: tuple[str, ...]
    order: str | None = None
    missing: tuple[str, ...] = ()


def care_card(
    reader: Reader, asked: Asked, order: str | None, words: tuple[str, ...],
    factors: Mapping[str, Spread] = NO_FACTORS,
) -> CareCard:  # fmt: skip
    """Answer what the buyer of an order or of some pieces should know."""
    view = asked.view(reader)
    found = meant(view, order, words)
    clocks = {c.piece: c for c in shop_clocks(view, found.pieces, asked.now_us, factors)}
    told = tuple(_piece(view, piece, clocks[piece.piece]) for piece in found.pieces)
    return CareCard(
        position=asked.position(reader),
        as_of=iso(asked.now_us),
        pieces=told,
        until_then=() if told and all(one.in_use for one in told) else UNTIL_THEN,
        always=ALWAYS,
        order=order,
        missing=found.missing,
    )


def _piece(view: View, piece: Piece, dries: PieceClock) -> CarePiece:
    ready = dries.ready_for("use")
    why_not = _why_not(view, piece, dries)
    given = ready if why_not is None else None
    return CarePiece(
        piece=piece.piece,
        kind=piece.kind,
        species=piece.species,
        in_use=given is not None and given.ready,
        likely=None if given is None else given.likely,
        sure=None if given is None else given.sure,
        finish=_finish(view, piece),
        why_not=why_not,
    )


def _why_not(view: View, piece: Piece, dries: PieceClock) -> str | None:
    steps = plan(piece, view.schedule(piece.schedule))
    ready = dries.ready_for("use")
    if any(face.void is not None for face in dries.faces):
        return "its film dried too cold to become sound"
    if piece.in_rework:
        return "it is being reworked"
    gone = piece.stage in ("packed", "shipped", "passed")
    if ready is None or (not gone and any(step.act == "coat" for step in steps.remaining)):
        return "its finish is not whole yet"
    return None if ready.sure is not None else "in this air its film would never cure"


def _finish(view: View, piece: Piece) -> tuple[str, ...]:
    """Name what lies on the piece, the last coat first, each once."""
    found: dict[str, None] = {}
    for coat in reversed(piece.coats):
        sheet = view.product_of_lot(coat.lot)
        if sheet is not None:
            found[sheet.name or sheet.product] = None
    return tuple(found)
