"""The store alone: durable appends of ready-made rows beside raw SQL of the same leaf bytes.

A measured event is a coat on three pieces from one can with one gun: its leaf, five subjects, five
folds, three tallies. Raw and store take turns in one run, each on a new database on the same disk;
a figure is the median of the rounds, a ratio above 1 means that the store is faster.
"""

from __future__ import annotations

import argparse
import json
import os
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from uuid import UUID

import psycopg
from coatledger.ledger.record import Row
from coatledger.ledger.store import Changes, Head, StoredFold, SubjectRow
from coatledger.subjects.registry import FOLDS, kind_of
from coatledger_adapters.migrate import migrate
from coatledger_adapters.sql_store import SqlStore, open_store
from postgres_server import Server, why_missing

LEAF = b'{"body":' + b"x" * 600 + b"}"
STATE = b"y" * 500
FIRST_US = 1_770_000_000_000_000
PIECES = 3_000
FRONTIER = (b"h" * 32,) * 12
ROUNDS = 7

Append = Callable[[Changes], None]
RAW_TABLE = (
    "CREATE TABLE events (position {whole} PRIMARY KEY, event_id {bytes} NOT NULL UNIQUE, "
    "leaf {bytes} NOT NULL)"
)


def row(position: int) -> Row:
    """One event as the recording layer hands it over."""
    now_us = FIRST_US + position * 1_000_000
    made = (now_us // 1000 << 80) | (7 << 76) | (2 << 62) | int.from_bytes(os.urandom(7))
    return Row(position, UUID(int=made), "coat_applied", now_us, now_us, LEAF)


def subjects(position: int) -> tuple[str, ...]:
    """Three neighbouring pieces, one of five cans, the gun."""
    first = position // 4
    pieces = tuple(f"piece:P-{(first + i) % PIECES:04}" for i in range(3))
    return (*pieces, f"lot:L-{first % 5}", "gun:G-1")


def changes(head: Head, count: int) -> Changes:
    """All that a write of so many events adds."""
    rows = [row(head.size + 1 + i) for i in range(count)]
    named = [
        SubjectRow(subject, one.position, one.occurred_us, one.type)
        for one in rows
        for subject in subjects(one.position)
    ]
    folds = {
        name.subject: StoredFold(
            name.subject,
            FOLDS[kind_of(name.subject)].version,
            name.position,
            name.occurred_us,
            "coated",
            STATE,
        )
        for name in named
    }
    day = str(rows[-1].position // 500)
    tallies = {(name, day): 1.0 * count for name in ("coats", "minutes", "litres")}
    last = rows[-1]
    moved = Head(last.position, last.recorded_us, FRONTIER, head.epoch)
    return Changes(moved, rows, named, tuple(folds.values()), tallies, (), (), ())


def through_store(store: SqlStore) -> Append:
    """Append as a recording does: look ids and folds up, then write."""

    def append(made: Changes) -> None:
        with store.writing() as writer:
            writer.by_id([one.event_id for one in made.rows])
            writer.folds([fold.subject for fold in made.folds])
            writer.write(made)

    return append


def raw_sqlite(path: Path) -> Append:
    """BEGIN IMMEDIATE, head check, INSERT, COMMIT with the standard library's driver."""
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA journal_mode=WAL")
    connection.execute("PRAGMA synchronous=FULL")
    connection.execute(RAW_TABLE.format(whole="INTEGER", bytes="BLOB"))

    def append(made: Changes) -> None:
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("SELECT max(position) FROM events").fetchone()
        rows = [(one.position, one.event_id.bytes, one.leaf) for one in made.rows]
        connection.executemany("INSERT INTO events VALUES (?, ?, ?)", rows)
        connection.execute("COMMIT")

    return append


def raw_postgresql(address: str) -> Append:
    """The same with psycopg on a table of the same kind."""
    connection = psycopg.connect(address, autocommit=True)
    connection.execute(RAW_TABLE.format(whole="BIGINT", bytes="BYTEA"))

    def append(made: Changes) -> None:
        connection.execute("BEGIN")
        connection.execute("SELECT max(position) FROM events").fetchone()
        rows = [(one.position, one.event_id.bytes, one.leaf) for one in made.rows]
        connection.cursor().executemany("INSERT INTO events VALUES (%s, %s, %s)", rows)
        connection.execute("COMMIT")

    return append


def rate(append: Append, head: Head, count: int, times: int) -> tuple[float, Head]:
    """Return events a second, and where the ledger stands after; making the rows is not timed."""
    made = []
    for _ in range(times):
        made.append(changes(head, count))
        head = made[-1].head
    started = time.perf_counter()
    for one in made:
        append(one)
    return count * times / (time.perf_counter() - started), head


def compare(
    raw: Append, ours: Append, head: Head, count: int, times: int
) -> tuple[Mapping[str, float], Head]:
    """Take turns, round by round, after a first round that does not count."""
    rates: dict[str, list[float]] = {"raw": [], "store": []}
    for _ in range(ROUNDS + 1):
        raw_rate, _ = rate(raw, head, count, times)
        store_rate, head = rate(ours, head, count, times)
        rates["raw"].append(raw_rate)
        rates["store"].append(store_rate)
    found = {name: statistics.median(values[1:]) for name, values in rates.items()}
    ratios = [ours / raw for raw, ours in zip(rates["raw"], rates["store"], strict=True)]
    return {**found, "ratio": statistics.median(ratios[1:])}, head


def engines(folder: Path, *, postgresql: bool) -> Iterator[tuple[str, Append, Append]]:
    """Raw and store on each engine, named by the suffix of their figures."""
    address = f"sqlite:///{folder / 'ledger.db'}"
    migrate(address)
    store = open_store(address, "dune-end")
    yield "", raw_sqlite(folder / "raw.db"), through_store(store)
    store.close()
    if not postgresql:
        return
    server = Server()
    try:
        address = server.new_database()
        migrate(address)
        store = open_store(address, "dune-end")
        yield "_postgres", raw_postgresql(server.new_database()), through_store(store)
        store.close()
    finally:
        server.stop()


def main(arguments: Sequence[str]) -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="scripts/measure store", description=__doc__)
    parser.add_argument("--json", action="store_true", help="print one object for machines")
    parser.add_argument("--postgres", action="store_true", help="measure PostgreSQL, too")
    asked = parser.parse_args(arguments)
    if asked.postgres and (missing := why_missing()):
        parser.error(missing)
    figures: dict[str, float] = {}
    with tempfile.TemporaryDirectory(prefix="coatledger-") as folder:
        for suffix, raw, ours in engines(Path(folder), postgresql=asked.postgres):
            head = Head(0, 0, FRONTIER, "")
            for name, count, times in (("single_append", 1, 600), ("batch_append", 1000, 10)):
                found, head = compare(raw, ours, head, count, times)
                figures[f"{name}_per_s{suffix}"] = round(found["store"])
                figures[f"{name}_raw_per_s{suffix}"] = round(found["raw"])
                figures[f"{name}_vs_raw{suffix}"] = round(found["ratio"], 3)
    if asked.json:
        print(json.dumps(figures))
    else:
        print("\n".join(f"{name:<34}{value:>12,}" for name, value in figures.items()))
    return 0
