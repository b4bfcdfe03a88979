"""What goes into the box: which pieces of which order, wrapped in what, and when they left."""

from datetime import datetime

from msgspec import Struct

from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked, iso
from coatledger.subjects.piece import Piece
from coatledger.subjects.whose import meant


class SlipLine(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One line of the order, and how many pieces of it are in the box."""

    line: str
    quantity: int
    here: int
    sku: str | None = None
    offering: str | None = None


class SlipPiece(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One piece in the box. `touching` is what lies against its film."""

    piece: str
    stage: str
    kind: str | None = None
    species: str | None = None
    line: str | None = None
    packed_at: datetime | None = None
    touching: str | None = None
    shipped_at: datetime | None = None


class PackingSlip(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What goes with a shipment. No customer is named: the shop's own paper does that."""

    position: int
    as_of: datetime | None
    pieces: tuple[SlipPiece, ...]
    order: str | None = None
    lines: tuple[SlipLine, ...] = ()
    missing: tuple[str, ...] = ()


def packing_slip(
    reader: Reader, asked: Asked, order: str | None, words: tuple[str, ...]
) -> PackingSlip:
    """Answer what goes into the box of an order or of some pieces."""
    found = meant(asked.view(reader), order, words)
    lines = () if found.order is None else found.order.lines
    return PackingSlip(
        position=asked.position(reader),
        as_of=iso(asked.now_us),
        pieces=tuple(_piece(piece) for piece in found.pieces),
        order=order,
        lines=tuple(
            SlipLine(
                line=line.line,
                quantity=line.quantity,
                here=sum(piece.line == line.line for piece in found.pieces),
                sku=line.sku,
                offering=line.offering,
            )
            for line in lines
        ),
        missing=found.missing,
    )


def _piece(piece: Piece) -> SlipPiece:
    return SlipPiece(
        piece=piece.piece,
        stage=piece.stage,
        kind=piece.kind,
        species=piece.species,
        line=piece.line,
        packed_at=iso(piece.packing.at_us) if piece.packing else None,
        touching=piece.packing.touching if piece.packing else None,
        shipped_at=iso(piece.shipped_us[0]) if piece.shipped_us else None,
    )
