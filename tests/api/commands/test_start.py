"""`coatledger start`: from nothing to a served shop, and again without doing anything twice."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
from pathlib import Path

import httpx
import msgspec
import pytest
from click.testing import CliRunner, Result
from coatledger_adapters.sql_store import open_store
from coatledger_api.commands import start
from coatledger_api.commands.home import open_ledger
from coatledger_api.commands.reach import Failed


def begun(home: Path, *options: str) -> Result:
    result = CliRunner().invoke(start.command, ["--home", str(home), "--stop-when-ready", *options])
    assert result.exit_code == 0, result.output
    return result


def size_of(home: Path) -> int:
    store = open_store(f"sqlite:///{home / 'ledger.db'}", "shop")
    try:
        with store.reading() as reader:
            return reader.head().size
    finally:
        store.close()


@pytest.mark.slow
def test_a_second_start_loads_nothing_and_keeps_the_token(tmp_path: Path) -> None:
    first = begun(tmp_path)
    size, token = size_of(tmp_path), (tmp_path / "demo-token").read_text()
    assert size > 4_000
    assert f"{size:,} facts are recorded" in first.output
    again = begun(tmp_path)
    assert "facts" not in again.output
    assert size_of(tmp_path) == size
    assert (tmp_path / "demo-token").read_text() == token


@pytest.mark.slow
def test_a_load_that_was_broken_off_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from coatledger_api.demo import play, player

    whole = player.load
    every = play.play
    monkeypatch.setattr(play, "play", lambda seed, now: every(seed, now)[:90])

    def broken(store, keys, secret, token, posts, forward):  # type: ignore[no-untyped-def]
        whole(store, keys, secret, token, posts[:40], forward)
        raise player.RefusedError("the machine was switched off")

    monkeypatch.setattr(player, "load", broken)
    result = CliRunner().invoke(start.command, ["--home", str(tmp_path), "--stop-when-ready"])
    assert isinstance(result.exception, player.RefusedError)
    part = size_of(tmp_path)
    monkeypatch.setattr(player, "load", whole)
    begun(tmp_path)
    assert 0 < part < size_of(tmp_path)
    assert msgspec.json.decode((tmp_path / "demo.json").read_bytes())["done"] is True


def test_the_token_of_the_demonstration_is_for_its_owner_alone(tmp_path: Path) -> None:
    ledger = open_ledger(tmp_path, None, "shop")
    try:
        token = start.first_token(ledger, tmp_path, kept=True)
        assert token is not None
        assert (tmp_path / "demo-token").stat().st_mode & 0o777 == 0o600
        assert start.first_token(ledger, tmp_path, kept=True) == token
        (tmp_path / "demo-token").unlink()
        assert start.first_token(ledger, tmp_path, kept=True) is None, "a key stands already"
    finally:
        ledger.store.close()


def test_without_the_demonstration_the_ledger_is_empty_and_the_token_kept_nowhere(
    tmp_path: Path,
) -> None:
    begun(tmp_path, "--without-demo")
    assert size_of(tmp_path) == 0
    assert not (tmp_path / "demo-token").exists()


def test_a_port_that_is_taken_is_passed_over_unless_it_was_asked_for(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        monkeypatch.setattr(start, "PORT", port)
        with start._listening(None) as found:
            assert found.getsockname()[1] > port
        with pytest.raises(Failed, match=str(port)):
            start._listening(port)


def test_it_serves_what_it_prints_and_ends_when_it_is_told_to(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "coatledger_api.commands.start", "--home", str(tmp_path)]
    with subprocess.Popen(
        [*command, "--without-demo", "--port", "0"], stdout=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    ) as running:  # fmt: skip
        assert running.stdout is not None
        told = ""
        while "Or ask on the command line" not in told:
            line = running.stdout.readline()
            assert line, told
            told += line
        found = re.search(r"COATLEDGER_URL=(\S+) COATLEDGER_KEY=(\S+)", told)
        assert found is not None
        url, token = found.groups()
        with httpx.Client(base_url=url, headers={"Authorization": f"Bearer {token}"}) as client:
            for path in re.findall(r"\$COATLEDGER_URL(\S+)\"", told):
                assert client.get(path).status_code == 200, path
        running.send_signal(signal.SIGINT)
        assert running.wait(20) == 0
