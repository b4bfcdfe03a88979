"""The whole ledger: HTTP, store, rebuild and growth, beside what anybody could have instead.

Every ratio is one of medians of the same run, the sides taking turns. The rival is the library
`eventsourcing`, a general one, in its fastest set-up on SQLite.
"""

from __future__ import annotations

import argparse
import json
import os
import tempfile
from collections.abc import Sequence
from pathlib import Path

from _ledger_growth import FEW, Ledger, facts, growth
from _ledger_http import over_http
from _ledger_rebuild import memory_mb, rebuilding
from _ledger_store import appends
from postgres_server import Server, why_missing

MANY = 2_000_000
REBUILT = 60_000
PARTS = ("http", "store", "rebuild", "growth")


def main(arguments: Sequence[str]) -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="scripts/measure ledger", description=__doc__)
    parser.add_argument("--json", action="store_true", help="print one object for machines")
    parser.add_argument("--postgres", action="store_true", help="measure PostgreSQL, too")
    parser.add_argument("--only", choices=PARTS, action="append", help="measure one part")
    parser.add_argument("--rounds", type=int, default=5, help="turns of each side, 5")
    parser.add_argument("--seconds", type=int, default=3, help="of load over HTTP a turn, 3")
    parser.add_argument(
        "--events", type=int, default=MANY, help=f"of the long ledger, {MANY:,}; some minutes"
    )
    asked = parser.parse_args(arguments)
    if asked.postgres and (says := why_missing()):
        parser.error(says)
    with tempfile.TemporaryDirectory(prefix="coatledger-") as folder:
        figures = measured(Path(folder), asked)
    figures["load_average"] = round(os.getloadavg()[0], 1)
    if asked.json:
        print(json.dumps(figures))
    else:
        print("\n".join(f"{name:<40}{value:>14}" for name, value in figures.items()))
    return 0


def measured(folder: Path, asked: argparse.Namespace) -> dict[str, object]:
    """Measure the parts asked for, one after another."""
    parts = asked.only or PARTS
    found: dict[str, object] = {}
    if "store" in parts:
        found |= appends(folder, asked.rounds, postgresql=asked.postgres)
    if "http" in parts:
        found |= over_http(folder, asked.rounds, asked.seconds)
        if asked.postgres:
            found |= _on_postgresql(folder, asked)
    if "rebuild" in parts:
        found |= _rebuild(folder, asked)
    if "growth" in parts:
        found |= _growth(folder, asked)
    return found


def _on_postgresql(folder: Path, asked: argparse.Namespace) -> dict[str, object]:
    server = Server()
    try:
        found = over_http(folder, asked.rounds, asked.seconds, server.new_database())
        return {f"{key}_postgres": value for key, value in found.items() if "rival" not in key}
    finally:
        server.stop()


def _rebuild(folder: Path, asked: argparse.Namespace) -> dict[str, object]:
    count = min(REBUILT, asked.events)
    ledger = Ledger(folder / "rebuilt.db", count)
    ledger.store.close()
    return dict(rebuilding(ledger.file, facts(count), asked.rounds))


def _growth(folder: Path, asked: argparse.Namespace) -> dict[str, object]:
    short, long = Ledger(folder / "short.db", FEW), Ledger(folder / "long.db", asked.events)
    found = dict(growth(short, long))
    short.store.close()
    long.store.close()
    return {**found, "rebuild_memory_mb": memory_mb(long.file)}
