"""The public tools that read our contract, each in a folder of its own under .venv, not committed.

Those of Node come from its registry by npm, as this machine is set up for it; the generator of
Python clients has an environment of its own, because it asks for older versions of what we use.
"""

import json
import shutil
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
TOOLS = ROOT / ".venv" / "contract-tools"
MISSING = 77
NODE: Mapping[str, str] = {
    "@redocly/cli": "2.77.0",
    "@stoplight/spectral-cli": "6.16.3",
    "@types/node": "26.6.6",
    "openapi-fetch": "0.17.0",
    "openapi-typescript": "7.13.0",
    "typescript": "5.9.3",
}
PYTHON = ("openapi-python-client==0.29.1",)


class MissingToolsError(Exception):
    """A tool is not there and cannot be fetched."""


def node_tools() -> Path:
    """Return the folder that holds node_modules with every tool."""
    if shutil.which("node") is None or shutil.which("npm") is None:
        raise MissingToolsError("node and npm are not installed")
    folder = TOOLS / "node"
    wanted = json.dumps({"private": True, "dependencies": dict(NODE)}, indent=1)
    stamp = folder / "installed.json"
    if stamp.exists() and stamp.read_text("utf-8") == wanted:
        return folder
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "package.json").write_text(wanted, "utf-8")
    command = ["npm", "install", "--no-audit", "--no-fund", "--no-package-lock", "--silent"]
    _fetched(command, folder)
    stamp.write_text(wanted, "utf-8")
    return folder


def python_tools() -> Path:
    """Return the interpreter of the environment that holds the generator of Python clients."""
    folder = TOOLS / "python"
    python = folder / "bin" / "python"
    stamp = folder / "installed.txt"
    wanted = " ".join(PYTHON)
    if stamp.exists() and stamp.read_text("utf-8") == wanted:
        return python
    subprocess.run([sys.executable, "-m", "venv", "--clear", str(folder)], check=True)
    _fetched([str(python), "-m", "pip", "install", "--quiet", *PYTHON], ROOT)
    stamp.write_text(wanted, "utf-8")
    return python


def _fetched(command: list[str], folder: Path) -> None:
    done = subprocess.run(
        command, cwd=folder, text=True, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        check=False,
    )  # fmt: skip
    if done.returncode != 0:
        last = (done.stdout.strip().splitlines() or ["it said nothing"])[-1]
        raise MissingToolsError(f"{command[0]} could not fetch the tools: {last}")
