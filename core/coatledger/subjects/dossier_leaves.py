"""Which events a proof pack holds: all that name the piece, and what those lean on."""

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise
from typing import Final, NamedTuple

from coatledger.events.catalogue import EventAmended, original_of
from coatledger.events.coating import CoatApplied, Moved
from coatledger.events.finish import LotMixed, LotReceived
from coatledger.events.preparing import GrainFilled, Stained
from coatledger.ledger.correct import CORRECTION_TAGS, FAR, Placed, history, last
from coatledger.ledger.record import Recorded, Row, recorded
from coatledger.ledger.store import Reader

HOUR_US: Final = 3_600_000_000
# Where no sheet says how long a film cures. Common practice, no published source.
CURE_H: Final = 168.0
# More readings than these are counted and left out: a pack is read by people.
AIR_MAX: Final = 5_000
RUN_GAP: Final = 16

LOT_TYPES: Final = (
    "lot_received", "lot_mixed", "lot_opened", "lot_stirred", "lot_strained", "viscosity_measured",
    "lot_frozen",
)  # fmt: skip
SHEET: Final = ("product_described",)
GUN_TYPES: Final = ("gun_described", "gun_set_up", "gun_flushed", "gun_strip_cleaned")
LEAVING: Final = ("packed", "shipped", "handed_over", "scrapped")
"""A film that is packed or gone dries where nobody reads the air."""


class Window(NamedTuple):
    """Where and how long a film dried under the eyes of the shop."""

    room: str
    first_us: int
    last_us: int


class Leaves:
    """The events picked so far, each with the reasons why it is here."""

    def __init__(self, reader: Reader, piece: str, size: int) -> None:
        self.reader = reader
        self.size = size
        self.subject = f"piece:{piece}"
        self.rows: dict[int, Row] = {}
        self.why: dict[int, list[str]] = {}
        self.air_left_out = 0

    def add(self, rows: Iterable[Row], why: str) -> None:
        """Take events in."""
        for row in rows:
            if row.position > self.size:
                continue
            self.rows[row.position] = row
            reasons = self.why.setdefault(row.position, [])
            if why not in reasons:
                reasons.append(why)

    def add_at(self, positions: Iterable[int], why: str) -> None:
        """Take events in by their positions, near ones in one read."""
        wanted = sorted(set(positions))
        run: list[int] = []
        for position in wanted:
            if run and position - run[-1] > RUN_GAP:
                self._read(run, why)
                run = []
            run.append(position)
        if run:
            self._read(run, why)

    def add_placed(self, placed: Iterable[Placed], why: str) -> None:
        """Take facts in, and the amendments that say how they read."""
        found = tuple(placed)
        self.add_at([p.position for p in found], why)
        self.add_at([p.corrected_at for p in found if p.corrected_at], why)

    def add_subject(self, subject: str, types: Sequence[str], why: str) -> None:
        """Take a subject's events of some types in, and the corrections of those."""
        rows = self.reader.of_subject(subject, known=self.size, types=types)
        self.add(rows, why)
        own = {row.event_id for row in rows}
        for row in self.reader.of_subject(subject, known=self.size, types=CORRECTION_TAGS):
            event = recorded(row).event
            if original_of(event) in own:
                self.add((row,), why)

    def events(self) -> tuple[Recorded, ...]:
        """Decode what was picked, in order of position."""
        return tuple(recorded(self.rows[position]) for position in sorted(self.rows))

    def _read(self, run: Sequence[int], why: str) -> None:
        wanted = set(run)
        rows = self.reader.rows(run[0] - 1, run[-1] - run[0] + 1)
        self.add((row for row in rows if row.position in wanted), why)


def leaves_of(reader: Reader, piece: str, size: int) -> Leaves:
    """Pick the events of a piece's pack out of the first `size` events of a ledger."""
    leaves = Leaves(reader, piece, size)
    rows = reader.of_subject(leaves.subject, known=size)
    leaves.add(rows, "piece")
    facts = history(reader, leaves.subject, known=size)
    _add_originals(leaves, rows)
    films = tuple(p for p in facts if isinstance(p.fact, (CoatApplied, Stained, GrainFilled)))
    cure_h = {lot: _add_lot(leaves, lot) for lot in sorted(_lots(films))}
    for placed in films:
        _add_gun(leaves, placed)
    _add_air(leaves, windows(facts, films, cure_h))
    _add_checks(leaves)
    return leaves


def windows(
    facts: Sequence[Placed], films: Sequence[Placed], cure_h: Mapping[str, float]
) -> tuple[Window, ...]:
    """Say in which rooms, from when to when, each film of a piece dried here."""
    left = sorted(p.at_us for p in facts if p.fact.__struct_config__.tag in LEAVING)
    starts = sorted({p.at_us for p in films})
    longest = {
        p.at_us: cure_h.get(getattr(p.fact, "lot", None) or "", CURE_H) * HOUR_US for p in films
    }
    places = sorted(
        (p.at_us, p.fact.room)
        for p in facts
        if isinstance(p.fact, (CoatApplied, Stained, Moved)) and p.fact.room is not None
    )
    found: list[Window] = []
    for start, following in pairwise([*starts, FAR]):
        gone = next((at for at in left if at >= start), FAR)
        end = min(following, gone, start + round(longest[start]))
        found += _stays(places, start, end)
    return tuple(found)


def _stays(places: Sequence[tuple[int, str]], start: int, end: int) -> list[Window]:
    """Cut a time into the rooms the piece stood in; where nobody said, the first room named."""
    before = [room for at, room in places if at <= start]
    room = before[-1] if before else next((room for _, room in places), None)
    stays: list[Window] = []
    for at, following in (*((a, r) for a, r in places if start < a < end), (end, None)):
        if room is not None and at > start:
            stays.append(Window(room, start, at))
        start, room = at, following
    return stays


def _add_originals(leaves: Leaves, rows: Iterable[Row]) -> None:
    """An amendment may bring in a piece that the original did not name."""
    ids = [e.original for row in rows if isinstance(e := recorded(row).event, EventAmended)]
    found = leaves.reader.by_id(ids).values()
    leaves.add((row for row in found if row.position not in leaves.rows), "original")


def _lots(films: Iterable[Placed]) -> set[str]:
    return {lot for p in films if (lot := getattr(p.fact, "lot", None)) is not None}


def _add_lot(leaves: Leaves, lot: str, depth: int = 0) -> float:
    """Take a can in, what it was mixed of, and its sheets; return how long its film cures."""
    leaves.add_subject(f"lot:{lot}", LOT_TYPES, f"lot:{lot}")
    births = history(
        leaves.reader, f"lot:{lot}", known=leaves.size, types=("lot_received", "lot_mixed")
    )
    cure_h = CURE_H
    for placed in births:
        fact = placed.fact
        if not isinstance(fact, (LotReceived, LotMixed)) or fact.lot != lot:
            continue
        subject = f"product:{fact.product}"
        leaves.add_subject(subject, SHEET, subject)
        for sheet in history(leaves.reader, subject, known=leaves.size, types=SHEET):
            cure_h = getattr(sheet.fact, "cure_h", None) or cure_h
        if isinstance(fact, LotMixed) and depth < 10:
            for parent in fact.parents:
                _add_lot(leaves, parent.lot, depth + 1)
    return cure_h


def _add_gun(leaves: Leaves, film: Placed) -> None:
    gun = getattr(film.fact, "gun", None)
    for tag in GUN_TYPES if gun else ():
        found = last(leaves.reader, f"gun:{gun}", (tag,), film.at_us, before=film.position,
                     known=leaves.size)  # fmt: skip
        leaves.add_placed(found, f"gun:{gun}")


def _add_air(leaves: Leaves, found: Iterable[Window]) -> None:
    positions: dict[str, dict[int, None]] = {}
    for room, first_us, last_us in found:
        inside = positions.setdefault(room, {})
        before = leaves.reader.climate_before(room, first_us, leaves.size)
        rows = leaves.reader.climate(room, first_us, last_us, leaves.size)
        inside.update(dict.fromkeys(row.position for row in (before, *rows) if row is not None))
    for room, inside in sorted(positions.items()):
        kept = sorted(inside)
        leaves.air_left_out += len(kept[AIR_MAX:])
        leaves.add_at(kept[:AIR_MAX], f"room:{room}")


def _add_checks(leaves: Leaves) -> None:
    """Take in the last check of each instrument before it was last read here."""
    used: dict[str, int] = {}
    for row in leaves.events():
        for subject in row.previous:
            if subject.startswith("instrument:"):
                at_us = leaves.rows[row.position].occurred_us
                used[subject] = max(at_us, used.get(subject, at_us))
    for subject, at_us in sorted(used.items()):
        checks = last(leaves.reader, subject, ("instrument_checked",), at_us, known=leaves.size)
        leaves.add_placed(checks, subject)
