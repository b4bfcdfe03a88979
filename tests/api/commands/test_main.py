"""The front door: help that loads nothing, settings in their order, errors that help."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

import click
import pytest
from coatledger_api.commands.main import DOORS, main
from shell import Running, asked, call

HEAVY = ("httpx", "litestar", "msgspec", "numpy", "pendulum", "rich", "sqlalchemy", "uvicorn")


def test_help_loads_none_of_the_heavy_libraries() -> None:
    code = (
        "import sys; from click.testing import CliRunner\n"
        "from coatledger_api.commands.main import main\n"
        "result = CliRunner().invoke(main, ['--help']); assert 'record' in result.stdout\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules])"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert ran.stdout.strip() == "[]"


def test_help_names_every_command_and_each_has_help_of_its_own() -> None:
    told = call("--help").stdout
    context = click.Context(main)
    for name in main.list_commands(context):
        assert DOORS[name].help in " ".join(told.split())
        assert call(name, "--help").exit_code == 0


def test_a_command_that_does_not_exist_is_refused() -> None:
    result = call("polish")
    assert result.exit_code == 2
    assert "No such command" in result.stderr


def test_what_is_missing_is_named_with_every_way_to_give_it(alone: Path) -> None:
    result = call("clocks")
    assert result.exit_code == 2
    for way in ("address and key are", "--url and --key", "COATLEDGER_URL and COATLEDGER_KEY"):
        assert way in result.stderr
    assert str(alone / "coatledger") in result.stderr
    only = call("clocks", "--url", "http://127.0.0.1:9")
    assert "key is not known" in only.stderr


def test_address_and_key_are_read_from_the_file_when_nothing_else_says(
    service: Running, alone: Path
) -> None:
    file = alone / "coatledger"
    file.write_text(f'url = "{service.url}/"\nkey = "{service.key}"\n')
    assert asked("clocks")["clocks"] == []
    assert call("clocks", "--key", "clk_other").exit_code == 1


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("url = ", "cannot be read"),
        ("url = 1", 'lines such as url = "…"'),
        ('token = "x"', 'lines such as url = "…"'),
        ('url = "127.0.0.1:8700"\nkey = "x"', "does not begin with http"),
    ],
)
def test_a_file_that_says_nothing_useful_is_refused(alone: Path, text: str, says: str) -> None:
    (alone / "coatledger").write_text(text)
    result = call("clocks")
    assert result.exit_code == 2
    assert says in result.stderr


def test_a_service_that_does_not_answer_is_told_from_one_that_refuses(service: Running) -> None:
    gone = call("pieces", "--url", "http://127.0.0.1:9")
    assert gone.exit_code == 3
    assert "Is the service running?" in gone.stderr
    recorder = call("pieces", "--key", service.key_for("record"))
    assert recorder.exit_code == 1
    assert "this needs the scope `read`" in recorder.stderr


def test_a_word_that_is_no_word_is_refused_and_reaches_no_other_address(service: Running) -> None:
    for word in ("T/1", "../rework", "T 1", "é", "a" * 41):
        result = call("piece", word)
        assert result.exit_code == 1
        assert result.stdout == ""
        assert call("history", word).exit_code == 1


def test_weeks_are_checked_by_the_service_and_its_reason_is_told(service: Running) -> None:
    result = call("rework", "--first-week", "May")
    assert result.exit_code == 1
    assert "first_week" in result.stderr


def test_rows_are_of_the_days_asked_for(service: Running) -> None:
    days = ("--first-day", "2026-03-01", "--last-day", "2026-03-31", "--bucket", "month")
    for question in ("rework", "throughput"):
        told = asked(question, *days, "--zone", "Asia/Kathmandu")
        assert (told["bucket"], told["first_day"], told["zone"]) == (
            "month", "2026-03-01", "Asia/Kathmandu",
        )  # fmt: skip
        refused = call(question, "--first-day", "2026-03-02", "--last-day", "2026-03-01")
        assert refused.exit_code == 1
        assert "before the range begins" in refused.stderr


def test_a_ledger_is_served_from_a_folder_with_keys_made_there(tmp_path: Path) -> None:
    home = ("--home", str(tmp_path / "home"))
    made = call("key", "make", "spray room", *home)
    assert made.exit_code == 0
    token = made.stdout.strip()
    assert token.startswith("clk_")
    assert "spray room" in call("key", "list", *home).stdout
    command = [sys.executable, "-c", "from coatledger_api.commands.main import main; main()"]
    with subprocess.Popen(
        [*command, "serve", "--port", "0", *home],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        env={"PYTHONUNBUFFERED": "1"},
    ) as serving:
        try:
            assert serving.stdout is not None
            line = serving.stdout.readline()
            url = line.split(" at ")[1].split(" ")[0]
            until = time.monotonic() + 30
            while (answer := call("clocks", "--url", url, "--key", token)).exit_code == 3:
                assert time.monotonic() < until, answer.stderr
                time.sleep(0.05)
            assert "0 pieces drying." in answer.stdout
            taken = call("key", "make", "other", *home)
            assert taken.exit_code == 1
            assert "open for writing in another process" in taken.stderr
        finally:
            serving.terminate()
    (key_id,) = (token[4:12],)
    assert f"Key {key_id} is revoked." in call("key", "revoke", key_id, *home).stdout
    assert "revoked" in call("key", "list", *home).stdout
    assert call("key", "revoke", "nobody", *home).exit_code == 1


def test_a_wrong_setting_a_taken_port_and_an_unknown_database_are_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, service: Running
) -> None:
    home = ("--home", str(tmp_path))
    port = service.url.rpartition(":")[2]
    taken = call("serve", "--port", port, *home)
    assert taken.exit_code == 1
    assert f"port {port} cannot be listened on" in taken.stderr
    other = call("serve", "--port", "0", "--database", "mysql://x/y", *home)
    assert "SQLite or PostgreSQL" in other.stderr
    monkeypatch.setenv("COATLEDGER_BODY_BYTES_MAX", "little")
    wrong = call("serve", "--port", "0", *home)
    assert wrong.exit_code == 2
    assert "COATLEDGER_BODY_BYTES_MAX=little" in wrong.stderr
