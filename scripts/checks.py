"""Runs every check of the project and says what passed, what failed and what could not run.

A check that lacks a program or a file is *not run*: it is named with what is missing and never
counted as passed. With ``--all`` it counts as a failure.
"""

import argparse
import os
import re
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parent.parent
PYTHON = sys.executable
OUTPUT_LINES_MAX = 80  # of a failed check; pytest's own report is shown whole


class Outcome(NamedTuple):
    """What a check came to: `missing` names what it lacked when it could not run."""

    passed: bool
    output: str = ""
    missing: tuple[str, ...] = ()
    closing_line: str = ""


class Check(NamedTuple):
    """One check: what it is called, what it holds, and how it is run."""

    name: str
    holds: str
    run: Callable[[], Outcome]


def run(*command: str) -> subprocess.CompletedProcess[str]:
    """Run a command at the project's root, its error stream joined to its output."""
    environment = {**os.environ, "PYTHONDONTWRITEBYTECODE": "1", "NO_COLOR": "1", "COLUMNS": "100"}
    return subprocess.run(
        command,
        cwd=ROOT,
        env=environment,
        text=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        check=False,
    )


def command(*arguments: str) -> Callable[[], Outcome]:
    """A check that passes when its command does."""

    def outcome() -> Outcome:
        done = run(*arguments)
        return Outcome(done.returncode == 0, done.stdout)

    return outcome


def script(path: str, *arguments: str) -> Callable[[], Outcome]:
    """A check that is a script of ours; exit code 77 says that something it needs is missing."""

    def outcome() -> Outcome:
        if not (ROOT / path).exists():
            return Outcome(False, missing=(f"{path} is not there",))
        done = run(PYTHON, path, *arguments)
        if done.returncode == 77:
            return Outcome(False, missing=tuple(done.stdout.strip().splitlines()[-1:]))
        return Outcome(done.returncode == 0, done.stdout)

    return outcome


def run_pytest() -> Outcome:
    """Run the tests; each skipped test is something that did not run, with its reason."""
    done = run(PYTHON, "-m", "pytest", "-q", "-rsfE", "--durations=5", "--color=no")
    skipped = re.findall(r"^SKIPPED (\[\d+\]) \S+ (.*)$", done.stdout, re.MULTILINE)
    lines = done.stdout.strip().splitlines()
    return Outcome(
        done.returncode == 0,
        done.stdout,
        tuple(f"{reason} {count} tests" for count, reason in skipped),
        lines[-1] if lines else "",
    )


CHECKS: tuple[Check, ...] = (
    Check("lint", "ruff's rules", command(PYTHON, "-m", "ruff", "check", ".")),
    Check("format", "ruff's format", command(PYTHON, "-m", "ruff", "format", "--check", ".")),
    Check("types", "mypy, strict", command(PYTHON, "-m", "mypy")),
    Check(
        "imports",
        "api uses adapters uses core; the core's layers; a pure core",
        command(str(Path(PYTHON).parent / "lint-imports"), "--no-cache"),
    ),
    Check(
        "contract",
        "openapi/ is what the code says",
        script("scripts/openapi.py", "--check"),
    ),
    Check(
        "lint-contract",
        "two public linters have nothing against the contract",
        script("scripts/lint_contract.py"),
    ),
    Check(
        "clients",
        "generated Python and TypeScript clients do a round against the service",
        script("scripts/clients.py"),
    ),
    Check(
        "changes",
        "nothing that was released breaks",
        script("scripts/contract_changes.py"),
    ),
    Check(
        "life",
        "DEVELOPERS.md draws the table of a piece's life",
        script("scripts/life.py", "--check"),
    ),
    Check(
        "fuzz",
        "schemathesis against the running service",
        script("scripts/fuzz.py"),
    ),
    Check("tests", "pytest", run_pytest),
)


def verdict(outcome: Outcome) -> str:
    """One word for an outcome; a pytest run with skipped tests has passed, but not as a whole."""
    if outcome.missing and not outcome.output:
        return "NOT RUN"
    if not outcome.passed:
        return "FAILED"
    return "in part" if outcome.missing else "passed"


def show(check: Check, outcome: Outcome, elapsed_s: float) -> None:
    """Print a check's line, and below it what a reader must know."""
    print(f"{check.name:<14}{verdict(outcome):<9}{elapsed_s:7.1f} s  {check.holds}", flush=True)
    for missing in outcome.missing:
        print(f"{'':<14}not run: {missing}", flush=True)
    if outcome.output and not outcome.passed:
        lines = outcome.output.rstrip().splitlines()
        kept = lines if check.name == "tests" else lines[-OUTPUT_LINES_MAX:]
        print("\n".join(f"    {line}" for line in kept), flush=True)


def run_all(checks: tuple[Check, ...]) -> dict[str, Outcome]:
    """Run the checks one after another, telling each as it ends."""
    outcomes: dict[str, Outcome] = {}
    for check in checks:
        started = time.monotonic()
        outcomes[check.name] = check.run()
        show(check, outcomes[check.name], time.monotonic() - started)
    return outcomes


def summarise(outcomes: Mapping[str, Outcome], elapsed_s: float, *, need_all: bool) -> int:
    """Print the summary and return the exit code."""
    by_verdict: dict[str, list[str]] = {}
    for name, outcome in outcomes.items():
        by_verdict.setdefault(verdict(outcome), []).append(name)
    failed = by_verdict.get("FAILED", [])
    not_run = by_verdict.get("NOT RUN", []) + by_verdict.get("in part", [])
    print(
        f"\nchecks in {elapsed_s:.0f} s: ok {', '.join(by_verdict.get('passed', ['none']))}", end=""
    )
    print(
        f"; not run or only in part: {', '.join(not_run)}" if not_run else "; all were run", end=""
    )
    print(f"; failed: {', '.join(failed)}" if failed else "; none failed")
    if need_all and not_run:
        print("--all asks for every check, so what was not run is a failure")
    for outcome in outcomes.values():
        if outcome.closing_line:
            print(outcome.closing_line)
    return 1 if failed or (need_all and not_run) else 0


def main() -> int:
    """Run the checks asked for on the command line."""
    parser = argparse.ArgumentParser(prog="scripts/test", description=__doc__)
    parser.add_argument(
        "--all", action="store_true", help="a check that could not run is a failure"
    )
    parser.add_argument("--list", action="store_true", help="name the checks and stop")
    parser.add_argument("names", nargs="*", metavar="NAME", help="run only these checks")
    asked = parser.parse_args()
    known = {check.name: check for check in CHECKS}
    if asked.list:
        print("\n".join(f"{check.name:<14}{check.holds}" for check in CHECKS))
        return 0
    if unknown := [name for name in asked.names if name not in known]:
        parser.error(f"no check is called {', '.join(unknown)}; there are {', '.join(known)}")
    started = time.monotonic()
    chosen = tuple(known[name] for name in asked.names) or CHECKS
    outcomes = run_all(chosen)
    return summarise(outcomes, time.monotonic() - started, need_all=asked.all)


if __name__ == "__main__":
    sys.exit(main())
