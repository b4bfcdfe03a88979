"""Whether a long history costs: one piece's answer, one event posted, at 200 and 200,000 events."""

import json
import statistics
import tempfile
import time
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from itertools import islice
from pathlib import Path

from coatledger.answers.pieces import piece_answer
from coatledger.events.catalogue import AnyEvent
from coatledger.events.coating import CoatApplied
from coatledger.ledger.store import Store
from coatledger.recording.session import Request, Session
from coatledger.subjects.asked import ask
from coatledger_adapters.migrate import migrate
from coatledger_adapters.sql_store import open_store
from long_history import BEGIN, Ids, batch, history

FEW, MANY = 200, 200_000
AT_ONCE = 1_000
RUNS = 15
NOW = BEGIN + timedelta(days=3_000)


def main(arguments: Sequence[str]) -> int:
    """Measure and print; `--json` prints one object, `--events N` sets the long history."""
    many = int(arguments[arguments.index("--events") + 1]) if "--events" in arguments else MANY
    with tempfile.TemporaryDirectory() as folder:
        short = measured(Path(folder) / "short.db", FEW)
        long = measured(Path(folder) / "long.db", many)
    found = {
        "state_growth": round(long[0] / short[0], 3),
        "append_growth": round(long[1] / short[1], 3),
        "state_ms": [round(short[0], 3), round(long[0], 3)],
        "append_ms": [round(short[1], 3), round(long[1], 3)],
        "events": [FEW, many],
    }
    if "--json" in arguments:
        print(json.dumps(found))
    else:
        for name, value in found.items():
            print(f"{name:<16}{value}")
    return 0


def measured(file: Path, events: int) -> tuple[float, float]:
    """Return the median milliseconds of one piece's answer and of one appended event."""
    address = f"sqlite:///{file}"
    migrate(address)
    store = open_store(address, "shop")
    try:
        ids = Ids()
        fill(store, history(events, ids))
        first = 10 * (events // 200)  # a batch that was not there yet, later than all that were
        states: list[float] = []
        appends: list[float] = []
        for number in range(first, first + RUNS):
            for event in batch(ids, number):
                appends.append(post_ms(store, event))
                if isinstance(event, CoatApplied):
                    states.append(answer_ms(store, event.pieces[0], event.occurred_at))
        return statistics.median(states), statistics.median(appends)
    finally:
        store.close()


def fill(store: Store, events: Iterable[AnyEvent]) -> None:
    """Record a history in large batches."""
    stream = iter(events)
    while group := tuple(islice(stream, AT_ONCE)):
        post(store, group)


def post(store: Store, events: tuple[AnyEvent, ...]) -> None:
    """Record events as the service does, in one transaction."""
    with store.writing() as writer:
        session = Session(writer, store.shop, NOW, lambda: b"0123456789abcdef")
        session.take(Request(events=events, by="measure"))
        writer.write(session.changes())


def post_ms(store: Store, event: AnyEvent) -> float:
    """Time one posted event."""
    begun = time.perf_counter()
    post(store, (event,))
    return (time.perf_counter() - begun) * 1000


def answer_ms(store: Store, piece: str, coated_at: datetime) -> float:
    """Time one piece's whole answer, as the service gives it, an hour after its coat."""
    begun = time.perf_counter()
    with store.reading() as reader:
        assert piece_answer(reader, piece, ask(reader, coated_at + timedelta(hours=1))) is not None
    return (time.perf_counter() - begun) * 1000
