"""Follows the ledger and prices every open promise as facts arrive, for whoever wants to be told.

Facts are gathered until there is quiet, so that one simulation answers many; time alone changes a
chance, too, so it is looked again every half hour. What was seen is kept, then told, and only then
is it said how far was read: whoever dies in between is followed by one that tells the same again,
under the same word, which nobody is told twice.
"""

import asyncio
import contextlib
import logging
import time
from collections.abc import Coroutine, Mapping
from typing import Any, Final
from uuid import uuid4

import msgspec
from coatledger.answers.promises.danger import Limits
from coatledger.answers.promises.outlook import Outlook
from coatledger.answers.promises.watch import look, with_what_was_watched
from coatledger.answers.promises.watched import News, Watched, Watching
from coatledger.ledger.record import micros
from coatledger.recording.notices import Notice, NoticeData, episode
from coatledger.subjects.asked import Asked, ask
from coatledger_adapters.promise_watch import Mark, WatchBook
from coatledger_adapters.sql_reader import StaleFoldsError

from coatledger_api.problems import ProblemError
from coatledger_api.selling.pricing import in_force, world_of
from coatledger_api.service import Service

LOG = logging.getLogger(__name__)
LEASE_US: Final = 60_000_000
IDLE_US: Final = 30 * 60_000_000
_STATE: msgspec.json.Decoder[Watched] = msgspec.json.Decoder(Watched)
_ENCODER = msgspec.json.Encoder()


class PromiseWatch:
    """The watch of one service's promises."""

    def __init__(self, service: Service, book: WatchBook) -> None:
        settings = service.settings
        self._service, self._book = service, book
        self._by = uuid4().hex
        self._every_s = settings.watch_every_s
        self._quiet_s = min(settings.watch_quiet_s, settings.watch_every_s)
        self._limits = limits_of(service)

    async def run(self, closing: asyncio.Event) -> None:
        """Follow until the service closes."""
        is_begun = False
        while not closing.is_set():
            began_s = time.monotonic()
            try:
                if is_begun:
                    await self.look()
                else:
                    await asyncio.to_thread(self._begin)
                    is_begun = True
            except (StaleFoldsError, ProblemError) as not_now:
                LOG.info("promises are not watched for now: %s", not_now)
            except Exception:
                LOG.exception("the open promises could not be watched")
            await self._wait(began_s, closing)

    async def look(self) -> bool:
        """Price what is open where something changed, and tell what is new; whether it looked."""
        if not await asyncio.to_thread(self._is_due):
            return False
        return await self._service.simulations.run(self._look)

    async def _wait(self, began_s: float, closing: asyncio.Event) -> None:
        """Wait until something is recorded, then for quiet, and never look too often."""
        rest_s = began_s + self._every_s - time.monotonic()
        if rest_s > 0.0 and await _within(closing.wait(), rest_s):
            return
        await _within(self._service.bell.next().wait(), self._every_s)
        until_s = time.monotonic() + self._every_s
        while not closing.is_set() and time.monotonic() < until_s:
            if not await _within(self._service.bell.next().wait(), self._quiet_s):
                return

    def _begin(self) -> None:
        service = self._service
        if self._book.mark() is None:
            # What a shop begins with is no news, but it is looked at soon.
            with service.store.reading() as reader:
                size = reader.head().size
            self._book.begin(size, 0)

    def _is_due(self) -> bool:
        service = self._service
        now_us = micros(service.clock())
        mark = self._book.mark()
        if mark is None:
            return False
        with service.store.reading() as reader:
            size = reader.head().size
        return size != mark.position or now_us >= mark.at_us + IDLE_US

    def _look(self) -> bool:
        service, now_us = self._service, micros(self._service.clock())
        mark = self._book.lease(self._by, now_us, now_us + LEASE_US)
        if mark is None:
            return False
        before = states_of(self._book)
        position, after = self._seen(mark, before)
        if not self._keep(before, after):
            return False
        news = [one for state in after.values() for one in state.untold]
        if news:
            service.outbox.tell([_notice(one) for one in news], position, now_us)
        told = {
            name: msgspec.structs.replace(state, untold=())
            for name, state in after.items()
            if not state.closed
        }
        return self._keep(after, told) and self._book.read_to(self._by, position, now_us)

    def _seen(self, mark: Mark, before: Mapping[str, Watched]) -> tuple[int, Mapping[str, Watched]]:
        service, now = self._service, self._service.clock()
        holds = service.holds.standing(micros(now)).holds
        with service.store.reading() as reader:
            place = ask(reader, now)
            world = world_of(service, reader, place, in_force(reader, place, holds))
            watching = Watching(begun=mark.begun, limits=self._limits)
            return reader.head().size, look(reader, place, world, before, watching)

    def _keep(self, before: Mapping[str, Watched], after: Mapping[str, Watched]) -> bool:
        changed: dict[str, bytes | None] = {
            name: _ENCODER.encode(state)
            for name, state in after.items()
            if before.get(name) != state
        }
        changed |= {name: None for name in before if name not in after}
        return not changed or self._book.keep(self._by, changed)


def states_of(book: WatchBook) -> Mapping[str, Watched]:
    """Read every promise as it was seen last; what another program wrote otherwise is left out."""
    found: dict[str, Watched] = {}
    for name, state in book.states().items():
        with contextlib.suppress(msgspec.ValidationError):
            found[name] = _STATE.decode(state)
    return found


def limits_of(service: Service) -> Limits:
    """Return within which limits this service watches."""
    settings = service.settings
    return Limits(danger_pct=settings.danger_pct, margin_pct=settings.danger_margin_pct)


def beside(service: Service, place: Asked, seen: Outlook) -> Outlook:
    """Lay what is watched beside what was priced at present; of the past nothing was kept."""
    if not place.present:
        return seen
    return with_what_was_watched(seen, states_of(service.watched), limits_of(service))


async def _within(something: Coroutine[Any, Any, object], seconds: float) -> bool:
    try:
        await asyncio.wait_for(something, seconds)
    except TimeoutError:
        return False
    return True


def _notice(news: News) -> Notice:
    said = NoticeData(
        kind=news.kind, order=news.order, line=news.line, ships_by=news.ships_by,
        level_pct=news.level_pct, chance_pct=news.chance_pct, says=news.says,
        evidence=news.evidence,
    )  # fmt: skip
    return episode(news.kind, news.episode, news.at, said)
