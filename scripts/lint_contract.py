"""Asks two public linters about the contract, at their strictest: an error or a warning fails.

The linters are fetched once. Exit code 77 says that node or its registry is missing.
"""

import json
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from contract_tools import MISSING, MissingToolsError, node_tools

CONTRACT = Path(__file__).resolve().parent.parent / "openapi" / "openapi.json"
PROBLEMS = "operation-4xx-problem-details-rfc7807"
REDOCLY = f"""
extends: [recommended-strict]
rules:
  {PROBLEMS}: error
  operation-operationId-url-safe: error
  no-ambiguous-paths: error
"""
SPECTRAL = 'extends: ["spectral:oas"]\n'


def complaints(contract: Path, tools: Path) -> list[str]:
    """Return what the linters say against a contract."""
    with tempfile.TemporaryDirectory(prefix="coatledger-lint-") as folder:
        (Path(folder) / "redocly.yaml").write_text(REDOCLY, "utf-8")
        (Path(folder) / "spectral.yaml").write_text(SPECTRAL, "utf-8")
        return [*_redocly(contract, tools, Path(folder)), *_spectral(contract, tools, Path(folder))]


def _redocly(contract: Path, tools: Path, folder: Path) -> list[str]:
    told = _said(tools, "redocly", "lint", str(contract), "--format=json",
                 f"--config={folder / 'redocly.yaml'}")  # fmt: skip
    found = json.loads(told)
    return [f"redocly {one['ruleId']}: {one['message']} at {one['location'][0].get('pointer')}"
            for one in found["problems"] if not _is_anothers(one)]  # fmt: skip


def _is_anothers(one: Any) -> bool:
    """Whether it is about what a receiver of webhooks answers: that is theirs, and has no body."""
    pointer = str(one["location"][0].get("pointer"))
    return one["ruleId"] == PROBLEMS and pointer.startswith("#/webhooks/")


def _spectral(contract: Path, tools: Path, folder: Path) -> list[str]:
    told = _said(tools, "spectral", "lint", str(contract), "--format=json", "--quiet",
                 f"--ruleset={folder / 'spectral.yaml'}")  # fmt: skip
    return [f"spectral {one['code']}: {one['message']} at {'/'.join(map(str, one['path']))}"
            for one in json.loads(told)]  # fmt: skip


def _said(tools: Path, program: str, *arguments: str) -> str:
    """Run a linter; what it prints is JSON whether it found something or not."""
    done = subprocess.run(
        [str(tools / "node_modules" / ".bin" / program), *arguments],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    if not done.stdout.strip():
        raise SystemExit(f"{program} said nothing: {done.stderr[-500:]}")
    return done.stdout


def main() -> int:
    """Lint the committed contract, or the one named."""
    try:
        tools = node_tools()
    except MissingToolsError as error:
        print(error)
        return MISSING
    contract = Path(sys.argv[1]) if len(sys.argv) > 1 else CONTRACT
    found = complaints(contract, tools)
    print("\n".join(found) or "redocly and spectral have nothing against the contract")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
