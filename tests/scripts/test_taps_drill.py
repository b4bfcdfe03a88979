"""The drill of taps at the size of a test: nothing is lost or doubled; a queue that would double
is found out."""

import importlib
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from browser import Door, browser_here, running_browser
from coatledger_api.shop_pages.files import static_file

DRILLS = Path(__file__).resolve().parents[2] / "scripts" / "drills"
TAPS = 20


@pytest.fixture(scope="module")
def door() -> Iterator[Door]:
    """A running browser."""
    path = browser_here()
    if path is None:
        pytest.skip("a headless browser: chromium is not installed")
    with running_browser(path) as one:
        yield one


@pytest.fixture
def drill(monkeypatch: pytest.MonkeyPatch) -> Iterator[Any]:
    """The drill's module."""
    monkeypatch.syspath_prepend(str(DRILLS))
    yield importlib.import_module("taps")
    for name in ("_service", "taps"):
        sys.modules.pop(name, None)


@pytest.mark.slow
def test_every_tap_is_one_fact_whatever_happens_to_network_tab_and_clock(
    drill: Any, door: Door, tmp_path: Path
) -> None:
    found = drill.rehearse(door, tmp_path, TAPS)
    assert found["taps"] == found["facts"] == TAPS
    assert (found["lost"], found["doubled"]) == (0, 0)
    assert (found["out_of_order"], found["at_wrong_time"]) == (0, 0)
    assert found["cuts"] > 0
    assert found["answers_lost"] > 0
    assert found["tabs_killed"] > 0


@pytest.mark.slow
def test_a_queue_that_gives_a_new_id_to_each_sending_is_found_out(
    drill: Any, door: Door, tmp_path: Path
) -> None:
    queue = static_file("queue.js")
    assert queue is not None
    right = "some.map((entry) => entry.fact)"
    wrong = "some.map((entry) => ({ ...entry.fact, id: newId() }))"
    script = queue.body.decode()
    assert right in script
    found = drill.rehearse(door, tmp_path, TAPS, script.replace(right, wrong))
    assert found["doubled"] > 0
