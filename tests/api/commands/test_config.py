"""Settings are shown as they stand, secrets masked, and all that is wrong is told at once."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from coatledger_api.commands.config import masked
from coatledger_api.settings import Settings, SettingsError, settings_from, variable
from shell import call


def test_every_setting_is_shown_with_its_value_and_where_it_comes_from(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COATLEDGER_KEY_BURST", "77")
    shown = call("config", "--home", str(tmp_path)).stdout.splitlines()
    for name in Settings.__struct_fields__:
        (line,) = [line for line in shown if line.split()[0] == variable(name)]
        assert line.endswith("(default)") == (name != "key_burst")
    told = json.loads(call("config", "--json", "--home", str(tmp_path)).stdout)
    assert told["COATLEDGER_KEY_BURST"] == "77"
    assert told["COATLEDGER_PORT"] == "8700"
    assert not list(tmp_path.iterdir())


def test_no_secret_is_shown(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("COATLEDGER_DATABASE", "postgresql://keeper:hush:p@ss@db/l?password=quiet")
    monkeypatch.setenv("COATLEDGER_KEY", "clk_ABCDEFGH" + "s" * 38)
    shown = call("config", "--home", str(tmp_path)).stdout
    assert "clk_ABCDEFGH•••" in shown
    assert "keeper:•••@db" in shown
    for secret in ("hush", "p@ss", "quiet", "ssss"):
        assert secret not in shown


def test_an_address_without_a_password_is_shown_as_it_is() -> None:
    for address in ("sqlite:///ledger.db", "postgresql://db/l", "postgresql://keeper@db:5432/l"):
        assert masked(address) == address


WRONG = {
    "COATLEDGER_PORT": "70000",
    "COATLEDGER_BODY_BYTES_MAX": "little",
    "COATLEDGER_KEY_REQUESTS_PER_S": "0",
    "COATLEDGER_LOG": "loud",
}


@pytest.mark.parametrize("command", ["config", "serve", "start"])
def test_every_wrong_setting_is_named_at_once_and_nothing_starts(
    command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, value in WRONG.items():
        monkeypatch.setenv(name, value)
    result = call(command, "--home", str(tmp_path / "home"))
    assert result.exit_code == 2
    for name, value in WRONG.items():
        assert f"{name}={value}" in result.stderr
    assert not (tmp_path / "home").exists()


def test_a_folder_that_is_none_and_a_strange_database_are_faults_too(tmp_path: Path) -> None:
    file = tmp_path / "file"
    file.write_text("")
    result = call("config", "--home", str(file / "home"), "--database", "mysql://x:secret@y/z")
    assert result.exit_code == 2
    assert "is no folder" in result.stderr
    assert "COATLEDGER_DATABASE" in result.stderr
    assert "secret" not in result.stderr


def test_a_mistyped_setting_is_told_with_the_one_it_resembles(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COATLEDGER_KEY_BRUST", "5")
    result = call("config", "--home", str(tmp_path))
    assert result.exit_code == 0
    assert "COATLEDGER_KEY_BRUST is no setting; COATLEDGER_KEY_BURST is one" in result.stderr


def test_faults_are_kept_apart_for_programs_too() -> None:
    with pytest.raises(SettingsError) as caught:
        settings_from(WRONG)
    assert len(caught.value.faults) == len(WRONG)
