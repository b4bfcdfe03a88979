"""When the pieces that dry now may be touched, coated, stacked, packed: as their clocks say."""

from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta

from coatledger.answers.day_plan.answer import Drying, Film
from coatledger.clocks.answer import PieceClock
from coatledger.clocks.clocks import PURPOSES


def drying(clocks: Iterable[PieceClock], now: datetime) -> tuple[Drying, ...]:
    """Return the pieces with a film that is not ready for everything, those alike together."""
    alike: dict[tuple[str, str | None, tuple[Film, ...]], list[str]] = {}
    for clock in clocks:
        ready = tuple(_ahead(clock, now))
        if ready and clock.readiness != "cured":
            alike.setdefault((clock.readiness, clock.room, ready), []).append(clock.piece)
    return tuple(
        Drying(pieces=tuple(sorted(pieces)), readiness=readiness, room=room, ready=ready)
        for (readiness, room, ready), pieces in alike.items()
    )


def _ahead(clock: PieceClock, now: datetime) -> Iterator[Film]:
    """Yield what the piece's slowest face is not surely ready for, to the whole minute."""
    for purpose, stage in PURPOSES.items():
        times = [face.at(stage) for face in clock.faces]
        if not times:
            return
        found = [
            None if any(at is None for at in ends) else max(at for at in ends if at is not None)
            for ends in (
                [t.earliest for t in times], [t.likely for t in times], [t.sure for t in times]
            )
        ]  # fmt: skip
        sure = found[2]
        if sure is None or sure > now:
            earliest, likely, surely = (_minute(at) for at in found)
            yield Film(purpose=purpose, earliest=earliest, likely=likely, sure=surely)


def _minute(at: datetime | None) -> datetime | None:
    """Round up: nothing is ready before its time."""
    if at is None:
        return None
    whole = at.replace(second=0, microsecond=0)
    return whole if whole == at else whole + timedelta(minutes=1)
