"""The open promises as they are followed: which are in danger since when, and what is new to tell.

A place at which they were priced is compared with the place before. An episode has a word of its
own, made of the newest fact when it began, and is told by that word. What stood in the ledger
before anybody watched, and what was imported, is taken as it is found: it is no news.
"""

from collections.abc import Mapping, Sequence
from typing import Literal
from uuid import UUID

from msgspec.structs import replace

from coatledger.answers.promises.ahead import World, ahead, keys_of
from coatledger.answers.promises.causes import Mine, causes_of, span_since
from coatledger.answers.promises.danger import Danger, Limits, is_endangered
from coatledger.answers.promises.outlook import OpenPromise, Outlook, outlook
from coatledger.answers.promises.quote import LEVEL_LEAST
from coatledger.answers.promises.rescue import Rescuer
from coatledger.answers.promises.watched import News, Watched, Watching, name_of
from coatledger.computations.calendar import local_date
from coatledger.ledger.record import moment, recorded
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked

# Where everything comes into danger at once, trying each way for each would hold up who asks for a
# date meanwhile: so many are looked at.
RESCUED_MOST = 20
GONE_SAYS = "Nothing of it is open any more: it has left, or the order is off."


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
    endangered = [one for one in seen.promises if _is_otherwise(before, after, one)]
    if endangered:
        after |= here.with_rescues(world, endangered, before, after)
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
                now, sound_position=self._position, sound_at=self._at, danger=None, episode=None,
                read_to=None, weighed=None,
            )  # fmt: skip
            return sound if before.episode is None else _telling(sound, self._out(one, before))
        now = replace(now, read_to=self._position)
        if before.danger is not None:
            return self._worse(one, before, now)
        danger = self._danger(one, before)
        now = replace(now, danger=danger, weighed=one.chance)
        if is_first and self._is_old(one):
            return now
        now = replace(now, episode=self._episode)
        return _telling(now, self._in(one, danger))

    def _worse(self, one: OpenPromise, before: Watched, now: Watched) -> Watched:
        """Look anew at a danger that goes on when it has another cause, too, or has become clearly
        greater: by the margin at which it would have been over."""
        danger, known = before.danger, before.weighed
        assert danger is not None
        assert one.chance is not None
        known = danger.chance if known is None else known
        is_less = one.chance < known - self._watching.limits.margin_pct / 100.0
        after = before.sound_position if before.read_to is None else before.read_to
        since = causes_of(
            self._reader, self._mine(one, before),
            span_since(after, before.sound_at, self._asked.now_us),
        )  # fmt: skip
        kinds = {cause.kind for cause in since} - {cause.kind for cause in danger.causes}
        if not is_less and not kinds - {"late"}:
            return now
        causes = self._danger(one, before).causes
        return replace(now, danger=replace(danger, causes=causes), weighed=one.chance)

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
        self, world: World, endangered: Sequence[OpenPromise], before: Mapping[str, Watched],
        after: Mapping[str, Watched],
    ) -> Mapping[str, Watched]:  # fmt: skip
        """Try what would save the promises that came into danger, or into a greater one, the first
        due of many. Only the first is news."""
        found = ahead(self._reader, self._asked, world)
        if found is None or found.lacks:
            return {}
        changed: dict[str, Watched] = {}
        rescuer = Rescuer(found, self._watching.seed)
        there = {batch.order for batch in found.shop.batches}
        for one in endangered[:RESCUED_MOST]:
            name = name_of(one.order, one.line)
            state = after[name]
            assert state.danger is not None
            keys = [k for k in keys_of(self._view.order(one.order), one.line) if k in there]
            tried = rescuer.rescues(one, keys) if keys else ()
            danger = replace(state.danger, rescues=tried)
            told = state.untold
            if state.episode and _began(before, name):
                told = (*told[:-1], self._in(one, danger))
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
        mine = self._mine(one, before)
        span = span_since(before.sound_position, before.sound_at, self._asked.now_us)
        return Danger(
            since=self._at, chance=one.chance, sound_until=before.sound_at,
            causes=causes_of(self._reader, mine, span), rescues=(),
        )  # fmt: skip

    def _mine(self, one: OpenPromise, before: Watched) -> Mine:
        pieces = frozenset(p.piece for p in self._view.order(one.order).pieces)
        return Mine(one, pieces, before.chance is not None)

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


def _began(before: Mapping[str, Watched], name: str) -> bool:
    return name not in before or before[name].danger is None


def _is_otherwise(
    before: Mapping[str, Watched], after: Mapping[str, Watched], one: OpenPromise
) -> bool:
    """Whether a promise came into danger, or is in another one than it was."""
    name = name_of(one.order, one.line)
    now = after[name]
    if now.danger is None or _began(before, name):
        return now.danger is not None
    return (now.danger, now.weighed) != (before[name].danger, before[name].weighed)


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
