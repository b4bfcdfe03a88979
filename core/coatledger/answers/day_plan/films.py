"""When the pieces that dry now may be touched, coated, stacked, packed: as their clocks say."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime, timedelta

from coatledger.answers.day_plan.answer import Drying, Film
from coatledger.clocks.answer import PieceClock
from coatledger.clocks.clocks import PURPOSES

NEAR = timedelta(minutes=30)
_NEVER = datetime(9000, 1, 1, tzinfo=UTC)


def drying(clocks: Iterable[PieceClock], now: datetime) -> tuple[Drying, ...]:
    """Return what dries and may not yet be packed, pieces of one act together: the last of them
    decides. What only cures is left out."""
    alike: dict[tuple[object, ...], list[PieceClock]] = {}
    for clock in clocks:
        if clock.faces and clock.readiness not in ("wrap_safe", "cured"):
            acts = tuple(sorted({face.coat for face in clock.faces}))
            alike.setdefault((clock.readiness, clock.room, acts), []).append(clock)
    return tuple(
        Drying(
            pieces=tuple(sorted(clock.piece for clock in near)), readiness=near[0].readiness,
            acts=tuple(sorted({face.coat for face in near[0].faces})), room=near[0].room,
            ready=tuple(_ahead(near, now)),
        )
        for act in alike.values()
        for near in _near(act)
    )  # fmt: skip


def _near(act: Sequence[PieceClock]) -> Iterator[Sequence[PieceClock]]:
    """Part the pieces of one act whose own checks or places have drawn their times apart."""
    ordered = sorted(act, key=_likely_packed)
    near = [ordered[0]]
    for clock in ordered[1:]:
        if _likely_packed(clock) - _likely_packed(near[0]) > NEAR:
            yield near
            near = []
        near.append(clock)
    yield near


def _likely_packed(clock: PieceClock) -> datetime:
    times = [face.at("wrap_safe").likely or _NEVER for face in clock.faces]
    return max(times)


def _ahead(act: Sequence[PieceClock], now: datetime) -> Iterator[Film]:
    """Yield what the slowest face of some pieces is not surely ready for, to the whole minute."""
    for purpose, stage in PURPOSES.items():
        times = [face.at(stage) for clock in act for face in clock.faces]
        sure = _last([time.sure for time in times])
        if sure is None or sure > now:
            yield Film(
                purpose=purpose, earliest=_last([time.earliest for time in times]),
                likely=_last([time.likely for time in times]), sure=sure,
            )  # fmt: skip


def _last(times: Sequence[datetime | None]) -> datetime | None:
    """Return the last of some times, to the whole minute, or None where one of them never is."""
    known = [at for at in times if at is not None]
    return minute(max(known)) if len(known) == len(times) else None


def minute(at: datetime) -> datetime:
    """Round up to the whole minute: nothing is ready before its time."""
    whole = at.replace(second=0, microsecond=0)
    return whole if whole == at else whole + timedelta(minutes=1)
