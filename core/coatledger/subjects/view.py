"""What was true of each subject at one place of the history: a time, seen from one knowledge.

A view answers from stored folds where the present is asked, and folds the effective history again
where it is not. The place lies before every fact at the same time whose position is `before` or
more, so that a fact can be judged by what came before it.
"""

from coatledger.events.base import Fact
from coatledger.events.setup import (
    GunDescribed,
    OfferingDescribed,
    ProductDescribed,
    RoomDescribed,
    ScheduleDescribed,
    ShopDescribed,
)
from coatledger.ledger.correct import FAR, Placed, history, last
from coatledger.ledger.store import ClimateRow, Reader
from coatledger.subjects.described import Offering, Product, Room, Schedule, Shop, in_force
from coatledger.subjects.gun import Gun
from coatledger.subjects.lot import Lot
from coatledger.subjects.order import Order
from coatledger.subjects.parked import ParkedError
from coatledger.subjects.piece import Piece
from coatledger.subjects.registry import FOLDS, Fold, kind_of, state_of, word_of


class View:
    """One place in the ledger of one shop. Cheap to make; it remembers what it has read."""

    def __init__(
        self, reader: Reader, at_us: int, *, before: int = FAR, known: int | None = None
    ) -> None:
        self.reader = reader
        self.at_us = at_us
        self.before = before
        self.known = known
        self._states: dict[str, object] = {}

    def piece(self, word: str) -> Piece:
        """Return a piece as it was; stage `unborn` when nobody had started it."""
        state = self._state(f"piece:{word}")
        assert isinstance(state, Piece)
        return state

    def lot(self, word: str) -> Lot:
        """Return a can or mix as it was; stage `unborn` when it was not described."""
        state = self._state(f"lot:{word}")
        assert isinstance(state, Lot)
        return state

    def order(self, word: str) -> Order:
        """Return an order as it was."""
        state = self._state(f"order:{word}")
        assert isinstance(state, Order)
        return state

    def gun(self, word: str) -> Gun:
        """Return a gun as it was."""
        subject = f"gun:{word}"
        if subject not in self._states and self.known is None and self.before == FAR:
            stored = self.reader.folds((subject,)).get(subject)
            if stored is not None and stored.folded_us <= self.at_us:
                self._states[subject] = state_of("gun", stored.state)
        if subject not in self._states:
            types = FOLDS["gun"].types or ()
            newest = tuple(p for tag in types for p in self.last(subject, (tag,)))
            self._states[subject] = fold(subject, newest)
        state = self._states[subject]
        assert isinstance(state, Gun)
        return state

    def product(self, word: str | None, at_us: int | None = None) -> ProductDescribed | None:
        """Return the data sheet in force (or in force at another time), or None when nobody
        described the product."""
        state = self._described(f"product:{word}") if word else None
        if not isinstance(state, Product):
            return None
        return in_force(state.versions, self.at_us if at_us is None else at_us)

    def product_of_lot(self, lot: str | None, at_us: int | None = None) -> ProductDescribed | None:
        """Return the data sheet in force of what is in a can."""
        return self.product(self.lot(lot).product, at_us) if lot else None

    def room(self, word: str | None) -> RoomDescribed | None:
        """Return the room's description in force, or None."""
        state = self._described(f"room:{word}") if word else None
        return in_force(state.versions, self.at_us) if isinstance(state, Room) else None

    def gun_described(self, word: str | None) -> GunDescribed | None:
        """Return the gun's description in force, or None."""
        return in_force(self.gun_versions(word), self.at_us) if word else None

    def gun_versions(self, word: str) -> tuple[GunDescribed, ...]:
        """Return all descriptions of a gun as known."""
        subject = f"gun:{word}"
        if self.known is None:
            stored = self.reader.folds((subject,)).get(subject)
            gun = None if stored is None else state_of("gun", stored.state)
        else:
            told = history(self.reader, subject, known=self.known, types=("gun_described",))
            gun = fold(subject, told)
        return gun.versions if isinstance(gun, Gun) else ()

    def schedule(self, word: str | None) -> ScheduleDescribed | None:
        """Return the schedule's version in force, or None."""
        state = self._described(f"schedule:{word}") if word else None
        return in_force(state.versions, self.at_us) if isinstance(state, Schedule) else None

    def offering(self, word: str | None) -> OfferingDescribed | None:
        """Return the offering's version in force, or None."""
        state = self._described(f"offering:{word}") if word else None
        return in_force(state.versions, self.at_us) if isinstance(state, Offering) else None

    def shop(self) -> ShopDescribed | None:
        """Return the shop's description in force, or None."""
        return in_force(self.shop_state().versions, self.at_us)

    def shop_state(self) -> Shop:
        """Return the shop's descriptions, closures and absences as known."""
        state = self._described("shop")
        assert isinstance(state, Shop)
        return state

    def last(self, subject: str, types: tuple[str, ...], count: int = 1) -> tuple[Placed, ...]:
        """Return the last few facts of some types before this place, oldest first."""
        return last(
            self.reader, subject, types, self.at_us, before=self.before, known=self.known,
            count=count,
        )  # fmt: skip

    def climate(self, room: str, first_us: int, last_us: int) -> tuple[ClimateRow, ...]:
        """Return a room's readings between two times, as known."""
        return tuple(self.reader.climate(room, first_us, last_us, self.known))

    def climate_before(self, room: str | None) -> ClimateRow | None:
        """Return the last reading of a room at or before this place, or None."""
        return self.reader.climate_before(room, self.at_us, self.known) if room else None

    def _state(self, subject: str) -> object:
        """Return a state at this place: the stored fold where it says the same, else a new one."""
        if subject not in self._states:
            kind = kind_of(subject)
            stored = self.reader.folds((subject,)).get(subject)
            present = self.known is None and self.before == FAR
            if stored is None:
                self._states[subject] = FOLDS[kind].initial(word_of(subject))
            elif present and stored.folded_us <= self.at_us:
                self._states[subject] = state_of(kind, stored.state)
            else:
                self._states[subject] = self._folded(subject)
        return self._states[subject]

    def _described(self, subject: str) -> object:
        """Return all descriptions as known: what was told later of an earlier time counts."""
        if subject not in self._states:
            kind = kind_of(subject)
            if self.known is None:
                stored = self.reader.folds((subject,)).get(subject)
                state = None if stored is None else state_of(kind, stored.state)
            else:
                state = fold(subject, history(self.reader, subject, known=self.known,
                                              types=FOLDS[kind].types))  # fmt: skip
            self._states[subject] = state or FOLDS[kind].initial(word_of(subject))
        return self._states[subject]

    def _folded(self, subject: str) -> object:
        facts = history(self.reader, subject, known=self.known, until_us=self.at_us)
        return fold(
            subject, tuple(p for p in facts if (p.at_us, p.position) < (self.at_us, self.before))
        )


def fold(subject: str, facts: tuple[Placed, ...]) -> object:
    """Fold effective facts, in their order, into the subject's state."""
    kind = FOLDS[kind_of(subject)]
    state = kind.initial(word_of(subject))
    for placed in facts:
        state = evolved(subject, kind, state, placed.fact)
    return state


def evolved(subject: str, kind: Fold, state: object, fact: Fact) -> object:
    """Fold one fact on; where the program cannot, the subject is parked and nothing else."""
    try:
        return kind.evolve(state, fact)
    except Exception as error:
        raise ParkedError(f"{subject}: {error!r}") from error
