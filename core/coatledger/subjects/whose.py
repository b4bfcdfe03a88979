"""Which pieces somebody means: those of an order, and those they name."""

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
    """Return the pieces of an order, but for those scrapped, then the pieces of these words."""
    state = None if order is None else view.order(order)
    missing: tuple[str, ...] = ()
    ordered: list[str] = []
    if state is not None and state.stage == "unborn":
        missing, state = (state.order,), None
    elif state is not None:
        ordered = sorted(one.piece for one in state.pieces)
    found = {word: view.piece(word) for word in dict.fromkeys((*ordered, *words))}
    here = (word not in ordered or piece.stage != "scrapped" for word, piece in found.items())
    return Meant(
        tuple(
            piece
            for piece, kept in zip(found.values(), here, strict=True)
            if kept and piece.stage != "unborn"
        ),
        state,
        (*missing, *(word for word, piece in found.items() if piece.stage == "unborn")),
    )
