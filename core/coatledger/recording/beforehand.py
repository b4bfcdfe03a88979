"""What the rules of the trade say of a fact, asked in the moment before it is taken in.

Just then every state at hand is what stood before it, so nothing has to be folded again. That holds
only for facts that come in the order they happened, and for none that corrects another: the rest
is judged afterwards, each at its own place.
"""

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from coatledger.computations.cautions import Caution
from coatledger.events.catalogue import CORRECTIONS, AnyEvent, EventAmended
from coatledger.events.setup import GunDescribed
from coatledger.findings.cautioned import CAUTIONED, cautions_of
from coatledger.findings.find import findings_of
from coatledger.findings.finding import Finding
from coatledger.findings.table import RULES_OF
from coatledger.ledger.correct import Placed
from coatledger.ledger.record import micros
from coatledger.recording.overlay import Overlay
from coatledger.subjects.described import in_force
from coatledger.subjects.gun import Gun
from coatledger.subjects.view import View


def is_looked_at(event: AnyEvent) -> bool:
    """Whether anything may be said of such a fact. What is imported is history: nothing is."""
    kind = type(event.replacement if isinstance(event, EventAmended) else event)
    return event.source != "import" and (bool(RULES_OF.get(kind)) or kind in CAUTIONED)


def can_be_judged_at_once(events: Sequence[AnyEvent]) -> bool:
    """Whether no fact of a request stands before one that is named earlier, or changes one."""
    if any(isinstance(event, CORRECTIONS) for event in events):
        return False
    return all(one.occurred_at <= following.occurred_at for one, following in pairwise(events))


class Judged(NamedTuple):
    """What is said of one fact."""

    findings: tuple[Finding, ...]
    cautions: tuple[Caution, ...]


def judged(overlay: Overlay, fact: AnyEvent) -> Judged | None:
    """Return what is said of a fact about to be taken in; None when nobody could tell.

    A rule that fails must not keep a fact out of the ledger: it is asked again after the commit,
    and whoever asks then learns of the failure.
    """
    if not is_looked_at(fact):
        return None
    view = Beforehand(overlay, micros(fact.occurred_at))
    try:
        return Judged(findings_of(view, fact), cautions_of(view, fact))
    except Exception:  # noqa: BLE001 - see above
        return None


class Beforehand(View):
    """A view of the present that takes states from the write under way, as they are held."""

    def __init__(self, overlay: Overlay, at_us: int) -> None:
        super().__init__(overlay, at_us)
        self._overlay = overlay

    def gun(self, word: str) -> Gun:
        """Return a gun as it was."""
        entry = self._overlay.entry(f"gun:{word}")
        if not entry.named or entry.folded_us > self.at_us:
            return super().gun(word)
        assert isinstance(entry.state, Gun)
        return entry.state

    def gun_described(self, word: str | None) -> GunDescribed | None:
        """Return the gun's description in force, or None."""
        if not word:
            return None
        gun = self._overlay.entry(f"gun:{word}").state
        assert isinstance(gun, Gun)
        return in_force(gun.versions, self.at_us)

    def last(self, subject: str, types: tuple[str, ...], count: int = 1) -> tuple[Placed, ...]:
        """Return the last few facts of some types before this place, oldest first."""
        found = self._overlay.last(subject, types, self.at_us, count)
        return super().last(subject, types, count) if found is None else found

    def _state(self, subject: str) -> object:
        if subject not in self._states:
            entry = self._overlay.entry(subject)
            late = entry.named and entry.folded_us > self.at_us
            self._states[subject] = self._folded(subject) if late else entry.state
        return self._states[subject]

    def _described(self, subject: str) -> object:
        return self._overlay.entry(subject).state
