"""The recipes for whoever runs the service name commands, options and settings that are there."""

import importlib
import re
from collections.abc import Iterator
from pathlib import Path

import click
import pytest
from coatledger_api.commands.main import DOORS, main
from coatledger_api.settings import settings_from, strangers

ROOT = Path(__file__).resolve().parents[2]
RECIPES = tuple(sorted((ROOT / "scripts" / "operate").iterdir()))


def calls(text: str) -> Iterator[list[str]]:
    """Every call of the program: as a shell writes it, and as a container's lists do."""
    for words in re.findall(r"(?:bin/|--tag |all |/ledger )coatledger ([a-z][^\n&]*)", text):
        yield words.split()
    for listed in re.findall(r"^CMD \[(.*)\]", text, re.MULTILINE):
        yield re.findall(r'"([^"]*)"', listed)


@pytest.mark.parametrize("recipe", RECIPES, ids=lambda path: path.name)
def test_a_recipe_calls_commands_with_options_they_have(recipe: Path) -> None:
    found = list(calls(recipe.read_text("utf-8")))
    assert any(words[0] == "serve" for words in found)
    for words in found:
        command = main.get_command(click.Context(main), words[0])
        assert command is not None, words
        if isinstance(command, click.Group):
            command = command.get_command(click.Context(command), words[1])
            assert command is not None, words
        options = {opt for parameter in command.params for opt in parameter.opts}
        assert {word for word in words if word.startswith("--")} <= options, words


@pytest.mark.parametrize("recipe", RECIPES, ids=lambda path: path.name)
def test_a_recipe_sets_what_is_a_setting_to_what_it_may_be(recipe: Path) -> None:
    given = dict(re.findall(r"(COATLEDGER_\w+)=(\S+)", recipe.read_text("utf-8")))
    assert given
    assert strangers(given) == ()
    assert settings_from(given).log == "json"


def test_the_unit_takes_from_the_service_what_it_does_not_need() -> None:
    """What `systemd-analyze security` counts, held where there is no systemd to count it."""
    unit = (ROOT / "scripts" / "operate" / "coatledger.service").read_text("utf-8")
    said = re.findall(r"^(\w+)=(.*)$", unit, re.MULTILINE)
    on = {name for name, value in said if value == "yes"}
    assert on >= {
        "NoNewPrivileges", "PrivateTmp", "PrivateDevices", "PrivateUsers", "PrivateMounts",
        "ProtectHome", "ProtectKernelTunables", "ProtectKernelModules", "ProtectKernelLogs",
        "ProtectClock", "ProtectHostname", "ProtectControlGroups", "RestrictNamespaces",
        "RestrictRealtime", "RestrictSUIDSGID", "LockPersonality", "RemoveIPC",
    }  # fmt: skip
    assert set(said) >= {
        ("User", "coatledger"), ("ProtectSystem", "strict"), ("CapabilityBoundingSet", ""),
        ("SystemCallFilter", "@system-service"), ("SystemCallFilter", "~@privileged @resources"),
        ("RestrictAddressFamilies", "AF_INET AF_INET6 AF_UNIX"), ("UMask", "0077"),
    }  # fmt: skip


def test_systemd_finds_the_unit_little_exposed(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.syspath_prepend(str(ROOT / "scripts" / "drills"))
    unit = importlib.import_module("unit")
    if missing := unit.why_missing():
        assert unit.main([]) == 77
        assert missing in capsys.readouterr().err
        return
    assert 0 < unit.exposure() <= 2.0
    let = unit.allowed(unit.UNIT.read_text("utf-8"))
    assert {"read", "fdatasync", "accept4", "clone3"} <= let
    assert not {"mount", "setuid", "setpriority", "ptrace", "reboot"} & let


def test_each_row_of_the_security_table_names_tests_that_are_there() -> None:
    rows = re.findall(r"^\| API\d+ .*$", (ROOT / "DEVELOPERS.md").read_text("utf-8"), re.MULTILINE)
    assert len(rows) == 10
    for row in rows:
        named = re.findall(r"`(tests/[\w/.]+)::(test_\w+)`", row)
        assert named, row
        for path, name in named:
            assert f"def {name}(" in (ROOT / path).read_text("utf-8"), f"{path}::{name}"


def test_every_command_of_the_table_can_be_imported() -> None:
    for door in DOORS.values():
        assert importlib.import_module(f"coatledger_api.commands.{door.module}").command
