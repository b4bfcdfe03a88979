"""The place a fact is judged at, with what several rules ask for read once."""

from collections.abc import Callable
from datetime import date
from functools import lru_cache
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from msgspec.structs import replace

from coatledger.clocks.reached import Reach, Wait
from coatledger.clocks.rooms import Rooms
from coatledger.computations.drying import Stage
from coatledger.events.base import Fact
from coatledger.events.room_gun import GunFlushed, GunStripCleaned
from coatledger.events.setup import GunDescribed, ProductDescribed
from coatledger.findings.finding import Hit, Seen
from coatledger.ledger.correct import Placed
from coatledger.ledger.record import micros, moment
from coatledger.ledger.store import ClimateRow
from coatledger.subjects.lot import Lot
from coatledger.subjects.piece import Piece
from coatledger.subjects.view import View

HOUR_US = 3_600_000_000
# A climate reading is the room's air for so long; common practice, no published source.
READING_HOLDS_H = 12.0
# A clock is no stop-watch: from here on a wait counts as over. Common practice.
NEARLY_OVER = 0.95
EVIDENCE_MOST = 6
GUN_USES = ("coat_applied", "test_sprayed", "gun_set_up", "gun_flushed", "gun_strip_cleaned")
CLEANINGS = (GunFlushed, GunStripCleaned)
LONGEST_DAY_US = 26 * HOUR_US  # a day on which clocks go back has an hour more


class Place:
    """What stood just before a fact. It keeps what it has read; nothing in it is written back."""

    def __init__(
        self, view: View, fact: Fact, at_us: int | None = None, *, asked: str | None = None,
        rooms: Rooms | None = None,
    ) -> None:  # fmt: skip
        """`asked` names the one piece whose findings are wanted; `rooms` are readings at hand."""
        self.view = view
        self.fact = fact
        self.at_us = micros(fact.occurred_at) if at_us is None else at_us
        self.asked = asked
        self.reach = Reach(view, rooms)
        self._pieces: tuple[Piece, ...] | None = None
        self._alike: tuple[tuple[Piece, list[str]], ...] | None = None
        self._uses: dict[str, tuple[Placed, ...]] = {}
        self._readings: dict[str, ClimateRow | None] = {}
        self._waits: dict[tuple[str, Stage, tuple[str, ...]], Wait | None] = {}
        self._sheets: dict[str, ProductDescribed | None] = {}
        self._guns: dict[str, GunDescribed | None] = {}
        self._days: dict[int, date] = {}
        self._zone: ZoneInfo | None = None

    def at(self, at_us: int) -> "Place":
        """Look at the same things with the air of an earlier moment."""
        return Place(self.view, self.fact, at_us)

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """The pieces of the act, as they were."""
        if self._pieces is None:
            words: tuple[str, ...] = getattr(self.fact, "pieces", ())
            self._pieces = tuple(self.view.piece(word) for word in words)
        return self._pieces

    @property
    def alike(self) -> tuple[tuple[Piece, list[str]], ...]:
        """Neighbours among the pieces of which the same is true: their first, and all their words.

        Most acts are done to a batch that went through everything together, so that one look will
        do for all of it.
        """
        if self._alike is None:
            found: list[tuple[Piece, list[str]]] = []
            before: Piece | None = None
            for piece in self.pieces:
                bare = _without_word_and_turn(piece)
                if bare == before:
                    found[-1][1].append(piece.piece)
                else:
                    found.append((piece, [piece.piece]))
                before = bare
            self._alike = tuple(found)
        return self._alike

    def each(self, test: Callable[[Piece], Seen | None]) -> Hit | None:
        """Ask the same of every piece; the hit names those it is true of, and the evidence once.

        When one piece's findings are wanted it is asked first: what is not true of it is none.
        """
        if self.asked is not None and test(self.view.piece(self.asked)) is None:
            return None
        found = [(own, seen) for piece, own in self.alike if (seen := test(piece)) is not None]
        if not found:
            return None
        evidence = tuple(dict.fromkeys(seen for _, seen in found))[:EVIDENCE_MOST]
        words = tuple(word for own, _ in found for word in own)
        return Hit(evidence, words, f"piece:{words[0]}")

    def lot(self, word: str) -> Lot:
        """Return a can as it was."""
        return self.view.lot(word)

    def sheet(self, lot: str | None) -> ProductDescribed | None:
        """Return the data sheet of what is in a can, or None."""
        if lot is None:
            return None
        if lot not in self._sheets:
            self._sheets[lot] = self.view.product_of_lot(lot)
        return self._sheets[lot]

    def room(self) -> str | None:
        """Name the room of the act: as told, or where its first piece stood."""
        told: str | None = getattr(self.fact, "room", None)
        words: tuple[str, ...] = getattr(self.fact, "pieces", ())
        return (
            told if told is not None or not words else self.view.piece(words[0]).room_at(self.at_us)
        )

    def reading(self, room: str | None) -> ClimateRow | None:
        """Return the air of a room if somebody read it lately."""
        if room is None:
            return None
        if room not in self._readings:
            row = self.view.reader.climate_before(room, self.at_us, self.view.known)
            fresh = row is not None and self.at_us - row.at_us <= READING_HOLDS_H * HOUR_US
            self._readings[room] = row if fresh else None
        return self._readings[room]

    def wait(self, piece: Piece, stage: Stage, faces: tuple[str, ...] = ("all",)) -> Wait | None:
        """Return what a piece had still to wait for, None when it was there or nearly so."""
        key = (piece.piece, stage, faces)
        if key not in self._waits:
            wait = self.reach.wait(piece, stage, self.at_us, faces)
            over = wait is None or wait.share >= NEARLY_OVER
            self._waits[key] = None if over else wait
        return self._waits[key]

    def gun(self, word: str) -> GunDescribed | None:
        """Return the gun as described, or None."""
        if word not in self._guns:
            self._guns[word] = self.view.gun_described(word)
        return self._guns[word]

    def uses(self, gun: str) -> tuple[Placed, ...]:
        """Return the last few facts of a gun, oldest first: coats, trials, fillings, cleanings."""
        if gun not in self._uses:
            self._uses[gun] = self.view.last(f"gun:{gun}", GUN_USES, 6)
        return self._uses[gun]

    def uncleaned_use(self, gun: str) -> Placed | None:
        """Return the gun's last use when it was not cleaned after it, or None."""
        uses = self.uses(gun)
        last = uses[-1] if uses else None
        return None if last is None or isinstance(last.fact, CLEANINGS) else last

    def day(self, at_us: int) -> date:
        """Return the day on the shop's wall clock."""
        if at_us not in self._days:
            if self._zone is None:
                shop = self.view.shop()
                self._zone = zone_of("UTC" if shop is None else shop.zone)
            self._days[at_us] = moment(at_us).astimezone(self._zone).date()
        return self._days[at_us]

    def today(self, at_us: int | None) -> bool:
        """Say whether a moment lies on the same day as the fact."""
        return (
            at_us is not None
            and abs(at_us - self.at_us) < LONGEST_DAY_US
            and self.day(at_us) == self.day(self.at_us)
        )

    def hours_since(self, at_us: int) -> float:
        """Return the hours from an earlier moment to the fact."""
        return (self.at_us - at_us) / HOUR_US


def _without_word_and_turn(piece: Piece) -> Piece:
    """Leave out what tells pieces of a batch apart: the turn in an act of which nobody told the
    end decides nothing."""
    coats = tuple([c if c.ended_us is not None else replace(c, place=0) for c in piece.coats])
    return replace(piece, piece="", coats=coats)


@lru_cache(maxsize=64)
def zone_of(name: str) -> ZoneInfo:
    """Return a zone by its name; a name nobody knows is taken for UTC."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError):
        return ZoneInfo("UTC")


def seen(says: str, event: object = None) -> Seen:
    """Write one piece of evidence; a fact or a part of a state lends its event's id."""
    found = getattr(event, "event", None) or getattr(event, "id", None)
    return Seen(says=says, event=found)
