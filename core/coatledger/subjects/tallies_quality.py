"""What each piece adds to the counts by which quality is told apart, and how such a count is read.

One key says all of a piece that others of its batch share: what became of it, how its first looks
went, wood, kinds of defect, and each coat's can, gun, room, person and time. So a year is a few
thousand rows, and a piece is never counted twice under one value. A piece is counted where its
first final inspection decides, as in the other shares.
"""

from collections.abc import Callable, Mapping
from functools import lru_cache
from itertools import groupby
from typing import Final, NamedTuple

from coatledger.subjects.piece import Coat, Piece

NONE: Final = "-"
# A store's index takes no longer keys; what does not fit is counted as not told.
KEY_CHARACTERS_MAX: Final = 1_500
QUARTER_US: Final = 15 * 60 * 1_000_000
POINTS: Mapping[str, str] = {
    "incoming": "i", "bare": "b", "between_coats": "c", "final": "f", "before_packing": "k",
}  # fmt: skip


class CaseCoat(NamedTuple):
    """One coat of a case; None where nobody said. `quarters_before` the case was counted."""

    lot: str
    gun: str | None
    room: str | None
    person: str | None
    quarters_before: int


class Case(NamedTuple):
    """Pieces of one fate, read back from a key.

    `outcome` holds the letters f finally inspected, p passed at first, r reworked in the shop, s
    scrapped; `looks` one letter a point of inspection, a capital where the first look passed.
    """

    at: str
    outcome: str
    looks: str
    wood: str
    kinds: tuple[str, ...]
    coats: tuple[CaseCoat, ...]
    whole: bool


def add_quality(piece: Piece, at_us: int, wood: str, add: Callable[..., None]) -> None:
    """List what a piece that counts as produced at this time adds: `case`, and under `case_of` its
    word, so that the pieces of a time can be found."""
    kinds = ",".join(kinds_of(piece))
    head = (_outcome(piece, at_us), _looks(piece), wood, kinds)
    room = KEY_CHARACTERS_MAX - len("|".join(head))
    add("case", at_us, *head, _coats(piece.ever_coated, at_us, room))
    add("case_of", at_us, piece.piece)


def add_rework_cost(piece: Piece, add: Callable[..., None]) -> None:
    """List `rework_cost`: by where and why, and as what: how often, how often ended, seconds of
    hands, seconds away, millilitres, acts that did not say."""
    for rework in piece.reworks:
        where = "customer" if rework.after_leaving else "shop"
        measures = {
            "count": 1, "hands_on_s": rework.hands_on_s, "finish_ml": rework.finish_ml,
            "unsaid": rework.unsaid,
        }  # fmt: skip
        if rework.ended_us is not None:
            measures |= {"ended": 1, "away_s": (rework.ended_us - rework.at_us) // 1_000_000}
        for measure, value in measures.items():
            if value:
                because = rework.because or "unknown"
                add("rework_cost", rework.at_us, where, because, measure, value=value)


def kinds_of(piece: Piece) -> tuple[str, ...]:
    """Name the kinds of defect the shop found on a piece, or reworked it for, each once."""
    found = {defect.kind for defect in piece.defects if defect.found_by == "shop"}
    why = {rework.because for rework in piece.reworks if not rework.after_leaving}
    return tuple(sorted(kind for kind in found | why if kind is not None))


def case_of(key: str) -> Case:
    """Read a key of `case` back."""
    at, outcome, looks, wood, kinds, coats = key.split("|")
    found, whole = _coats_of(coats)
    return Case(at, outcome, looks, wood, tuple(kinds.split(",")) if kinds else (), found, whole)


@lru_cache(maxsize=20_000)
def _coats_of(text: str) -> tuple[tuple[CaseCoat, ...], bool]:
    """Read coats back, and whether they are all; a year has few different texts."""
    parts = text.split("+") if text else []
    whole = parts[-1:] != ["more"]
    return tuple(
        CaseCoat(lot, _said(gun), _said(room), _said(person), int(before))
        for part in (parts if whole else parts[:-1])
        for lot, gun, room, person, befores in (part.split(","),)
        for before in befores.split(".")
    ), whole


def _said(word: str) -> str | None:
    return None if word == NONE else word


def _outcome(piece: Piece, at_us: int) -> str:
    first = piece.first_final
    letters = ""
    if first is not None:
        reworked_before = any(rework.at_us <= at_us for rework in piece.reworks)
        letters = "fp" if first.passed and not reworked_before else "f"
    if any(not rework.after_leaving for rework in piece.reworks):
        letters += "r"
    return letters if piece.scrapped_us is None else letters + "s"


def _looks(piece: Piece) -> str:
    """Write the first look at each point the piece was looked at."""
    first: dict[str, bool] = {}
    for look in piece.inspections:
        first.setdefault(look.point, look.passed)
    return "".join(
        letter.upper() if first[point] else letter
        for point, letter in POINTS.items()
        if point in first
    )


def _coats(coats: tuple[Coat, ...], at_us: int, room: int) -> str:
    """Write coats in their order; what follows one another in all but its time is written once."""
    parts: list[str] = []
    for who, group in groupby(coats, key=lambda c: (c.lot, c.gun, c.room, c.actor)):
        befores = ".".join(str(at_us // QUARTER_US - c.at_us // QUARTER_US) for c in group)
        parts.append(",".join((*(word or NONE for word in who), befores)))
        room -= len(parts[-1]) + 1
        if room < len("more"):
            return "+".join((*parts[:-1], "more"))
    return "+".join(parts)
