"""What proofs and keeping cost: packs in short and long histories, a rebuild, copies under load."""

import json
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from itertools import islice
from pathlib import Path

from coatledger.answers.proof import pack_of_piece, told_faults
from coatledger.events.catalogue import AnyEvent
from coatledger.ledger.pack import Pack, pack_bytes
from coatledger.ledger.pack_check import check_pack
from coatledger.recording.session import Request, Session
from coatledger_adapters.backup import back_up
from coatledger_adapters.checkpoints import SqlCheckpoints, for_pack
from coatledger_adapters.migrate import migrate
from coatledger_adapters.read_models import compare
from coatledger_adapters.self_check import self_check
from coatledger_adapters.shadow import shadow
from coatledger_adapters.signing import Signer, verify
from coatledger_adapters.sql_store import SqlStore, open_store
from long_history import BEGIN, Ids, batch, history

FEW, MANY = 1_000, 100_000
SHOP = "shop"
SIGNER = Signer(SHOP, bytes(32))
RUNS = 9
AT_ONCE = 1_000
NOW = BEGIN + timedelta(days=10_000)


def main(arguments: Sequence[str]) -> int:
    """Measure and print; `--json` prints one object, `--events N` sets the long history."""
    if "--rebuild" in arguments:
        return _rebuild(Path(arguments[arguments.index("--rebuild") + 1]))
    many = int(arguments[arguments.index("--events") + 1]) if "--events" in arguments else MANY
    with tempfile.TemporaryDirectory() as folder:
        short = _made(Path(folder) / "short.db", FEW)
        short_ms, _ = _proof_ms(short)
        short.close()
        path = Path(folder) / "long.db"
        long = _made(path, many)
        long_ms, checked_ms = _proof_ms(long)
        copies = _copies(long, path, Path(folder) / "copies", many)
        begun = time.perf_counter()
        assert self_check(long, SIGNER.key).is_whole
        check_s = time.perf_counter() - begun
        long.close()
        rebuilt = _in_a_process_of_its_own(path)
        found = {
            "events": [FEW, many],
            "proof_ms": [round(short_ms, 2), round(long_ms, 2)],
            "proof_growth": round(long_ms / short_ms, 2),
            "proof_check_ms": round(checked_ms, 2),
            **rebuilt,
            "self_check_s": round(check_s, 2),
            **copies,
        }
    if "--json" in arguments:
        print(json.dumps(found))
    else:
        for name, value in found.items():
            print(f"{name:<24}{value}")
    return 0


def _made(path: Path, events: int) -> SqlStore:
    address = f"sqlite:///{path}"
    migrate(address)
    store = open_store(address, SHOP)
    stream = iter(history(events, Ids()))
    while group := tuple(islice(stream, AT_ONCE)):
        _post(store, group)
    SqlCheckpoints(store, SIGNER).sign(0)
    return store


def _post(store: SqlStore, events: tuple[AnyEvent, ...]) -> None:
    with store.writing() as writer:
        session = Session(writer, SHOP, NOW, lambda: bytes(16))
        session.take(Request(events=events, by="measure"))
        writer.write(session.changes())


def _proof_ms(store: SqlStore) -> tuple[float, float]:
    """Return the median milliseconds to write a pack of an early piece, and to check it."""
    kept = SqlCheckpoints(store, SIGNER).latest()
    assert kept is not None
    signed = for_pack(kept, SIGNER)

    def write() -> Pack:
        with store.reading() as reader:
            pack = pack_of_piece(reader, SHOP, "P3-1", signed)
        assert pack is not None
        return pack

    pack = write()
    data = pack_bytes(pack)

    def check() -> None:
        assert check_pack(data, pack, SIGNER.key, verify).holds
        assert not told_faults(pack)

    return _median_ms(write), _median_ms(check)


def _median_ms(work: Callable[[], object]) -> float:
    times = []
    for _ in range(RUNS):
        begun = time.perf_counter()
        work()
        times.append(1000 * (time.perf_counter() - begun))
    return statistics.median(times)


def _copies(store: SqlStore, path: Path, folder: Path, events: int) -> dict[str, float]:
    """Take copies while one event after another is appended."""
    stop = threading.Event()
    appends: list[float] = []

    def append() -> None:
        ids, number = Ids(10**9), events // 20  # batches that were not there yet
        while not stop.is_set():
            for event in batch(ids, number):
                begun = time.perf_counter()
                _post(store, (event,))
                appends.append(1000 * (time.perf_counter() - begun))
                time.sleep(0.005)
            number += 1

    writing = threading.Thread(target=append)
    writing.start()
    times = []
    for second in range(3):
        begun = time.perf_counter()
        copy = back_up(path, folder, datetime(2026, 1, 1, second=second, tzinfo=UTC))
        times.append(time.perf_counter() - begun)
    stop.set()
    writing.join()
    appends.sort()
    return {
        "copy_mb": round(copy.manifest.bytes / 1e6, 1),
        "copy_s": round(statistics.median(times), 2),
        "copy_append_p99_ms": round(appends[int(len(appends) * 0.99)], 2),
    }


def _in_a_process_of_its_own(path: Path) -> dict[str, float]:
    """Rebuild everything in a fresh process, whose memory is the rebuild's alone."""
    ran = subprocess.run(
        [sys.executable, Path(__file__).parent.parent / "measurements.py", "proof", "--rebuild",
         str(path)],
        stdout=subprocess.PIPE, text=True, check=True,
    )  # fmt: skip
    read: dict[str, float] = json.loads(ran.stdout)
    return read


def _rebuild(path: Path) -> int:
    store = open_store(f"sqlite:///{path}", SHOP)
    begun = time.perf_counter()
    with shadow() as beside, store.beside() as ledger:
        found = compare(store, ledger, beside)
    took = time.perf_counter() - begun
    store.close()
    assert found.none, found
    # What `getrusage` says is handed down from the process that started this one.
    high = next(x for x in Path("/proc/self/status").read_text().splitlines() if "VmHWM" in x)
    memory_mb = int(high.split()[1]) / 1024
    print(json.dumps({"rebuild_events_s": round(found.size / took),
                      "rebuild_memory_mb": round(memory_mb)}))  # fmt: skip
    return 0
