"""The one writer: all requests that wait are taken into one transaction and answered after it.

A request that is refused leaves no trace in the transaction it was judged in. Should something
break while several share one, each is tried again by itself, so that nobody pays for another.
"""

import asyncio
import logging
import time
from collections import deque
from collections.abc import Callable, Sequence
from datetime import datetime
from threading import Condition, Thread
from typing import Any, NamedTuple

from coatledger.ledger.store import Head, Store
from coatledger.recording.at_hand import AtHand
from coatledger.recording.session import Receipt, Request, Session
from coatledger.refusal import Refused
from coatledger_adapters.room import CannotWriteError
from coatledger_adapters.webhooks.outbox import Outbox

from coatledger_api.problems import ProblemError
from coatledger_api.visit import VISIT
from coatledger_api.watching import Commit, Watcher

LOG = logging.getLogger(__name__)


class Written(NamedTuple):
    """A request's receipts, and the head of the ledger they were committed under."""

    receipts: tuple[Receipt, ...]
    head: Head


class Trouble(NamedTuple):
    """Why nothing could be written, and when that was seen last."""

    says: str
    at_s: float


class _Waiting(NamedTuple):
    request: Request
    answer: asyncio.Future[Written]
    span: Any = None


_Answer = Written | Exception


class Writer:
    """A thread that owns all writing. `on_new` is called in the loop after something was added;
    what is told outside of it goes into the `outbox` in the same transaction."""

    def __init__(
        self, store: Store, clock: Callable[[], datetime], salt: Callable[[], bytes], *,
        waiting_max: int, commit_facts_max: int, retry_after_s: int, on_new: Callable[[], None],
        outbox: Outbox | None = None,
    ) -> None:  # fmt: skip
        self._store = store
        self._clock = clock
        self._salt = salt
        self._waiting_max = waiting_max
        self._commit_facts_max = commit_facts_max
        self._retry_after_s = retry_after_s
        self._on_new = on_new
        self._outbox = outbox
        self.trouble: Trouble | None = None
        self.watchers: Sequence[Watcher] = ()
        self._at_hand = AtHand()
        self._queue: deque[_Waiting] = deque()
        self._waiting_facts = 0
        self._something = Condition()
        self._stopping = False
        self._loop: asyncio.AbstractEventLoop | None = None
        self._thread = Thread(target=self._run, name="coatledger-writer", daemon=True)

    def start(self) -> None:
        """Begin to write; called in the loop that answers are given in."""
        self._loop = asyncio.get_running_loop()
        self._thread.start()

    def stop(self) -> None:
        """Write what waits, then end. Whatever comes later is told to come back."""
        with self._something:
            self._stopping = True
            self._something.notify()
        if self._thread.is_alive():
            self._thread.join()

    @property
    def is_writing(self) -> bool:
        """Whether requests are taken."""
        return self._thread.is_alive() and not self._stopping

    @property
    def waiting(self) -> int:
        """How many facts wait to be written."""
        return self._waiting_facts

    def submit(self, request: Request) -> asyncio.Future[Written]:
        """Queue a request; the answer comes after its commit, or is the exception it ended in."""
        assert self._loop is not None, "the writer was not started"
        answer: asyncio.Future[Written] = self._loop.create_future()
        with self._something:
            facts = len(request.events)
            if self._stopping or self._waiting_facts + facts > self._waiting_max:
                detail = "the service is going down" if self._stopping else "too many facts wait"
                after = {"Retry-After": str(self._retry_after_s)}
                raise ProblemError("overloaded", detail, headers=after)
            visit = VISIT.get()
            self._queue.append(_Waiting(request, answer, visit and visit.span))
            self._waiting_facts += facts
            self._something.notify()
        return answer

    def _run(self) -> None:
        while waiting := self._next():
            self._commit(waiting)
            with self._something:
                self._waiting_facts -= sum(len(w.request.events) for w in waiting)

    def _next(self) -> list[_Waiting]:
        """Wait for work and take as many requests as one transaction should hold."""
        with self._something:
            while not self._queue and not self._stopping:
                self._something.wait()
            taken: list[_Waiting] = []
            facts = 0
            while self._queue and (not taken or facts < self._commit_facts_max):
                taken.append(self._queue.popleft())
                facts += len(taken[-1].request.events)
            return taken

    def _commit(self, waiting: Sequence[_Waiting]) -> None:
        began_ns = time.time_ns()
        try:
            answers, is_new = self._write([w.request for w in waiting])
        except Exception as error:
            self._at_hand.forget()
            self._tell(waiting, began_ns, failed=True)
            cannot = isinstance(error, CannotWriteError)
            if cannot:
                self.trouble = Trouble(str(error), time.monotonic())
                LOG.error("nothing can be recorded: %s", error)
            else:
                LOG.exception("a write of %d requests failed", len(waiting))
            if len(waiting) > 1 and not cannot:
                for one in waiting:
                    self._commit((one,))
                return
            # A new one: the error's own frames would keep the connection's statements open.
            told = CannotWriteError(str(error)) if cannot else error
            answers, is_new = [told] * len(waiting), False
        else:
            if is_new:
                self.trouble = None
            self._tell(waiting, began_ns, failed=False)
        assert self._loop is not None
        self._loop.call_soon_threadsafe(self._answer, waiting, answers, is_new)

    def _tell(self, waiting: Sequence[_Waiting], began_ns: int, *, failed: bool) -> None:
        """Tell whoever watches of one transaction."""
        if not self.watchers:
            return
        commit = Commit(
            requests=len(waiting),
            facts=sum(len(one.request.events) for one in waiting),
            began_ns=began_ns,
            took_s=(time.time_ns() - began_ns) / 1e9,
            failed=failed,
            spans=[one.span for one in waiting if one.span is not None],
        )
        for watcher in self.watchers:
            try:
                watcher.committed(commit)
            except Exception:  # it only watches: what was committed is committed
                LOG.exception("a watcher of commits failed")

    def _write(self, requests: Sequence[Request]) -> tuple[list[_Answer], bool]:
        outcomes: list[tuple[Receipt, ...] | Refused] = []
        told = 0
        with self._store.writing() as ledger:
            session = Session(ledger, self._store.shop, self._clock(), self._salt, self._at_hand)
            session.expect(requests)
            for request in requests:
                try:
                    outcomes.append(session.take(request))
                except Refused as refusal:
                    outcomes.append(refusal)
            changes = session.changes()
            if changes.rows:
                ledger.write(changes)
                if self._outbox is not None:
                    told = self._outbox.note(ledger, changes.rows)
        session.written()
        if told and self._outbox is not None:
            self._outbox.on_told()
        head = changes.head
        answers: list[_Answer] = [
            outcome if isinstance(outcome, Refused) else Written(outcome, head)
            for outcome in outcomes
        ]
        return answers, bool(changes.rows)

    def _answer(
        self, waiting: Sequence[_Waiting], answers: Sequence[_Answer], is_new: bool
    ) -> None:
        for one, answer in zip(waiting, answers, strict=True):
            if one.answer.done():  # the client went away; what it sent is recorded all the same
                continue
            if isinstance(answer, Exception):
                one.answer.set_exception(answer)
            else:
                one.answer.set_result(answer)
        if is_new:
            self._on_new()
