"""Places one after another: views just before each fact; and one piece's life, its states and air.

The same cans, guns and sheets are asked at every place, each place later than the one before:
what was folded for one is folded on from there, and nothing is read twice.
"""

from typing import Any

from coatledger.clocks.films import films_of
from coatledger.clocks.rooms import Rooms, path_of
from coatledger.clocks.sheets import cured_h
from coatledger.computations.drying_climate import HOUR_US
from coatledger.events.coating import CoatApplied
from coatledger.events.preparing import GrainFilled, Stained
from coatledger.events.setup import GunDescribed
from coatledger.ledger.correct import CORRECTION_TAGS, Placed, history, last
from coatledger.ledger.record import Row
from coatledger.subjects.described import in_force
from coatledger.subjects.piece import Coat, Layer, Piece
from coatledger.subjects.registry import FOLDS, kind_of, word_of
from coatledger.subjects.view import View, evolved


class Walk:
    """Views of one place after another, each no earlier than the one before."""

    def __init__(self, view: View) -> None:
        self.view = view
        self._begun: dict[str, tuple[tuple[Placed, ...], int, Any]] = {}
        self._guns: dict[str, tuple[GunDescribed, ...]] = {}
        self._corrections: dict[str, tuple[Row, ...]] = {}

    def before(self, one: Placed, piece: Piece | None = None) -> View:
        """Look from just before a fact; of a piece that is known already nothing is read."""
        return _Before(self, one, piece)

    def state(self, subject: str, place: tuple[int, int]) -> object:
        """Fold a subject on to a place."""
        facts, done, state = self._read(subject)
        while done < len(facts) and facts[done][:2] < place:
            state = evolved(subject, FOLDS[kind_of(subject)], state, facts[done].fact)
            done += 1
        self._begun[subject] = facts, done, state
        return state

    def facts(self, subject: str) -> tuple[Placed, ...]:
        """Return all a subject's effective facts as known, read once."""
        return self._read(subject)[0]

    def gun_versions(self, word: str) -> tuple[GunDescribed, ...]:
        """Return all descriptions of a gun as known."""
        if word not in self._guns:
            self._guns[word] = self.view.gun_versions(word)
        return self._guns[word]

    def corrections(self, subject: str) -> tuple[Row, ...]:
        """Return all corrections naming a subject as known."""
        if subject not in self._corrections:
            rows = self.view.reader.of_subject(
                subject, known=self.view.known, types=CORRECTION_TAGS
            )
            self._corrections[subject] = tuple(rows)
        return self._corrections[subject]

    def _read(self, subject: str) -> tuple[tuple[Placed, ...], int, Any]:
        if subject not in self._begun:
            facts = history(self.view.reader, subject, known=self.view.known)
            self._begun[subject] = facts, 0, FOLDS[kind_of(subject)].initial(word_of(subject))
        return self._begun[subject]


class Life(Walk):
    """A piece's facts up to the view's moment, the piece before each of them, and at the end."""

    def __init__(self, view: View, piece: str) -> None:
        super().__init__(view)
        self.placed = history(view.reader, f"piece:{piece}", known=view.known, until_us=view.at_us)
        subject, kind = f"piece:{piece}", FOLDS["piece"]
        self.states: list[Piece] = [kind.initial(piece)]
        for one in self.placed:
            state = evolved(subject, kind, self.states[-1], one.fact)
            assert isinstance(state, Piece)
            self.states.append(state)
        self.end = self.states[-1]
        self._air: Rooms | None = None

    @property
    def air(self) -> Rooms:
        """The rooms' readings from the first thing that dried on, also if it was stripped since."""
        if self._air is None:
            now_us = self.view.at_us
            wet = [
                p.at_us
                for p in self.placed
                if isinstance(p.fact, CoatApplied | Stained | GrainFilled)
            ]
            films = [films_of(self.view, state) for state in self._before_strips()]
            cure_h = max((cured_h(f.read) for own in films for f in own), default=0.0)
            # A guess with room to spare; a film that takes longer makes the rooms read on.
            last_us = (wet[-1] if wet else now_us) + round((24.0 + 2.5 * cure_h) * HOUR_US)
            self._air = Rooms(self.view, now_us, wet[0] if wet else now_us, last_us)
            for own in films:
                self._air.follow(path_of(self.end, own, now_us))
        return self._air

    def _before_strips(self) -> list[Piece]:
        """Return the last state for each film the piece bore that began anew on bare wood."""
        found: dict[object, Piece] = {}
        for state in self.states:
            films: tuple[Coat | Layer, ...] = (*state.layers, *state.coats)
            first = min(films, key=lambda film: film.at_us, default=None)
            if first is not None:
                found[first.event] = state
        return list(found.values())


class _Before(View):
    """A view just before a fact, folded on from the place before it."""

    def __init__(self, walk: Walk, one: Placed, piece: Piece | None) -> None:
        super().__init__(walk.view.reader, one.at_us, before=one.position, known=walk.view.known)
        self._walk = walk
        if piece is not None:
            self._states[f"piece:{piece.piece}"] = piece

    def gun_described(self, word: str | None) -> GunDescribed | None:
        """Return the gun's description in force here, its versions read once."""
        return in_force(self._walk.gun_versions(word), self.at_us) if word else None

    def last(self, subject: str, types: tuple[str, ...], count: int = 1) -> tuple[Placed, ...]:
        """Return the last few facts before this place; the corrections are read once."""
        return last(
            self.reader, subject, types, self.at_us, before=self.before, known=self.known,
            count=count, corrections=self._walk.corrections(subject),
        )  # fmt: skip

    def _state(self, subject: str) -> object:
        if subject not in self._states:
            self._states[subject] = self._walk.state(subject, (self.at_us, self.before))
        return self._states[subject]

    def _described(self, subject: str) -> object:
        # All descriptions count, whenever they were told: the place makes no difference.
        return self._walk.view._described(subject)
