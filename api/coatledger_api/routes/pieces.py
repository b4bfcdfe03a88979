"""Pieces: what each is ready for, what may come next, what happened to it, when it may ship."""

from typing import Annotated

from coatledger.answers.history import HistoryAnswer, history_of
from coatledger.answers.pieces import (
    ClockList,
    PieceAnswer,
    PieceList,
    clock_list,
    piece_answer,
    piece_list,
)
from coatledger.events.base import Word
from coatledger.ledger.store import Reader
from coatledger.subjects.piece_life import Stage
from coatledger_adapters.public_holidays import holidays_around
from msgspec import Meta

from coatledger_api.operations import Call, Operation, asked, reading
from coatledger_api.parameters import AsOf
from coatledger_api.problems import ProblemError

Stages = Annotated[tuple[Stage, ...], Meta(max_length=10, description="Only these stages.")]


class PiecesQuery(AsOf, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which pieces, and where the page begins."""

    stage: Stages = ()
    order: Word | None = None
    room: Word | None = None
    after: Annotated[Word | None, Meta(description="Begin after this piece.")] = None
    limit: Annotated[int, Meta(ge=1, le=500, description="At most so many pieces.")] = 100


class OnePiece(AsOf, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which piece."""

    piece: Word


class ClocksQuery(AsOf, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which room."""

    room: Word | None = None


@reading("/v1/pieces", tag="Pieces", kept=True)
def list_pieces(call: Call[PiecesQuery], reader: Reader) -> PieceList:
    """List pieces with their stage, readiness and next step.

    Without `stage` these are the pieces that are here or expected. `next_after` is the `after` of
    the next page, null on the last.
    """
    query = call.query
    place = asked(call, reader)
    return piece_list(
        reader,
        place,
        stages=query.stage or None,
        order=query.order,
        room=query.room,
        after=query.after or "",
        limit=query.limit,
        factors=call.service.learning.factors(reader, place),
    )


@reading("/v1/pieces/{piece}", tag="Pieces", problems=("not_found",), kept=True)
def read_piece(call: Call[OnePiece], reader: Reader) -> PieceAnswer:
    """Read everything about one piece.

    Its stage, the clock of each face, what may come next and from when, findings with what to do,
    a first ship estimate, and the facts behind them.
    """
    place = asked(call, reader)
    holidays = holidays_around(reader, place)
    factors = call.service.learning.factors(reader, place)
    found = piece_answer(reader, call.query.piece, place, holidays, factors)
    if found is None:
        raise ProblemError("not_found", f"no piece {call.query.piece} was known then")
    return found


@reading("/v1/pieces/{piece}/history", tag="Pieces", problems=("not_found",))
def read_piece_history(call: Call[OnePiece], reader: Reader) -> HistoryAnswer:
    """Read every event that names a piece.

    In order of occurrence, with its own bytes, who recorded it, how late, and what was corrected.
    """
    found = history_of(reader, f"piece:{call.query.piece}", asked(call, reader))
    if found is None:
        raise ProblemError("not_found", f"no piece {call.query.piece} was known then")
    return found


@reading("/v1/clocks", tag="Pieces", kept=True)
def list_clocks(call: Call[ClocksQuery], reader: Reader) -> ClockList:
    """List what dries now, the soonest ready first.

    `valid_until` is when the next stage is surely reached: the answer changes then without an
    event.
    """
    place = asked(call, reader)
    factors = call.service.learning.factors(reader, place)
    return clock_list(reader, place, room=call.query.room, factors=factors)


OPERATIONS: tuple[Operation, ...] = (list_pieces, read_piece, read_piece_history, list_clocks)
