"""Fuzzes the running service with schemathesis: every operation of the contract, every check.

The service is started as a user starts it, with an empty ledger of its own in a temporary folder
and on a free port, and it is stopped again: the fuzzer's own requests fill it. Exit code 77 says
that something needed is missing.
"""

import argparse
import importlib.util
import os
import re
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from queue import Empty, Queue
from typing import NamedTuple

ROOT = Path(__file__).resolve().parent.parent
SERVICE = "coatledger_api.commands.start"
MISSING = 77
STARTING_S_MAX = 60
HOOKS = ROOT / "tests" / "support" / "fuzz_hooks.py"
SHORTER = ROOT / "tests" / "support" / "schemathesis.toml"


class Service(NamedTuple):
    """Where the started service listens, and a token that may do everything."""

    address: str
    token: str


def read_lines(process: subprocess.Popen[str], lines: Queue[str]) -> None:
    """Pass on what the service prints until it ends, so that it never waits for a reader."""
    assert process.stdout
    for line in process.stdout:
        lines.put(line)


def await_service(process: subprocess.Popen[str]) -> Service:
    """Read the start's output until it has told the address and the token."""
    lines: Queue[str] = Queue()
    threading.Thread(target=read_lines, args=(process, lines), daemon=True).start()
    printed = ""
    deadline = time.monotonic() + STARTING_S_MAX
    while time.monotonic() < deadline:
        try:
            printed += lines.get(timeout=0.5)
        except Empty:
            if process.poll() is not None:
                break
        address = re.search(r"http://(?:127\.0\.0\.1|localhost):\d+", printed)
        token = re.search(r"\bclk_\w{40,}", printed)
        if address and token:
            return Service(address.group(), token.group())
    raise SystemExit(f"the service did not tell its address and a token; it printed:\n{printed}")


@contextmanager
def running_service() -> Iterator[Service]:
    """Start the service over an empty folder; end it, gently first, when the block ends."""
    limits = ("KEY_REQUESTS_PER_S", "KEY_BURST", "ADDRESS_REQUESTS_PER_S", "ADDRESS_BURST")
    freely = {f"COATLEDGER_{name}": "1000000" for name in limits}
    freely["COATLEDGER_WEBHOOK_TIMEOUT_S"] = "0.3"  # drawn names lead nowhere, some slowly
    with tempfile.TemporaryDirectory(prefix="coatledger-fuzz-") as home:
        process = subprocess.Popen(
            [sys.executable, "-m", SERVICE, "--port", "0", "--without-demo"],
            cwd=ROOT,
            env={**os.environ, **freely, "COATLEDGER_HOME": home, "PYTHONUNBUFFERED": "1"},
            text=True,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
        )
        try:
            yield await_service(process)
            if process.poll() is not None:
                raise SystemExit(f"the service ended under the fuzzer, code {process.returncode}")
        finally:
            process.terminate()
            try:
                process.wait(timeout=15)
            except subprocess.TimeoutExpired:
                process.kill()


class Fuzzed(NamedTuple):
    """What a run came to. `failures` counts different ones, and whatever else went wrong as one."""

    code: int
    cases: int
    failures: int


def fuzz(service: Service, examples: int, seed: int, *, long: bool) -> Fuzzed:
    """Run schemathesis over the whole contract; what it says goes to the error stream."""
    process = subprocess.Popen(
        [
            *(sys.executable, "-m", "schemathesis.cli"),
            *(() if long else ("--config-file", str(SHORTER))),
            "run",
            f"{service.address}/openapi.json",
            *("--header", f"Authorization: Bearer {service.token}"),
            *("--checks", "all"),
            *("--max-examples", str(examples)),
            *("--seed", str(seed)),
            *("--wait-for-schema", "30"),
            *("--request-timeout", "30"),
            # A stream has no end to wait for; tests/api/routes/test_stream.py holds it instead.
            *("--exclude-operation-id", "stream_events"),
        ],
        cwd=ROOT,
        env={
            **os.environ,
            "NO_COLOR": "1",
            "COLUMNS": "100",
            "SCHEMATHESIS_HOOKS": HOOKS.stem,
            "PYTHONPATH": os.pathsep.join((str(HOOKS.parent), os.environ.get("PYTHONPATH", ""))),
        },
        text=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
    )
    assert process.stdout
    said = []
    for line in process.stdout:
        print(line, end="", file=sys.stderr, flush=True)
        said.append(line)
    return counted(process.wait(), "".join(said))


def counted(code: int, said: str) -> Fuzzed:
    """Read the summary; a run without one has failed."""
    cases = re.search(r"(\d+) generated", said)
    failures = re.search(r"(\d+) unique failures", said)
    count = int(failures[1]) if failures else 0
    return Fuzzed(code, int(cases[1]) if cases else 0, count or int(code != 0 or not cases))


def main() -> int:
    """Start, fuzz, stop."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--examples", type=int, default=30, help="cases an operation (default 30)")
    parser.add_argument("--seed", type=int, default=1, help="what the cases are drawn from")
    parser.add_argument("--long", action="store_true", help="every edge of every event: minutes")
    asked = parser.parse_args()
    try:
        found = importlib.util.find_spec(SERVICE)
    except ModuleNotFoundError:
        found = None
    if found is None:
        print(f"the service's start, {SERVICE}, is not there")
        return MISSING
    with running_service() as service:
        return fuzz(service, asked.examples, asked.seed, long=asked.long).code


if __name__ == "__main__":
    sys.exit(main())
