"""The open promises as they are followed: which are in danger since when, and what is new to tell.

A place at which they were priced is compared with the place before. An episode has a word of its
own, made of the newest fact when it began, and is told by that word. What stood in the ledger
before anybody watched, and what was imported, is taken as it is found: it is no news.
"""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Literal
from uuid import UUID

from msgspec import Struct
from msgspec.structs import replace

from coatledger.answers.promises.ahead import World, ahead, keys_of
from coatledger.answers.promises.causes import Mine, causes_of, span_since
from coatledger.answers.promises.danger import LIMITS, Danger, Limits, is_endangered
from coatledger.answers.promises.outlook import OpenPromise, Outlook, outlook
from coatledger.answers.promises.quote import LEVEL_LEAST
from coatledger.answers.promises.rescue import Rescuer
from coatledger.computations.calendar import local_date
from coatledger.ledger.record import moment, recorded
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked

# Where everything comes into danger at once, trying each way for each would hold up who asks for a
# date meanwhile: so many are looked at.
RESCUED_MOST = 20
GONE_SAYS = "Nothing of it is open any more: it has left, or the order is off."


class News(Struct, frozen=True, kw_only=True):
    """What is to be told of a promise, and the place it was seen at. `episode` is told once."""

    kind: Literal["in_danger", "out_of_danger"]
    episode: str
    at: datetime
    position: int
    order: str
    line: str | None
    ships_by: date | None = None
    level_pct: float = 0.0
    chance_pct: float | None = None
    says: str = ""
    evidence: tuple[UUID, ...] = ()


class Watched(Struct, frozen=True, kw_only=True):
    """One promise as it was seen last. `sound_…` is the last place at which it was in no danger.

    `episode` is the word under which its danger was told; a danger that was only found has none.
    `closed` ones stay until `untold` has been told.
    """

    order: str
    line: str | None
    told: UUID
    chance: float | None
    sound_position: int
    sound_at: datetime
    danger: Danger | None = None
    episode: str | None = None
    closed: bool = False
    untold: tuple[News, ...] = ()


class Watching(Struct, frozen=True, kw_only=True):
    """How promises are watched: since which position of the ledger, within which limits, and with
    what luck."""

    begun: int
    limits: Limits = LIMITS
    seed: int = 1
    replications: int = 1_000


def name_of(order: str, line: str | None) -> str:
    """Name a promise in one word: its order, and its line where that ships alone."""
    return order if line is None else f"{order}/{line}"


def look(
    reader: Reader, asked: Asked, world: World, before: Mapping[str, Watched], watching: Watching
) -> Mapping[str, Watched]:
    """Price every open promise and say what each has become, by name.

    *Reference:* `outlook`; `is_endangered`. *Valid:* the present; where no date can be computed
    nothing changes.
    """
    assert asked.present, "what is watched is the present"
    seen = outlook(
        reader, asked, world=world, seed=watching.seed, replications=watching.replications,
        limits=watching.limits,
    )  # fmt: skip
    here = _Here(reader, asked, seen, watching)
    after = {
        name_of(one.order, one.line): here.step(one, before.get(name_of(one.order, one.line)))
        for one in seen.promises
    }
    gone = {name: here.close(one) for name, one in before.items() if name not in after}
    began = [one for one in seen.promises if _began(before, after, name_of(one.order, one.line))]
    if began:
        after |= here.with_rescues(world, began, after)
    return {**after, **{name: one for name, one in gone.items() if one.untold}}


def with_what_was_watched(seen: Outlook, states: Mapping[str, Watched], limits: Limits) -> Outlook:
    """Lay what the watch keeps beside what was priced now: an episode goes on until it is over."""
    return replace(seen, promises=tuple(_beside(one, states, limits) for one in seen.promises))


def _beside(one: OpenPromise, states: Mapping[str, Watched], limits: Limits) -> OpenPromise:
    state = states.get(name_of(one.order, one.line))
    if state is None or state.danger is None or one.chance is None:
        return one
    if not is_endangered(one.chance, _level(one), before=True, limits=limits):
        return one
    because = one.because or tuple(cause.says for cause in state.danger.causes)
    return replace(one, in_danger=True, because=because, danger=state.danger)


class _Here:
    """One look: the place, and what each promise becomes there."""

    def __init__(self, reader: Reader, asked: Asked, seen: Outlook, watching: Watching) -> None:
        self._reader, self._asked, self._watching = reader, asked, watching
        self._position, self._at = seen.position, moment(asked.now_us)
        self._view = asked.view(reader)
        shop = self._view.shop()
        day = local_date(self._at, "UTC" if shop is None else shop.zone)
        newest = reader.rows(seen.position - 1, 1)
        self._episode = f"{newest[0].event_id if newest else 'none'}@{day.isoformat()}"

    def step(self, one: OpenPromise, before: Watched | None) -> Watched:
        is_first = before is None
        before = before or self._begin(one)
        if one.chance is None:
            return replace(before, told=one.latest.event, closed=False)
        is_in = is_endangered(
            one.chance, _level(one), before=before.danger is not None,
            limits=self._watching.limits,
        )  # fmt: skip
        now = replace(before, told=one.latest.event, chance=one.chance, closed=False)
        if not is_in:
            sound = replace(
                now, sound_position=self._position, sound_at=self._at, danger=None, episode=None
            )
            return sound if before.episode is None else _telling(sound, self._out(one, before))
        if before.danger is not None:
            return now
        danger = self._danger(one, before)
        now = replace(now, danger=danger)
        if is_first and self._is_old(one):
            return now
        now = replace(now, episode=self._episode)
        return _telling(now, self._in(one, danger))

    def close(self, before: Watched) -> Watched:
        """End a promise nothing of which is open any more."""
        closed = replace(before, closed=True, danger=None, episode=None)
        if before.episode is None:
            return closed
        news = News(
            kind="out_of_danger", episode=before.episode, at=self._at, position=self._position,
            order=before.order, line=before.line, says=GONE_SAYS,
        )  # fmt: skip
        return _telling(closed, news)

    def with_rescues(
        self, world: World, began: Sequence[OpenPromise], after: Mapping[str, Watched]
    ) -> Mapping[str, Watched]:
        """Try what would save the promises that came into danger, the first due of many."""
        found = ahead(self._reader, self._asked, world)
        if found is None or found.lacks:
            return {}
        changed: dict[str, Watched] = {}
        rescuer = Rescuer(found, self._watching.seed)
        there = {batch.order for batch in found.shop.batches}
        for one in began[:RESCUED_MOST]:
            name = name_of(one.order, one.line)
            state = after[name]
            assert state.danger is not None
            keys = [k for k in keys_of(self._view.order(one.order), one.line) if k in there]
            tried = rescuer.rescues(one, keys) if keys else ()
            danger = replace(state.danger, rescues=tried)
            told = (*state.untold[:-1], self._in(one, danger)) if state.episode else ()
            changed[name] = replace(state, danger=danger, untold=told)
        return changed

    def _begin(self, one: OpenPromise) -> Watched:
        """A promise seen for the first time was sound when it was made."""
        return Watched(
            order=one.order, line=one.line, told=one.latest.event, chance=None,
            sound_position=self._made_at(one), sound_at=one.latest.told_at,
        )  # fmt: skip

    def _made_at(self, one: OpenPromise) -> int:
        row = self._reader.by_id((one.latest.event,)).get(one.latest.event)
        return self._position if row is None else row.position

    def _is_old(self, one: OpenPromise) -> bool:
        row = self._reader.by_id((one.latest.event,)).get(one.latest.event)
        if row is None or row.position <= self._watching.begun:
            return True
        return recorded(row).event.source == "import"

    def _danger(self, one: OpenPromise, before: Watched) -> Danger:
        assert one.chance is not None
        pieces = frozenset(p.piece for p in self._view.order(one.order).pieces)
        mine = Mine(one, pieces, before.chance is not None)
        span = span_since(before.sound_position, before.sound_at, self._asked.now_us)
        return Danger(
            since=self._at, chance=one.chance, sound_until=before.sound_at,
            causes=causes_of(self._reader, mine, span), rescues=(),
        )  # fmt: skip

    def _in(self, one: OpenPromise, danger: Danger) -> News:
        events = dict.fromkeys(event for cause in danger.causes for event in cause.events)
        return self._news("in_danger", self._episode, one, _in_words(one, danger), tuple(events))

    def _out(self, one: OpenPromise, before: Watched) -> News:
        assert before.episode is not None
        says = f"{_named(one)} has a chance of {_percent(one.chance)} again."
        if one.latest.event != before.told:
            says = f"{_named(one)} was told; its chance is {_percent(one.chance)}."
        return self._news("out_of_danger", before.episode, one, says, ())

    def _news(
        self, kind: Literal["in_danger", "out_of_danger"], episode: str, one: OpenPromise,
        says: str, evidence: tuple[UUID, ...],
    ) -> News:  # fmt: skip
        assert one.chance is not None
        return News(
            kind=kind, episode=episode, at=self._at, position=self._position, order=one.order,
            line=one.line, ships_by=one.latest.ships_by, level_pct=one.latest.level_pct,
            chance_pct=round(one.chance * 100.0, 1), says=says, evidence=evidence,
        )  # fmt: skip


def _began(before: Mapping[str, Watched], after: Mapping[str, Watched], name: str) -> bool:
    was = before.get(name)
    return after[name].danger is not None and (was is None or was.danger is None)


def _telling(state: Watched, news: News) -> Watched:
    return replace(state, untold=(*state.untold, news))


def _level(one: OpenPromise) -> float:
    return max(one.latest.level_pct / 100.0, LEVEL_LEAST)


def _in_words(one: OpenPromise, danger: Danger) -> str:
    causes = "; ".join(cause.says for cause in danger.causes[:3])
    says = f"{_named(one)} has a chance of {_percent(one.chance)}: {causes}."
    if danger.rescues:
        best = danger.rescues[0]
        help_ = "Would save it" if best.enough else "Would help"
        says += f" {help_}: {best.says} ({_percent(best.chance)})."
    return says


def _named(one: OpenPromise) -> str:
    line = "" if one.line is None else f", line {one.line},"
    return f"{one.order}{line} by {one.latest.ships_by.isoformat()}"


def _percent(chance: float | None) -> str:
    return "none known" if chance is None else f"{chance:.0%}"
