"""Power cuts by calculation: whatever of the unsynced writes reached the disk, nothing is lost.

A shop's work is recorded once through a shim that notes every write and sync of SQLite. Then the
disk is made up as a cut at any moment may leave it, and each such disk is opened and checked from
its first event to its last fold. With fewer syncs the same cuts must lose events, or they would
prove nothing: that is counted too.
"""

from __future__ import annotations

import argparse
import random
import tempfile
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import UUID

from _service import SHOP, faults, tell
from coatledger.events import bare, coating, finish, setup
from coatledger.events.catalogue import AnyEvent
from coatledger.recording.at_hand import AtHand
from coatledger.recording.session import Request, Session
from coatledger_adapters.engines import SQLITE_WRITER, Engines
from coatledger_adapters.lock_file import LockFile
from coatledger_adapters.migrate import migrate
from coatledger_adapters.sql_store import SqlStore, open_store
from power_cut import ApswConnection, Op, RecordingVFS, cuts
from sqlalchemy import QueuePool, create_engine

CUTS, CUTS_WITH_NORMAL = 2_000, 400
WRITES = 100
# Often enough that many cuts fall into the moving of pages from the log to the file.
CHECKPOINT = "PRAGMA wal_autocheckpoint = 60"
NORMAL = "PRAGMA synchronous = NORMAL"
DAY = datetime(2026, 3, 2, 8, tzinfo=UTC)


def main(arguments: Sequence[str]) -> int:
    """Rehearse and print; ends with 1 when anything was lost or bent, or nothing was proven."""
    parser = argparse.ArgumentParser(prog="scripts/drill power", description=__doc__)
    parser.add_argument("--json", action="store_true", help="print one object for machines")
    parser.add_argument("--cuts", type=int, default=CUTS, help=f"power cuts, {CUTS} if not given")
    asked = parser.parse_args(arguments)
    found = rehearse(asked.cuts)
    weak = rehearse(min(asked.cuts, CUTS_WITH_NORMAL), NORMAL)
    found["lost_with_synchronous_normal"] = weak["lost"]
    tell(found, as_json=asked.json)
    return 1 if found["lost"] or found["corrupt"] or not weak["lost"] else 0


def rehearse(count: int, *statements: str) -> dict[str, int]:
    """Cut the power so many times; `statements` change how the writing connection is set up."""
    with tempfile.TemporaryDirectory(prefix="coatledger-drill-") as folder:
        disk = Path(folder) / "disk"
        disk.mkdir()
        before, ops = recorded(Path(folder), statements)
        chance = random.Random(3)
        moments = sorted(chance.choices(range(len(ops)), k=count))
        acknowledged = lost = corrupt = 0
        for left, told in cuts(before, ops, moments, chance):
            for old in disk.iterdir():
                old.unlink()
            for name, data in left.items():
                (disk / name).write_bytes(data)
            size = size_if_whole(disk / "ledger.db")
            acknowledged += told
            corrupt += size is None
            lost += 0 if size is None else max(0, told - size)
    return {"cuts": count, "acknowledged": acknowledged, "lost": lost, "corrupt": corrupt}


def recorded(folder: Path, statements: Sequence[str]) -> tuple[dict[str, bytes], Sequence[Op]]:
    """Return the disk before the work, and all that the work does to it."""
    database = folder / "ledger.db"
    migrate(f"sqlite:///{database}")
    open_store(f"sqlite:///{database}", SHOP).close()
    before = {database.name: database.read_bytes()}
    ops: list[Op] = []
    shim = RecordingVFS(f"drill-{folder.name}", ops)
    # A shim in Python has no shared memory, so the one connection keeps the log's index itself.
    settings = ("PRAGMA locking_mode = EXCLUSIVE", *SQLITE_WRITER, CHECKPOINT, *statements)
    engine = create_engine(
        "sqlite:///shim.db", creator=lambda: ApswConnection(str(database), shim.name, settings),
        poolclass=QueuePool, pool_size=1, paramstyle="qmark",
    )  # fmt: skip
    store = SqlStore(Engines(engine, engine, LockFile(database), None), SHOP)
    at_hand, chance, facts = AtHand(), random.Random(2), work()
    for _ in range(WRITES):
        some = tuple(next(facts) for _ in range(chance.randint(1, 4)))
        with store.writing() as writer:
            session = Session(writer, SHOP, datetime.now(UTC), lambda: bytes(16), at_hand)
            session.take(Request(events=some, by="drill"))
            changes = session.changes()
            writer.write(changes)
        session.written()
        ops.append(Op("acknowledged", acknowledged=changes.head.size))
    store.close()
    return before, ops


def work() -> Iterator[AnyEvent]:
    """A small shop's day without end: cans come in, pieces are begun, coated and coated again."""
    made = 0

    def new(kind: Callable[..., AnyEvent], /, **fields: object) -> AnyEvent:
        nonlocal made
        made += 1
        id_ = UUID(int=(7 << 76) | (2 << 62) | made)
        return kind(id=id_, occurred_at=DAY + timedelta(minutes=made), **fields)

    yield new(setup.ProductDescribed, product="clear", kind="water_borne", recoat_h=3.0)
    batch = 0
    while True:
        pieces = tuple(f"box-{batch}-{i}" for i in range(3))
        yield new(finish.LotReceived, lot=f"can-{batch}", product="clear", amount_l=5.0)
        yield new(
            bare.PieceStarted, pieces=pieces, kind="jewellery box", species="cherry",
            coat_area_m2=0.2, use="decor",
        )  # fmt: skip
        for _ in range(3):
            yield new(coating.CoatApplied, pieces=pieces, lot=f"can-{batch}", gun="gun-1")
        batch += 1


def size_if_whole(path: Path) -> int | None:
    """The ledger's size when everything in it agrees, else None."""
    try:
        store = open_store(f"sqlite:///{path}", SHOP)
    except Exception:  # noqa: BLE001 - whatever keeps it from opening, it is not whole
        return None
    try:
        with store.reading() as reader:
            size = reader.head().size
        return None if faults(store) else size
    finally:
        store.close()
