"""What stands on a label: a piece, a can, a gun or a room in a few lines, by which people know it.

A label is for the shop's own eyes, but it may be lost: it names no customer, and its code no more
than the subject's word.
"""

from collections.abc import Callable, Iterable, Mapping
from datetime import date
from itertools import islice
from typing import Literal

from msgspec import Struct

from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked
from coatledger.subjects.counts import lots, pieces, words
from coatledger.subjects.lot import Lot
from coatledger.subjects.piece import Piece
from coatledger.subjects.piece_life import OPEN_STAGES
from coatledger.subjects.view import View

LabelKind = Literal["piece", "lot", "gun", "room"]
LABELS_MAX = 1000


class LabelText(Struct, frozen=True, kw_only=True):
    """One label in words, the most important line first."""

    kind: LabelKind
    word: str
    lines: tuple[str, ...]


class LabelList(Struct, frozen=True, kw_only=True):
    """Labels in order of their words, or as they were asked for. `next_after` begins the next page;
    `missing` are words nobody has used yet."""

    position: int
    kind: LabelKind
    labels: tuple[LabelText, ...]
    next_after: str | None = None
    missing: tuple[str, ...] = ()


def label_list(
    reader: Reader, asked: Asked, kind: LabelKind, ids: tuple[str, ...] = (), after: str = ""
) -> LabelList:
    """Say what stands on the labels of some subjects, or of all that are here."""
    view = asked.view(reader)
    says = _SAYS[kind]
    if ids:
        told = [(word, says(view, word)) for word in ids]
        return LabelList(
            position=asked.position(reader),
            kind=kind,
            labels=tuple(
                LabelText(kind=kind, word=word, lines=lines)
                for word, lines in told
                if lines is not None
            ),
            missing=tuple(word for word, lines in told if lines is None),
        )
    found = tuple(islice(_here(reader, asked, kind, after), LABELS_MAX + 1))
    shown = [(word, says(view, word)) for word in found[:LABELS_MAX]]
    return LabelList(
        position=asked.position(reader),
        kind=kind,
        labels=tuple(LabelText(kind=kind, word=word, lines=lines or ()) for word, lines in shown),
        next_after=found[LABELS_MAX - 1] if len(found) > LABELS_MAX else None,
    )


def _here(reader: Reader, asked: Asked, kind: LabelKind, after: str) -> Iterable[str]:
    if kind == "piece":
        return (piece.piece for piece in pieces(reader, asked, OPEN_STAGES, after=after))
    if kind == "lot":
        return (lot.lot for lot in lots(reader, asked, ("closed", "open")) if lot.lot > after)
    return (word for word in words(kind, reader) if word > after)


def _piece(view: View, word: str) -> tuple[str, ...] | None:
    piece = view.piece(word)
    if piece.stage == "unborn":
        return None
    what = ", ".join(part for part in (piece.kind, piece.species) if part)
    due = _due(view, piece)
    order = f"order {piece.order}" if piece.order else ""
    return tuple(line for line in (what, f"due {_day(due)}" if due else "", order) if line)


def _due(view: View, piece: Piece) -> str | None:
    """The day its customer was told last; else the day they wished for."""
    if piece.order is None:
        return None
    order = view.order(piece.order)
    told = order.told_of(piece.line)
    return told[-1].ships_by if told else order.wanted_by


def _lot(view: View, word: str) -> tuple[str, ...] | None:
    lot = view.lot(word)
    if lot.stage == "unborn" and lot.product is None:
        return None
    return tuple(line for line in ("can", _holds(view, lot), _ends(lot)) if line)


def _holds(view: View, lot: Lot) -> str:
    sheet = view.product(lot.product)
    named = sheet.name if sheet is not None and sheet.name else lot.product
    return f"{'mix of ' if lot.mixed else ''}{named or ''}"


def _ends(lot: Lot) -> str:
    return f"use by {_day(lot.use_by)}" if lot.use_by else ""


def _gun(view: View, word: str) -> tuple[str, ...] | None:
    gun = view.gun_described(word)
    if gun is None:
        return None
    return tuple(line for line in ("gun", gun.name or "", gun.method.replace("_", "-")) if line)


def _room(view: View, word: str) -> tuple[str, ...] | None:
    room = view.room(word)
    return None if room is None else tuple(line for line in ("room", room.name or "") if line)


_SAYS: Mapping[LabelKind, Callable[[View, str], tuple[str, ...] | None]] = {
    "piece": _piece, "lot": _lot, "gun": _gun, "room": _room,
}  # fmt: skip


def _day(written: str) -> str:
    day = date.fromisoformat(written)
    return f"{day:%a} {day.day} {day:%b %Y}"
