"""Which pieces somebody means: those of an order, or those they name."""

from typing import NamedTuple

from coatledger.subjects.order import Order
from coatledger.subjects.piece import Piece
from coatledger.subjects.view import View


class Meant(NamedTuple):
    """The pieces meant, and words nobody has used."""

    pieces: tuple[Piece, ...]
    order: Order | None = None
    missing: tuple[str, ...] = ()


def meant(view: View, order: str | None, words: tuple[str, ...]) -> Meant:
    """Return the pieces of an order, but for those scrapped, or the pieces of these words."""
    if order is not None:
        state = view.order(order)
        if state.stage == "unborn":
            return Meant((), None, (order,))
        found = tuple(view.piece(word) for word in sorted(one.piece for one in state.pieces))
        return Meant(tuple(piece for piece in found if piece.stage != "scrapped"), state)
    found = tuple(view.piece(word) for word in words)
    return Meant(
        tuple(piece for piece in found if piece.stage != "unborn"),
        None,
        tuple(piece.piece for piece in found if piece.stage == "unborn"),
    )
