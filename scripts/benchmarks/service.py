"""The running service: how quick a read is, whether it grows, a crowd, hostile and random requests.

Each part starts a service of its own as whoever runs it does. Rates are ratios of medians of the
same run; counts must be zero.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

from _service_memory import growth
from _service_read import reading
from coatledger_adapters.keys import SCOPES
from coatledger_adapters.sql_store import open_store
from crowd import follow
from hostile import attack

SCRIPTS = Path(__file__).resolve().parents[1]
SHOP = "shop"
READERS, EVENTS, EVENTS_PER_S = 200, 200, 10.0
EXAMPLES = 30


class Served(NamedTuple):
    """A service that runs, its process, a token of every scope, and where its ledger lies."""

    address: tuple[str, int]
    token: str
    pid: int
    ledger: str


@contextmanager
def service(folder: Path) -> Iterator[Served]:
    """Run `coatledger serve` over an empty ledger until the block ends."""
    sys.path.append(str(SCRIPTS / "drills"))
    from _service import Service, free_port, key_for

    home = folder / "home"
    token = key_for(home, scopes=SCOPES)
    port = free_port()
    running = Service(home, None, port)
    try:
        yield Served(("127.0.0.1", port), token, running.pid, f"sqlite:///{home / 'ledger.db'}")
    finally:
        running.stop()


def read_part(folder: Path, asked: argparse.Namespace) -> Mapping[str, object]:
    """One piece, again and again, beside a bare handler."""
    return reading(folder, asked.rounds, asked.seconds)


def memory_part(folder: Path, asked: argparse.Namespace) -> Mapping[str, object]:
    """Memory at the end of a load, beside that after its first tenth."""
    with service(folder) as served:
        found = asyncio.run(growth(served.pid, served.address, served.token, asked.minutes))
    return {
        "memory_growth": round(found.growth, 3),
        "memory_mb": [round(found.early_mb, 1), round(found.late_mb, 1)],
        "memory_minutes": asked.minutes,
        "memory_requests": found.answered,
        "memory_requests_failed": found.failed,
    }


def crowd_part(folder: Path, asked: argparse.Namespace) -> Mapping[str, object]:
    """Two hundred followers of the feed, a tenth of them cut again and again."""
    with service(folder) as served:
        found = asyncio.run(
            follow(served.address, served.token, readers=READERS, events=EVENTS,
                   per_s=EVENTS_PER_S)
        )  # fmt: skip
    return {
        "sse_lost": found.lost + found.twice + found.stray,
        "sse_p99_ms": found.p99_ms,
        "sse_p50_ms": found.p50_ms,
        "sse_readers": found.readers,
        "sse_events": found.acknowledged,
        "sse_cuts": found.cuts,
    }


def hostile_part(folder: Path, asked: argparse.Namespace) -> Mapping[str, object]:
    """The corpus of hostile requests: answers that blame the service, and what was written."""
    with service(folder) as served:
        harm = attack(served.address, served.token)
    store = open_store(served.ledger, SHOP)
    with store.reading() as reader:
        written = reader.head().size
    store.close()
    return {
        "hostile_5xx": harm.server_errors,
        "hostile_written": written,
        "hostile_requests": harm.sent,
        "hostile_refused": harm.refused,
    }


def fuzz_part(folder: Path, asked: argparse.Namespace) -> Mapping[str, object]:
    """Random requests that fit the contract, and chains of them along its links."""
    sys.path.append(str(SCRIPTS))
    from fuzz import fuzz, running_service

    with running_service() as service:
        found = fuzz(service, asked.examples, 1, long=False)
    return {"schemathesis_failures": found.failures, "schemathesis_cases": found.cases}


PARTS: Mapping[str, Callable[[Path, argparse.Namespace], Mapping[str, object]]] = {
    "read": read_part,
    "memory": memory_part,
    "crowd": crowd_part,
    "hostile": hostile_part,
    "fuzz": fuzz_part,
}


def main(arguments: Sequence[str]) -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="scripts/measure service", description=__doc__)
    parser.add_argument("--json", action="store_true", help="print one object for machines")
    parser.add_argument("--only", choices=PARTS, action="append", help="measure one part")
    parser.add_argument("--rounds", type=int, default=3, help="turns of each side, 3")
    parser.add_argument("--seconds", type=int, default=3, help="of reading a turn, 3")
    parser.add_argument(
        "--minutes", type=float, default=3.0, help="of load for the memory, 3; 30 for the record"
    )
    parser.add_argument(
        "--examples", type=int, default=EXAMPLES, help=f"random cases an operation, {EXAMPLES}"
    )
    asked = parser.parse_args(arguments)
    found: dict[str, object] = {}
    for part in asked.only or PARTS:
        with tempfile.TemporaryDirectory(prefix="coatledger-measure-") as folder:
            found |= PARTS[part](Path(folder), asked)
    if asked.json:
        print(json.dumps(found))
    else:
        print("\n".join(f"{name:<26}{value}" for name, value in found.items()))
    return 0
