"""Everything stored beside the events worked out again, beside bare scans of the same facts.

The bare side reads the same rows, decodes what they say and name with the same decoder, and keeps
one dict a subject of when what happened last. The rival rebuilds its aggregates, ten of the same
facts in each. Ours folds every subject by its rules, tallies, keeps climate and writes it all down.
"""

from __future__ import annotations

import sqlite3
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Mapping
from contextlib import closing
from pathlib import Path
from uuid import UUID, uuid4

from _ledger_rival import Told, application, heard
from coatledger.events.catalogue import AnyEvent
from coatledger.ledger.record import Row, opened
from coatledger.recording.rebuild import rebuild
from coatledger_adapters.read_models import without_pauses
from coatledger_adapters.shadow import shadow
from coatledger_adapters.sql_store import open_store

SHOP = "shop"
A_PIECE = 10
BARE_PAGE = 2_000
PROGRAM = (
    "import resource, sys; sys.path[:0] = sys.argv[2:]; import _ledger_rebuild; "
    "_ledger_rebuild.rebuilt(sys.argv[1]); "
    "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)"
)


def rebuilding(file: Path, facts: Iterable[AnyEvent], rounds: int) -> Mapping[str, float]:
    """Measure the three ways in turns; `file` holds the ledger of these facts."""
    rival = file.with_name("rival-rebuild.db")
    owners = _saved(rival, facts)
    ways: Mapping[str, Callable[[], float]] = {
        "bare": lambda: bare(file),
        "ours": lambda: rebuilt(f"sqlite:///{file}"),
        "eventsourcing": lambda: _heard_again(rival, owners),
    }
    rates: dict[str, list[float]] = {name: [] for name in ways}
    for _ in range(rounds):
        for name, way in ways.items():
            rates[name].append(way())
    found = {name: statistics.median(rate) for name, rate in rates.items()}
    return {
        "rebuild_vs_bare": round(found["ours"] / found["bare"], 3),
        "rebuild_vs_eventsourcing": round(found["ours"] / found["eventsourcing"], 2),
        **{f"rebuild_{name}_per_s": round(rate) for name, rate in found.items()},
    }


def memory_mb(file: Path) -> float:
    """Return the most memory a process takes that does nothing but one rebuild."""
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, f"sqlite:///{file}", *sys.path],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    return round(int(done.stdout.split()[-1]) / 1024, 1)


def rebuilt(address: str) -> float:
    """Rebuild everything; return events a second."""
    store = open_store(address, SHOP)
    try:
        begun = time.perf_counter()
        with shadow() as beside, store.beside() as ledger, without_pauses():
            done = rebuild(ledger, beside)
        assert not done.parked, done.parked
        return done.size / (time.perf_counter() - begun)
    finally:
        store.close()


def bare(file: Path) -> float:
    """Scan, decode, and keep a dict a subject; return events a second."""
    states: dict[str, dict[type, object]] = {}
    size = 0
    begun = time.perf_counter()
    with closing(sqlite3.connect(file)) as connection, without_pauses():
        found = connection.execute("SELECT leaf FROM events ORDER BY position")
        while leaves := found.fetchmany(BARE_PAGE):
            for (leaf,) in leaves:
                fact, named = opened(Row(0, _NOBODY, "", 0, 0, leaf))
                for subject in named:
                    state = states.get(subject)
                    if state is None:
                        state = states[subject] = {}
                    state[type(fact)] = fact.occurred_at
            size += len(leaves)
    return size / (time.perf_counter() - begun)


def _saved(file: Path, facts: Iterable[AnyEvent]) -> tuple[UUID, ...]:
    with application(str(file)) as rival:
        owners: list[UUID] = []
        batch: list[Told] = []
        for number, fact in enumerate(facts):
            version = number % A_PIECE + 1
            if version == 1:
                owners.append(uuid4())
            told = Told(originator_id=owners[-1], originator_version=version, fact=fact)
            batch.append(told)
            if len(batch) == 1_000:
                rival.save(*batch)
                batch = []
        rival.save(*batch)
    return tuple(owners)


def _heard_again(file: Path, owners: tuple[UUID, ...]) -> float:
    size = 0
    with application(str(file)) as rival:
        begun = time.perf_counter()
        for owner in owners:
            size += rival.repository.get(owner, projector_func=heard).count  # type: ignore[type-var,union-attr]
        return size / (time.perf_counter() - begun)


_NOBODY = UUID(int=0)
