"""Durable appends over HTTP, beside a bare handler and a rival, in turns of one run."""

from __future__ import annotations

import os
import signal
import socket
import statistics
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import msgspec
from _ledger_load import Load, generator, load
from _ledger_servers import KINDS, SECRET
from _ledger_world import SHOP, begin, coat, prepare
from coatledger_adapters.keys import make_key
from coatledger_adapters.migrate import migrate
from coatledger_adapters.sql_store import open_store

CLIENTS = 64
PER_S_MOST = 10_000
WARM_UP_S = 1
SETTLES_WITHIN_S = 180
IDLE_SHARE = 0.1
STARTED_S = 2.0  # what a service loads for later, beside serving, once it is up


def over_http(
    folder: Path, rounds: int, seconds: int, address: str | None = None
) -> Mapping[str, object]:
    """Measure every kind of service in turns; each round begins with another kind."""
    day = begin()
    token, key = make_key(SECRET, "measure", ("record",), 0)
    each = PER_S_MOST * seconds
    coats = each * rounds + PER_S_MOST * WARM_UP_S
    encode = msgspec.json.Encoder().encode
    bodies = [encode(coat(day, number)) for number in range(coats)]
    ours = address or f"sqlite:///{folder / 'ours.db'}"
    migrate(ours)
    store = open_store(ours, SHOP)
    prepare(store, day, coats)
    store.close()
    databases = {"ours": ours, "bare": "", "rival_loop": str(folder / "loop.db"),
                 "rival_threads": str(folder / "threads.db")}  # fmt: skip
    told = f"{key.key_id}:{key.token_hash.hex()}:record"
    runs: dict[str, list[Load]] = {kind: [] for kind in KINDS}
    for turn in range(rounds + 1):
        first = 0 if turn == 0 else PER_S_MOST * WARM_UP_S + (turn - 1) * each
        some = bodies[first : first + (each if turn else PER_S_MOST * WARM_UP_S)]
        for place in range(len(KINDS)):
            kind = KINDS[(turn + place) % len(KINDS)]
            with served(kind, databases[kind], told) as port:
                # A second of warm-up on facts of its own kind; what is stored is not counted.
                run = load(port, token, some, seconds if turn else WARM_UP_S, CLIENTS, folder)
            assert run.refused == 0, f"{kind} refused {run.refused} of {run.answered}"
            assert kind != "ours" or run.answered <= len(some), "the facts ran out"
            if turn:
                runs[kind].append(run)
    return figures(runs)


def figures(runs: Mapping[str, list[Load]]) -> Mapping[str, object]:
    """Medians, and the ratios of medians of one run."""
    per_s = {kind: statistics.median(run.per_s for run in found) for kind, found in runs.items()}
    rival = max(per_s["rival_loop"], per_s["rival_threads"])
    return {
        "http_append_vs_bare": round(per_s["ours"] / per_s["bare"], 3),
        "http_append_vs_eventsourcing": round(per_s["ours"] / rival, 2),
        "http_append_p99_ms": round(statistics.median(run.p99_ms for run in runs["ours"]), 1),
        "http_append_p50_ms": round(statistics.median(run.p50_ms for run in runs["ours"]), 1),
        **{f"http_{kind}_per_s": round(rate) for kind, rate in per_s.items()},
        "http_load_from": generator(),
    }


@contextmanager
def served(kind: str, database: str, told: str) -> Iterator[int]:
    """Run one service in a process of its own until the block ends."""
    with socket.create_server(("127.0.0.1", 0)) as free:
        port: int = free.getsockname()[1]
    program = Path(__file__).with_name("_ledger_servers.py")
    process = subprocess.Popen([sys.executable, str(program), kind, str(port), database, told])
    try:
        _wait_for(process, port)
        yield port
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(30)


def _wait_for(process: subprocess.Popen[bytes], port: int) -> None:
    for _ in range(600):
        assert process.poll() is None, "the service ended before it served"
        try:
            socket.create_connection(("127.0.0.1", port), 0.2).close()
        except OSError:
            time.sleep(0.05)
        else:
            time.sleep(STARTED_S)
            _wait_until_idle(process.pid)
            return
    raise AssertionError("the service did not come up")


def _wait_until_idle(pid: int) -> None:
    """Wait until a service that begins, and may compile something meanwhile, has come to rest."""
    stat = Path(f"/proc/{pid}/stat")
    if not stat.exists():
        return
    ticks_s = os.sysconf("SC_CLK_TCK")
    for _ in range(SETTLES_WITHIN_S):
        before = _ticks(stat)
        time.sleep(1.0)
        if (_ticks(stat) - before) / ticks_s < IDLE_SHARE:
            return
    raise AssertionError("the service never came to rest")


def _ticks(stat: Path) -> int:
    """The processor's time a process took, in ticks: fields 14 and 15 of proc(5)."""
    fields = stat.read_text("ascii").rpartition(")")[2].split()
    return int(fields[11]) + int(fields[12])
