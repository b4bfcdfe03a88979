"""The store alone: durable appends beside raw SQL of the same bytes and the rival's bare saves.

Ours counts everything a recording asks of a store: ids looked up, leaves hashed into the tree,
events, subjects, folds and tallies written, one commit. A recording has the states of subjects it
touched lately at hand, so a fold is read the first time only. Making the rows is not timed on any
side.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from uuid import uuid4

from _ledger_rival import Told, application
from _ledger_world import SHOP, begin, coat
from coatledger.computations import merkle
from coatledger.ledger import tree
from coatledger.ledger.store import Changes, Head, TreeNode
from coatledger_adapters.migrate import migrate
from coatledger_adapters.sql_store import SqlStore, open_store
from postgres_server import Server
from store import Append, changes, raw_postgresql, raw_sqlite

SINGLES, BATCHES, BATCH = 400, 8, 1_000
A_PIECE = 10  # the rival's aggregates hold ten events each
NOWHERE = Head(0, 0, (), "")


def appends(folder: Path, rounds: int, *, postgresql: bool) -> Mapping[str, float]:
    """Measure single and batched appends in turns."""
    figures: dict[str, float] = {}
    for suffix, raw, ours in _engines(folder, postgresql=postgresql):
        raw_side, our_side = _Side(raw), _Side(ours)
        for name, count, times in (("single", 1, SINGLES), ("batch", BATCH, BATCHES)):
            sides: dict[str, Callable[[], float]] = {
                "raw": partial(raw_side.rate, count, times),
                "ours": partial(our_side.rate, count, times),
            }
            if count > 1 and not suffix:
                sides["eventsourcing"] = _Rival(folder / "rival.db", times)
            found = _in_turns(sides, rounds)
            key = f"{name}_append"
            figures[f"{key}_vs_raw{suffix}"] = round(found["ours"] / found["raw"], 3)
            if "eventsourcing" in found:
                figures[f"{key}_vs_eventsourcing"] = round(
                    found["ours"] / found["eventsourcing"], 2
                )
            figures |= {f"{key}_{side}_per_s{suffix}": round(v) for side, v in found.items()}
    return figures


def _in_turns(sides: Mapping[str, Callable[[], float]], rounds: int) -> dict[str, float]:
    """Let every side go first once in a while; a first round does not count."""
    names = list(sides)
    rates: dict[str, list[float]] = {name: [] for name in names}
    for turn in range(rounds + 1):
        for place in range(len(names)):
            name = names[(turn + place) % len(names)]
            rates[name].append(sides[name]())
    return {name: statistics.median(found[1:]) for name, found in rates.items()}


class _Side:
    """Appends of ready-made rows, each run going on where the last one ended."""

    def __init__(self, append: Append) -> None:
        self._append = append
        self._head = NOWHERE

    def rate(self, count: int, times: int) -> float:
        """Append so many rows so many times; return rows a second."""
        made: list[Changes] = []
        for _ in range(times):
            made.append(changes(self._head, count))
            self._head = made[-1].head
        begun = time.perf_counter()
        for one in made:
            self._append(one)
        return count * times / (time.perf_counter() - begun)


class _Rival:
    """The rival saving a thousand bare events at once, ten to an aggregate."""

    def __init__(self, file: Path, times: int) -> None:
        self._rival = application(str(file))
        self._times = times
        day = begin()
        self._facts = [coat(day, number) for number in range(BATCH)]

    def __call__(self) -> float:
        made = [self._batch() for _ in range(self._times)]
        begun = time.perf_counter()
        for batch in made:
            self._rival.save(*batch)
        return BATCH * self._times / (time.perf_counter() - begun)

    def _batch(self) -> list[Told]:
        found: list[Told] = []
        for number, fact in enumerate(self._facts):
            version = number % A_PIECE + 1
            owner = uuid4() if version == 1 else found[-1].originator_id
            found.append(Told(originator_id=owner, originator_version=version, fact=fact))
        return found


def _through(store: SqlStore) -> Append:
    seen: set[str] = set()

    def append(made: Changes) -> None:
        with store.writing() as writer:
            head = writer.head()
            writer.by_id([row.event_id for row in made.rows])
            named = [fold.subject for fold in made.folds]
            cold = [subject for subject in named if subject not in seen]
            if cold:
                writer.folds(cold)
            frontier, size = head.frontier, head.size
            nodes: list[TreeNode] = []
            for row in made.rows:
                frontier, kept = tree.grown(frontier, size, merkle.leaf_hash(row.leaf))
                nodes.extend(kept)
                size = row.position
            moved = made.head._replace(frontier=frontier)
            in_place = seen.intersection(named)
            writer.write(made._replace(head=moved, tree=nodes, in_place=in_place))
        seen.update(named)

    return append


@contextmanager
def _opened(address: str) -> Iterator[SqlStore]:
    migrate(address)
    store = open_store(address, SHOP)
    try:
        yield store
    finally:
        store.close()


def _engines(folder: Path, *, postgresql: bool) -> Iterator[tuple[str, Append, Append]]:
    with _opened(f"sqlite:///{folder / 'store.db'}") as store:
        yield "", raw_sqlite(folder / "raw.db"), _through(store)
    if not postgresql:
        return
    server = Server()
    try:
        with _opened(server.new_database()) as store:
            yield "_postgres", raw_postgresql(server.new_database()), _through(store)
    finally:
        server.stop()
