"""Answers about the present, kept for a moment: who asks the same meanwhile gets the same bytes.

An answer is made of the ledger and of now. As long as nothing was recorded it stays right for the
time it names itself, `as_of`; so it is given for a second, and never once more was recorded.
"""

import asyncio
from collections import OrderedDict
from collections.abc import Awaitable, Callable
from datetime import datetime, timedelta
from typing import Generic, NamedTuple, Protocol, TypeVar

KEPT_MAX = 500
BYTES_MAX = 8 * 1024 * 1024
Question = tuple[str, bytes, str]


class Told(Protocol):
    """An answer that is finished."""

    @property
    def body(self) -> bytes:
        """Its bytes."""


T = TypeVar("T", bound=Told)


class _Entry(NamedTuple, Generic[T]):
    """An answer that is kept, or that is being worked out."""

    asked_at: datetime
    answer: "asyncio.Future[T]"


class Kept(Generic[T]):
    """The answers of one service; used in its loop only. An age of 0 keeps nothing."""

    def __init__(self, clock: Callable[[], datetime], age_s: float) -> None:
        self._clock = clock
        self._age = timedelta(seconds=age_s)
        self._head: tuple[str, int] | None = None
        self._entries: OrderedDict[Question, _Entry[T]] = OrderedDict()
        self._bytes = 0

    @property
    def keeps(self) -> bool:
        """Whether anything is kept at all."""
        return self._age > timedelta(0)

    @property
    def size_bytes(self) -> int:
        """How much is kept."""
        return self._bytes

    def forget(self) -> None:
        """Keep nothing of what was answered or is being worked out: something was recorded."""
        self._entries.clear()
        self._bytes = 0

    def at(self, epoch: str, size: int) -> None:
        """Learn where the ledger stands; elsewhere than before, nothing that is kept is right."""
        if self._head != (epoch, size):
            self._head = (epoch, size)
            self.forget()

    async def answer(self, question: Question, work: Callable[[], Awaitable[T]]) -> T:
        """Return what is kept for a question, or work it out; those who ask meanwhile wait."""
        now = self._clock()
        found = self._entries.get(question)
        if found is not None and timedelta(0) <= now - found.asked_at < self._age:
            kept = found.answer
            return kept.result() if kept.done() else await asyncio.shield(kept)
        if found is not None:
            self._drop(question, found)
        entry: _Entry[T] = _Entry(now, asyncio.get_running_loop().create_future())
        self._entries[question] = entry
        try:
            answer = await work()
        except Exception as error:
            self._drop(question, entry)
            entry.answer.set_exception(error)
            entry.answer.exception()  # nobody may be waiting for it
            raise
        entry.answer.set_result(answer)
        if self._entries.get(question) is entry:
            self._bytes += len(answer.body)
            self._make_room()
        return answer

    def _make_room(self) -> None:
        while self._entries and (len(self._entries) > KEPT_MAX or self._bytes > BYTES_MAX):
            self._drop(*next(iter(self._entries.items())))

    def _drop(self, question: Question, entry: _Entry[T]) -> None:
        if self._entries.get(question) is not entry:
            return
        del self._entries[question]
        if entry.answer.done() and entry.answer.exception() is None:
            self._bytes -= len(entry.answer.result().body)
