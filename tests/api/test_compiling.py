"""The engine is compiled by a process that ends, so that the service keeps none of its memory."""

from __future__ import annotations

import asyncio
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest
from coatledger.computations.simulate.compiled import COMPILES
from coatledger.ledger.memory import MemoryStore
from coatledger_api import compiling
from coatledger_api.simulations import Simulations

AGED = """
import os
from coatledger_api.compiling import _made, _source, begun_apart, load
load()
made = _made()
for path in made:
    os.utime(path, (1, _source().stat().st_mtime - 60))
apart = begun_apart()
print(apart is not None and apart.wait())
print(begun_apart())
"""


def sleeping(seconds: float) -> subprocess.Popen[bytes]:
    return subprocess.Popen([sys.executable, "-c", f"import time; time.sleep({seconds})"])


def test_what_is_older_than_its_source_is_compiled_apart_and_then_kept() -> None:
    if not COMPILES:
        assert compiling.begun_apart() is None
        return
    done = subprocess.run(
        [sys.executable, "-c", AGED], capture_output=True, text=True, check=True, timeout=120
    )
    assert done.stdout.split() == ["0", "None"], done.stderr


def test_it_is_kept_beside_the_ledger_where_the_program_may_not_write(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "environ", {})
    compiling.keep_in(tmp_path)
    assert compiling.PLACE not in os.environ, "beside the source is the place while it can be"
    monkeypatch.setattr(os, "access", lambda *_: False)
    compiling.keep_in(tmp_path)
    assert os.environ.get(compiling.PLACE) == (str(tmp_path) if COMPILES else None)
    compiling.keep_in(tmp_path / "other")
    assert os.environ.get(compiling.PLACE) == (str(tmp_path) if COMPILES else None)


def test_who_simulates_while_it_is_compiled_waits(monkeypatch: pytest.MonkeyPatch) -> None:
    apart = sleeping(0.5)
    monkeypatch.setattr(compiling, "begun_apart", lambda: apart)
    simulations = Simulations(MemoryStore("trial"), 2, 4, 1)
    simulations.warm(apart=True)
    assert asyncio.run(simulations.run(apart.poll)) == 0, "it was done before the work began"
    simulations.close()


def test_a_service_that_ends_ends_its_compiler(monkeypatch: pytest.MonkeyPatch) -> None:
    apart = sleeping(60)
    loaded: list[None] = []
    monkeypatch.setattr(compiling, "begun_apart", lambda: apart)
    monkeypatch.setattr(compiling, "load", lambda: loaded.append(None))
    simulations = Simulations(MemoryStore("trial"), 1, 1, 1)
    simulations.warm(apart=True)
    time.sleep(0.2)
    simulations.close()
    assert apart.wait(10) != 0
    time.sleep(0.1)
    assert not loaded
