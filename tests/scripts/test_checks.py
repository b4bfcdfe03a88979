"""The runner of the checks: what is missing is said and never counts as passed."""

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

PATH = Path(__file__).resolve().parents[2] / "scripts" / "checks.py"


@pytest.fixture(scope="module")
def checks() -> ModuleType:
    spec = importlib.util.spec_from_file_location("coatledger_checks", PATH)
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_a_check_whose_program_is_missing_is_not_run(checks: ModuleType) -> None:
    outcome = checks.script("scripts/there-is-no-such-script.py")()
    assert checks.verdict(outcome) == "NOT RUN"


def test_what_was_not_run_fails_only_when_everything_is_asked_for(
    checks: ModuleType, capsys: pytest.CaptureFixture[str]
) -> None:
    outcomes = {
        "lint": checks.Outcome(passed=True, output="fine"),
        "browser": checks.Outcome(passed=False, missing=("chromium is not there",)),
    }
    assert checks.summarise(outcomes, 1.0, need_all=False) == 0
    assert checks.summarise(outcomes, 1.0, need_all=True) == 1
    assert "not run or only in part: browser" in capsys.readouterr().out


def test_skipped_tests_make_a_run_partial(checks: ModuleType) -> None:
    outcome = checks.Outcome(True, "9 passed, 1 skipped", ("no browser [1] tests",))
    assert checks.verdict(outcome) == "in part"
    assert checks.summarise({"tests": outcome}, 1.0, need_all=True) == 1


def test_a_failed_check_fails_the_run_and_shows_its_output(
    checks: ModuleType, capsys: pytest.CaptureFixture[str]
) -> None:
    failing = checks.Check(
        "words", "a command", checks.command(sys.executable, "-c", "print('spoilt'); exit(3)")
    )
    outcomes = checks.run_all((failing,))
    assert checks.summarise(outcomes, 1.0, need_all=False) == 1
    printed = capsys.readouterr().out
    assert "FAILED" in printed
    assert "spoilt" in printed
    assert "failed: words" in printed


def test_the_closing_line_of_the_tests_comes_last(
    checks: ModuleType, capsys: pytest.CaptureFixture[str]
) -> None:
    outcome = checks.Outcome(True, "…", closing_line="12 passed in 0.34s")
    checks.summarise({"tests": outcome}, 1.0, need_all=False)
    assert capsys.readouterr().out.splitlines()[-1] == "12 passed in 0.34s"
