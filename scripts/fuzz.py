"""Asks the running service everything its contract allows, and much that it does not.

schemathesis draws requests from the OpenAPI document: examples, edges, valid and invalid data. It
must find no answer above 499, none that the contract does not describe, no bad data accepted and
no good data refused. Options are handed on to it.
"""

import importlib.util
import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "tests" / "support")]

NOT_RUN = 77
EXAMPLES = 40  # of each operation and kind of data; --max-examples N asks for more
HOOKS = ROOT / "tests" / "support" / "fuzz_hooks.py"


def main() -> int:
    """Serve a ledger in memory and let schemathesis ask it."""
    if importlib.util.find_spec("schemathesis") is None:
        print("schemathesis is not installed: pip install coatledger[test]")
        return NOT_RUN
    from coatledger.ledger.memory import MemoryStore
    from listening import listening

    with listening(MemoryStore("trial")) as service:
        command = [
            str(Path(sys.executable).parent / "schemathesis"), "run",
            f"{service.url}/openapi.json",
            "--header", f"Authorization: Bearer {service.token}",
            "--checks", "all",
            "--max-examples", str(EXAMPLES),
            "--seed", "1",
            "--request-timeout", "20",
            "--no-color",
            # A stream has no end to wait for; tests/api/routes/test_stream.py holds it instead.
            "--exclude-operation-id", "stream_events",
            *sys.argv[1:],
        ]  # fmt: skip
        path = os.pathsep.join([str(HOOKS.parent), os.environ.get("PYTHONPATH", "")])
        environment = {**os.environ, "SCHEMATHESIS_HOOKS": HOOKS.stem, "PYTHONPATH": path}
        return subprocess.run(command, cwd=ROOT, env=environment, check=False).returncode


if __name__ == "__main__":
    sys.exit(main())
