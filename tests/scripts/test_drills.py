"""The drills at the size of a test: nothing is lost, and what would lose something is found out."""

import importlib
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from postgres_server import why_missing

DRILLS = Path(__file__).resolve().parents[2] / "scripts" / "drills"
# A service that acknowledges what it will only write some requests later.
LATE = """
import coatledger_api.writer as writing
from coatledger.recording.session import Session
class Undo(Exception): pass
written, held = writing.Writer._write, []
def late(self, requests):
    if len(held) > 50:
        written(self, held)
        held.clear()
    held.extend(requests)
    try:
        with self._store.writing() as ledger:
            session = Session(ledger, self._store.shop, self._clock(), self._salt)
            told = [writing.Written(session.take(one), ledger.head()) for one in requests]
            raise Undo
    except Undo:
        return told, True
writing.Writer._write = late
from coatledger_api.commands.main import main
main()
"""
# A rebuild that does not catch up with what was recorded while it went on.
HASTY = """
from coatledger.recording.rebuild import Rebuild
real, done = Rebuild.catch_up, []
def once(self, reader):
    if not done:
        done.append(real(self, reader))
    return done[0]
Rebuild.catch_up = once
now = """


@pytest.fixture
def drill(monkeypatch: pytest.MonkeyPatch) -> Iterator[Any]:
    """Load a drill by its name."""
    monkeypatch.syspath_prepend(str(DRILLS))
    yield importlib.import_module
    for name in (
        "_clients",
        "_service",
        "kill",
        "mishaps",
        "power",
        "rebuild",
        "restart",
        "slow",
        "standby",
        "upgrade",
    ):
        sys.modules.pop(name, None)


@pytest.mark.slow
def test_a_killed_service_has_all_it_acknowledged(drill: Any, tmp_path: Path) -> None:
    found = drill("kill").rehearse(tmp_path, rounds=2)
    assert found["acknowledged"] > 20
    assert (found["lost"], found["corrupt"]) == (0, 0)


@pytest.mark.slow
def test_a_service_that_answers_before_it_writes_is_found_out(drill: Any, tmp_path: Path) -> None:
    found = drill("kill").rehearse(tmp_path, rounds=3, program=("-c", LATE, "serve"))
    assert found["lost"] > 0


@pytest.mark.slow
def test_a_day_of_work_survives_cuts_of_the_power(drill: Any) -> None:
    power = drill("power")
    found = power.rehearse(60)
    assert found["acknowledged"] > 0
    assert (found["lost"], found["corrupt"]) == (0, 0)
    assert power.rehearse(60, power.NORMAL)["lost"] > 0


@pytest.mark.slow
@pytest.mark.postgres
@pytest.mark.parametrize("synchronous", [True, False])
def test_a_standby_that_was_waited_for_has_everything(
    drill: Any, tmp_path: Path, synchronous: bool
) -> None:
    if missing := why_missing():
        pytest.skip(missing)
    found = drill("standby").rehearse(tmp_path, 200, synchronous=synchronous)
    assert found["acknowledged"] >= 200
    assert (found["lost"] == 0) is synchronous
    if synchronous:
        # How soon the first write is taken, the drill itself measures; a test is never timed.
        assert found["corrupt"] == 0


@pytest.mark.slow
def test_a_ledger_goes_to_the_next_version_and_back_with_one_root(
    drill: Any, tmp_path: Path
) -> None:
    upgrade = drill("upgrade")
    earlier = upgrade.earlier_program(tmp_path / "earlier")
    if earlier is None:
        pytest.skip("there is no git here, or no history")
    found = upgrade.rehearse(tmp_path, earlier, 0.5)
    assert found["acknowledged"] > 20
    assert found["given_up"] > 0
    assert (found["lost"], found["corrupt"], found["same_root"]) == (0, 0, 1)


@pytest.mark.slow
def test_a_disk_that_fills_and_a_clock_that_jumps_lose_nothing(drill: Any, tmp_path: Path) -> None:
    mishaps = drill("mishaps")
    clock = mishaps.clock_jump(tmp_path / "clock", 2.0)
    assert clock["acknowledged"] > 20
    assert clock["refused"] > 0
    assert (clock["lost"], clock["corrupt"]) == (0, 0)
    disk = mishaps.full_disk(tmp_path, 1.5)
    if disk is None:
        pytest.skip("a small file system may not be mounted here")
    assert disk["refused"] > 0
    assert (disk["lost"], disk["corrupt"]) == (0, 0)


@pytest.mark.slow
@pytest.mark.postgres
def test_a_new_version_takes_over_under_load_with_nothing_lost_or_told_twice(
    drill: Any, tmp_path: Path
) -> None:
    if missing := why_missing():
        pytest.skip(missing)
    rebuild = drill("rebuild")
    found = rebuild.rehearse(tmp_path / "right", 3_000)
    assert found["acknowledged"] > 100
    assert found["told"] > 10
    wrong = ("lost", "corrupt", "refused_before", "told_twice", "untold")
    assert not any(found[name] for name in wrong), found
    # Who takes over without looking at what came meanwhile is found out.
    hasty = rebuild.NEXT.replace("now = ", HASTY, 1)
    assert rebuild.rehearse(tmp_path / "hasty", 3_000, hasty)["corrupt"] == 1


@pytest.mark.slow
def test_a_slow_disk_is_waited_for_and_loses_nothing(
    drill: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    slow = drill("slow")
    if missing := slow.why_missing():
        assert slow.main([]) == 77
        assert missing in capsys.readouterr().err
        return
    found = slow.rehearse(tmp_path / "slow", 100, 1.0)
    assert found["acknowledged"] > slow.TAPS + slow.BATCHES * slow.BATCH
    assert (found["lost"], found["corrupt"], found["too_early"]) == (0, 0, 0)
    late = slow.rehearse(tmp_path / "late", 100, 0.5, ("-c", LATE, "serve"))
    assert late["too_early"] > 0, "who answers before the disk did is found out"


@pytest.mark.slow
@pytest.mark.postgres
def test_a_server_that_is_restarted_and_killed_loses_nothing(drill: Any, tmp_path: Path) -> None:
    if missing := why_missing():
        pytest.skip(missing)
    found = drill("restart").rehearse(tmp_path, rounds=2)
    assert found["acknowledged"] > 20
    assert (found["lost"], found["corrupt"]) == (0, 0)
