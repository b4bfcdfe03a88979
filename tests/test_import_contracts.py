"""Each import contract of pyproject.toml, seen to fail when it is broken.

A contract that cannot fail proves nothing; so the contracts are run, as they stand, over a skeleton
of the three source roots into which one forbidden import at a time is written.
"""

import os
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Mapping
from itertools import pairwise
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
CONTRACTS = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"][
    "importlinter"
]["contracts"]
BY_ID = {contract["id"]: contract for contract in CONTRACTS}
CORE_LAYERS = tuple(
    tuple(name.strip(" ()") for name in layer.split("|"))
    for layer in BY_ID["core-layers"]["layers"]
)
CORE = "core/coatledger"


def lint(tree: Path, files: Mapping[str, str]) -> subprocess.CompletedProcess[str]:
    """Run the project's contracts over the skeleton with these files written into it."""
    shutil.copy(ROOT / "pyproject.toml", tree / "pyproject.toml")
    packages = [CORE, "adapters/coatledger_adapters", "api/coatledger_api"]
    packages += [f"{CORE}/{name}" for layer in CORE_LAYERS for name in layer]
    for package in packages:
        (tree / package).mkdir(parents=True, exist_ok=True)
        (tree / package / "__init__.py").write_text("")
    for path, text in files.items():
        (tree / path).parent.mkdir(parents=True, exist_ok=True)
        (tree / path).write_text(text)
    roots = os.pathsep.join(str(tree / root) for root in ("core", "adapters", "api"))
    return subprocess.run(
        [Path(sys.executable).parent / "lint-imports", "--no-cache"],
        cwd=tree,
        env={**os.environ, "PYTHONPATH": roots, "COLUMNS": "200", "NO_COLOR": "1"},
        capture_output=True,
        text=True,
        check=False,
    )


def broken(done: subprocess.CompletedProcess[str]) -> set[str]:
    """The contracts that the run reports as broken, by id."""
    lines = done.stdout.splitlines()
    return {
        contract["id"]
        for contract in CONTRACTS
        if any(line.startswith(contract["name"]) and "BROKEN" in line for line in lines)
    }


def test_the_skeleton_keeps_every_contract(tmp_path: Path) -> None:
    done = lint(tmp_path, {})
    assert done.returncode == 0, done.stdout + done.stderr
    assert f"{len(CONTRACTS)} kept, 0 broken" in done.stdout


def test_an_import_upwards_in_the_core_is_refused_at_every_layer(tmp_path: Path) -> None:
    steps = [
        (lower, upper)
        for above, below in pairwise(CORE_LAYERS)
        for upper in above
        for lower in below
    ]
    files: dict[str, str] = {}
    for lower, upper in steps:
        path = f"{CORE}/{lower}/__init__.py"
        files[path] = files.get(path, "") + f"import coatledger.{upper}\n"
    done = lint(tmp_path, files)
    assert broken(done) == {"core-layers"}
    for lower, upper in steps:
        assert f"coatledger.{lower} -> coatledger.{upper}" in done.stdout


@pytest.mark.parametrize(
    ("contract", "path", "text"),
    [
        ("roots", f"{CORE}/units/a.py", "import coatledger_adapters"),
        ("roots", f"{CORE}/recording/a.py", "import coatledger_api"),
        ("roots", "adapters/coatledger_adapters/a.py", "import coatledger_api"),
        ("core-layers", f"{CORE}/recording/a.py", "import coatledger.answers"),
        ("core-layers", f"{CORE}/answers/a.py", "import coatledger.recording"),
        ("core-layers", f"{CORE}/helpers.py", ""),
        ("api-knows-no-sql", "api/coatledger_api/a.py", "from sqlalchemy import text"),
        ("adapters-know-no-service", "adapters/coatledger_adapters/a.py", "import litestar"),
    ],
)
def test_a_forbidden_import_breaks_its_contract(
    tmp_path: Path, contract: str, path: str, text: str
) -> None:
    done = lint(tmp_path, {path: text})
    assert done.returncode != 0
    assert broken(done) == {contract}, done.stdout


def test_one_answer_may_not_lean_on_another(tmp_path: Path) -> None:
    answers = f"{CORE}/answers"
    files = {f"{answers}/pieces.py": "import coatledger.answers.rework", f"{answers}/rework.py": ""}
    assert broken(lint(tmp_path, files)) == {"answers-apart"}


def test_the_core_may_import_none_of_the_impure_modules(tmp_path: Path) -> None:
    modules = BY_ID["core-pure"]["forbidden_modules"]
    text = "\n".join(f"import {module}" for module in modules)
    done = lint(tmp_path, {f"{CORE}/computations/a.py": text})
    assert broken(done) == {"core-pure"}
    for module in modules:
        assert f"coatledger.computations.a -> {module} " in done.stdout
