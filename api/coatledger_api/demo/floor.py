"""The shop floor of the demonstration: two people, one booth, and scripts that ask for their time.

A script is a generator: it asks for minutes of somebody's work not before a time, and is told when
and by whom they were done. The earliest act that fits goes first, so that batches run side by side.
"""

from collections.abc import Generator, Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import NamedTuple, TypeAlias

from coatledger_api.demo.workdays import FIRST, PEOPLE, Workdays

NEVER = datetime.max.replace(tzinfo=UTC)
LONG_AGO = datetime.min.replace(tzinfo=UTC)


class Ask(NamedTuple):
    """Minutes of work wanted, and from when on. `booth` needs the spray booth as well."""

    minutes: float
    earliest: datetime
    booth: bool = False
    chore: bool = False
    who: str | None = None
    nobody: bool = False


class Slot(NamedTuple):
    """When it was done, and by whom."""

    start: datetime
    end: datetime
    who: str


Script: TypeAlias = Generator[Ask, Slot, None]


def minutes(count: float) -> timedelta:
    """Return whole minutes as a length of time."""
    return timedelta(minutes=round(count))


def _whole_minute(at: datetime) -> datetime:
    """Nobody starts by the second."""
    whole = at.replace(second=0, microsecond=0)
    return whole if whole == at or at == NEVER else whole + timedelta(minutes=1)


@dataclass
class _Waiting:
    script: Script
    ask: Ask
    urgency: int


@dataclass
class Floor:
    """Who is free when, and which scripts wait for them."""

    days: Workdays
    free: dict[str, datetime] = field(default_factory=dict)
    booth_free: datetime = LONG_AGO
    waiting: list[_Waiting] = field(default_factory=list)

    def begin(self, script: Script, urgency: int = 5) -> None:
        """Let a script begin; a smaller urgency number goes first."""
        self._next(_Waiting(script, Ask(0, NEVER), urgency), None)

    def run(self, scripts: Iterable[Script], until: datetime) -> None:
        """Play all scripts until nothing more can begin by a time."""
        for script in scripts:
            self.begin(script)
        while self.waiting:
            best = min(
                ((self._when(w.ask), w.urgency, i) for i, w in enumerate(self.waiting)),
                key=lambda found: (found[0][0], found[1], found[2]),
            )
            (start, who), _, index = best
            if start > until:
                return
            waiting = self.waiting.pop(index)
            ask = waiting.ask
            end = start + minutes(ask.minutes)
            if not ask.nobody:
                self.free[who] = end
            if ask.booth:
                self.booth_free = end
            self._next(waiting, Slot(start, end, who))

    def _when(self, ask: Ask) -> tuple[datetime, str]:
        earliest = _whole_minute(ask.earliest)
        if ask.nobody:
            return earliest, "office"
        if ask.booth:
            earliest = max(earliest, self.booth_free)
        found = [
            (
                self.days.start_for(
                    person, max(earliest, self.free.get(person, earliest)), ask.minutes, ask.chore
                ),
                person,
            )
            for person in ((ask.who,) if ask.who else PEOPLE)
        ]
        return min(found, key=lambda one: (one[0], one[1] != FIRST))

    def _next(self, waiting: _Waiting, slot: Slot | None) -> None:
        try:
            ask = next(waiting.script) if slot is None else waiting.script.send(slot)
        except StopIteration:
            return
        self.waiting.append(_Waiting(waiting.script, ask, waiting.urgency))
