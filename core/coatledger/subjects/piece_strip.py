"""What a strip does to a piece: its film is gone and the schedule begins again.

A rework that was begun as a strip may end as something else, and the other way round; what was
done in the end decides, and the piece is put right then.
"""

from msgspec.structs import replace

from coatledger.subjects.piece import BlowOff, Film, Piece, Rework, Sanding


def strip(piece: Piece) -> Piece:
    """Take everything off the wood, and remember it until the rework is over."""
    film = Film(
        coats=piece.coats, layers=piece.layers, sandings=piece.sandings, blown=piece.blown,
        raised_us=piece.raised_us, rubbed_us=piece.rubbed_us, polished_us=piece.polished_us,
    )  # fmt: skip
    return replace(
        piece, stripped=piece.stripped + len(piece.coats), taken_off=film, coats=(), layers=(),
        sandings=(), blown=None, raised_us=None, rubbed_us=None, polished_us=None,
    )  # fmt: skip


def strip_after_all(piece: Piece, rework: Rework) -> Piece:
    """It was stripped as the rework began: what was put on since begins the schedule again."""
    gone, since_us = rework.coats_before, rework.at_us
    return replace(
        piece,
        stripped=piece.stripped + gone,
        gone=(*piece.gone, *piece.coats[:gone]),
        coats=tuple(replace(coat, counts=True) for coat in piece.coats[gone:]),
        layers=tuple(layer for layer in piece.layers if layer.at_us >= since_us),
        sandings=_over(-gone, tuple(s for s in piece.sandings if s.at_us >= since_us)),
        blown=piece.blown if _since(piece.blown, since_us) else None,
        raised_us=_later(piece.raised_us, since_us),
        rubbed_us=_later(piece.rubbed_us, since_us),
        polished_us=_later(piece.polished_us, since_us),
    )


def put_back(piece: Piece, film: Film) -> Piece:
    """Nothing was stripped after all: the old film is there, and what came since repaired it."""
    under = len(film.coats)
    return replace(
        piece,
        stripped=piece.stripped - under,
        coats=(*film.coats, *(replace(coat, counts=False) for coat in piece.coats)),
        layers=(*film.layers, *piece.layers),
        sandings=(*film.sandings, *_over(under, piece.sandings)),
        blown=piece.blown or film.blown,
        raised_us=piece.raised_us or film.raised_us,
        rubbed_us=piece.rubbed_us or film.rubbed_us,
        polished_us=piece.polished_us or film.polished_us,
    )


def _over(coats: int, sandings: tuple[Sanding, ...]) -> tuple[Sanding, ...]:
    return tuple(replace(s, coats_before=max(0, s.coats_before + coats)) for s in sandings)


def _since(blown: BlowOff | None, since_us: int) -> bool:
    return blown is not None and blown.at_us >= since_us


def _later(at_us: int | None, since_us: int) -> int | None:
    return at_us if at_us is not None and at_us >= since_us else None
