"""A piece's ways through rework: how each begins and ends, and what it took."""

from msgspec.structs import replace

from coatledger.events import coating, judging, preparing
from coatledger.events.base import Work
from coatledger.subjects.piece import Coat, Piece, Rework
from coatledger.subjects.piece_strip import put_back, strip, strip_after_all


def started(piece: Piece, fact: judging.ReworkStarted, at_us: int) -> Piece:
    """Begin a rework, as a strip or not."""
    reworks = piece.reworks
    if piece.in_rework:  # a second start ends the first: two ways through rework, one after another
        reworks = (*reworks[:-1], replace(reworks[-1], ended_us=at_us))
    rework = Rework(
        event=fact.id, at_us=at_us, remedy=fact.remedy, because=fact.because,
        after_leaving=bool(piece.returned_us), coats_before=len(piece.coats),
    )  # fmt: skip
    piece = replace(piece, reworks=(*reworks, rework), gone=_gone(piece), taken_off=None)
    return strip(piece) if fact.remedy == "strip" else piece


def finished(piece: Piece, fact: judging.ReworkFinished, at_us: int) -> Piece:
    """End a rework by what was done in the end."""
    last = piece.reworks[-1]
    if fact.done == "strip" and last.remedy != "strip":
        piece = strip_after_all(piece, last)
    if fact.done != "strip" and piece.taken_off is not None:
        piece = replace(put_back(piece, piece.taken_off), taken_off=None)
    ended = replace(last, ended_us=at_us, done=fact.done)
    piece = replace(piece, gone=_gone(piece), taken_off=None)
    return _with_last_rework(piece, ended)


def share_of_cost(piece: Piece, fact: Work) -> Piece:
    """Put what an act within rework took down to that rework, evenly shared, in whole units: sums
    of whole numbers come out the same in any order."""
    sharers: int = len(fact.pieces)  # type: ignore[attr-defined]
    last = piece.reworks[-1]
    seconds = round((fact.hands_on_min or 0.0) * 60 / sharers)
    taken_l = getattr(fact, "amount_l", None)
    if taken_l is None and isinstance(fact, coating.CoatApplied) and fact.wet_film_um:
        # What the film holds; what missed the piece is not in it.
        taken_l = fact.wet_film_um * (piece.coat_area_m2 or 0.0) / 1000 * sharers
    unsaid = fact.hands_on_min is None or (
        taken_l is None and isinstance(fact, coating.CoatApplied | preparing.Stained)
    )
    return _with_last_rework(
        piece,
        replace(
            last,
            hands_on_s=last.hands_on_s + seconds,
            finish_ml=last.finish_ml + round((taken_l or 0.0) * 1000 / sharers),
            unsaid=last.unsaid + unsaid,
        ),
    )


def _gone(piece: Piece) -> tuple[Coat, ...]:
    """Coats that came off for good; why pieces come back lies in them as in those that stayed."""
    return piece.gone if piece.taken_off is None else (*piece.gone, *piece.taken_off.coats)


def _with_last_rework(piece: Piece, rework: Rework) -> Piece:
    return replace(piece, reworks=(*piece.reworks[:-1], rework))
