"""What was acknowledged survives a killed process, a killed server and a cut of the power."""

import random
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import closing
from pathlib import Path

import pytest
from coatledger.ledger.store import Store
from coatledger_adapters.engines import SQLITE_WRITER, Engines
from coatledger_adapters.lock_file import LockFile
from coatledger_adapters.migrate import migrate
from coatledger_adapters.sql_store import SqlStore, open_store
from postgres_server import Server, why_missing
from power_cut import ApswConnection, Op, RecordingVFS, Verdict, cuts, judge
from scribe import SHOP, Act, changes, fold
from sqlalchemy import QueuePool, create_engine

# Appends for ever and says so after each; in the broken form it says so before the commit.
WRITER = """
import sys, time
from contextlib import closing
from coatledger_adapters.sql_store import open_store
from scribe import SHOP, Act, changes, fold
address, broken = sys.argv[1], sys.argv[2] == "broken"
with closing(open_store(address, SHOP)) as store:
    while True:
        with store.writing() as writer:
            made = changes(writer.head(), [Act(("gun:G-1",))] * 2)
            size = made.head.size
            writer.write(made._replace(folds=[fold("gun:G-1", "", size)], tallies={("n", ""): 2}))
            if broken:
                print(size, flush=True)
                time.sleep(0.01)
        if not broken:
            print(size, flush=True)
"""
SUPPORT = Path(__file__).parents[1] / "support"


def run_writer(address: str, manner: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", WRITER, address, manner],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        cwd=SUPPORT,
    )


def acknowledged(writer: subprocess.Popen[str], for_s: float, kill: Iterator[None]) -> int:
    """Let it write for a while, kill what is to be killed, and return what it said last."""
    assert writer.stdout is not None
    first = writer.stdout.readline()  # only then does it write
    time.sleep(for_s)
    next(kill)
    said, _ = writer.communicate()
    lines = [line for line in (first + said).splitlines(keepends=True) if line.endswith("\n")]
    return int(lines[-1])


def kill_writer(writer: subprocess.Popen[str]) -> Iterator[None]:
    writer.kill()
    yield


def size_if_whole(store: Store) -> int:
    with store.reading() as reader:
        size = reader.head().size
        assert len(reader.rows(0, size + 9)) == size
        assert len(reader.of_subject("gun:G-1")) == size
        assert reader.folds(["gun:G-1"])["gun:G-1"].position == size
        assert sum(tally.value for tally in reader.tallies("n")) == size
    return size


def lost_by_kills(address: str, manner: str, rounds: int) -> int:
    rng, lost = random.Random(1), 0
    for _ in range(rounds):
        writer = run_writer(address, manner)
        told = acknowledged(writer, rng.uniform(0.0, 0.2), kill_writer(writer))
        with closing(open_store(address, SHOP)) as store:
            lost += max(0, told - size_if_whole(store))
    return lost


def test_a_killed_writer_loses_nothing_it_acknowledged(address: str) -> None:
    assert lost_by_kills(address, "sound", 5) == 0


def test_a_writer_that_answers_before_its_commit_would_be_found_out(address: str) -> None:
    assert lost_by_kills(address, "broken", 4) > 0


@pytest.mark.postgres
def test_a_killed_server_loses_nothing_it_acknowledged() -> None:
    if missing := why_missing():
        pytest.skip(missing)
    server = Server()
    try:
        address = server.new_database()
        migrate(address)
        told = acknowledged(run_writer(address, "sound"), 0.2, kill_server(server))
        server.start()
        with closing(open_store(address, SHOP)) as store:
            assert size_if_whole(store) >= told > 0
    finally:
        server.stop()


def kill_server(server: Server) -> Iterator[None]:
    server.kill()
    yield


WRITES = 120
CUTS, CUTS_OF_THE_BROKEN = 2_000, 300
CHECKPOINT = "PRAGMA wal_autocheckpoint = 40"  # several times in a recording, not never


def recorded(folder: Path, *statements: str) -> tuple[dict[str, bytes], Sequence[Op]]:
    """The disk before, and all that a store does to it in some writes of one to four events."""
    database = folder / "ledger.db"
    migrate(f"sqlite:///{database}")
    open_store(f"sqlite:///{database}", SHOP).close()
    before = {"ledger.db": database.read_bytes()}
    ops: list[Op] = []
    vfs = RecordingVFS(f"recording-{folder.name}", ops)
    # A shim in Python has no shared memory, so the one connection keeps the log's index itself.
    settings = ("PRAGMA locking_mode = EXCLUSIVE", *SQLITE_WRITER, CHECKPOINT, *statements)
    engine = create_engine(
        "sqlite:///shim.db",
        creator=lambda: ApswConnection(str(database), vfs.name, settings),
        poolclass=QueuePool,
        pool_size=1,
        paramstyle="qmark",
    )
    rng = random.Random(2)
    with closing(SqlStore(Engines(engine, engine, LockFile(database), None), SHOP)) as store:
        for _ in range(WRITES):
            size = write(store, rng.randint(1, 4))
            ops.append(Op("acknowledged", acknowledged=size))
    return before, ops


def write(store: SqlStore, events: int) -> int:
    with store.writing() as writer:
        made = changes(writer.head(), [Act(("gun:G-1",), occurred_us=-n) for n in range(events)])
        size = made.head.size
        writer.write(made._replace(folds=[fold("gun:G-1", "", size)], tallies={("n", ""): events}))
    return size


def cut_everywhere(tmp_path: Path, count: int, *statements: str) -> Verdict:
    recording, disk = tmp_path / "recording", tmp_path / "disk"
    recording.mkdir()
    disk.mkdir()
    before, ops = recorded(recording, *statements)
    rng = random.Random(3)
    moments = sorted(rng.choices(range(len(ops)), k=count))
    return judge(disk, "ledger.db", cuts(before, ops, moments, rng), SHOP)


def test_a_cut_of_the_power_loses_nothing_acknowledged(tmp_path: Path) -> None:
    verdict = cut_everywhere(tmp_path, CUTS)
    assert verdict.cuts == CUTS
    assert verdict.acknowledged > 1000
    assert (verdict.lost, verdict.corrupt) == (0, 0)


def test_with_fewer_syncs_the_power_cut_would_lose_events(tmp_path: Path) -> None:
    assert cut_everywhere(tmp_path, CUTS_OF_THE_BROKEN, "PRAGMA synchronous = NORMAL").lost > 0


def test_with_no_syncs_the_power_cut_would_ruin_the_file(tmp_path: Path) -> None:
    verdict = cut_everywhere(tmp_path, CUTS_OF_THE_BROKEN, "PRAGMA synchronous = OFF")
    assert verdict.lost > 0
    assert verdict.corrupt > 0
