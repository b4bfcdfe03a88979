"""Whether a long history costs: single facts recorded in turns into a short and a long ledger."""

from __future__ import annotations

import statistics
import time
from collections.abc import Iterable, Mapping
from datetime import timedelta
from itertools import islice
from pathlib import Path

from coatledger.events.catalogue import AnyEvent
from coatledger.recording.at_hand import AtHand
from coatledger.recording.session import Request, Session
from coatledger_adapters.migrate import migrate
from coatledger_adapters.sql_store import SqlStore, open_store
from long_history import BEGIN, Ids, batch, history

SHOP = "shop"
FEW = 1_000
AT_ONCE = 1_000
POSTED_BATCHES = 12  # of the history's pieces of work, 24 or 25 facts each
FACTS_A_BATCH_LEAST = 20
NOW = BEGIN + timedelta(days=36_000)


class Ledger:
    """One ledger and whoever writes it."""

    def __init__(self, file: Path, events: int) -> None:
        self.file = file
        self.ids = Ids()
        address = f"sqlite:///{file}"
        migrate(address)
        self.store: SqlStore = open_store(address, SHOP)
        self._at_hand = AtHand()
        self.recorded = 0
        stream = iter(history(events, self.ids))
        while some := tuple(islice(stream, AT_ONCE)):
            self.post(some)

    def post(self, events: tuple[AnyEvent, ...]) -> None:
        """Record facts in one transaction, as the service does."""
        with self.store.writing() as writer:
            session = Session(writer, SHOP, NOW, lambda: bytes(16), self._at_hand)
            session.take(Request(events=events, by="measure"))
            writer.write(session.changes())
        session.written()
        self.recorded += len(events)

    def bytes_an_event(self) -> float:
        """Return the size of the database by the event, whether its pages are moved yet or not."""
        with self.store.beside() as ledger:
            ledger.cursor.execute("PRAGMA page_count")
            ((pages,),) = ledger.cursor.fetchall()
            ledger.cursor.execute("PRAGMA page_size")
            ((page_bytes,),) = ledger.cursor.fetchall()
        return pages * page_bytes / self.recorded  # type: ignore[no-any-return]

    def posted_ms(self, event: AnyEvent) -> float:
        """Record one fact and return how long it took."""
        begun = time.perf_counter()
        self.post((event,))
        return (time.perf_counter() - begun) * 1000


def growth(short: Ledger, long: Ledger) -> Mapping[str, float]:
    """Post the same kinds of facts to both in turns, and compare medians and bytes an event."""
    bytes_each = [one.bytes_an_event() for one in (short, long)]
    waits: tuple[list[float], list[float]] = ([], [])
    first = long.recorded // FACTS_A_BATCH_LEAST  # work that is in neither ledger yet
    for number in range(first, first + POSTED_BATCHES):
        pairs = zip(batch(short.ids, number), batch(long.ids, number), strict=True)
        for here, there in pairs:
            waits[0].append(short.posted_ms(here))
            waits[1].append(long.posted_ms(there))
    few_ms, many_ms = (statistics.median(found) for found in waits)
    return {
        "append_growth": round(many_ms / few_ms, 3),
        "append_growth_bytes": round(bytes_each[1] / bytes_each[0], 3),
        "append_ms_few": round(few_ms, 3),
        "append_ms_many": round(many_ms, 3),
        "growth_events": long.recorded,
    }


def facts(count: int) -> Iterable[AnyEvent]:
    """The facts of a ledger of that many."""
    return history(count, Ids())
