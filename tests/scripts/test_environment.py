"""The shell functions that find an interpreter and decide whether the environment is still good."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = Path(__file__).resolve().parents[2] / "scripts" / "environment.sh"


@pytest.fixture
def bin_folder(tmp_path: Path) -> Path:
    """A PATH of its own, holding only the plain programs that the functions call."""
    folder = tmp_path / "bin"
    folder.mkdir()
    for name in ("bash", "dirname", "cat", "cksum", "tail"):
        found = shutil.which(name)
        assert found
        (folder / name).symlink_to(found)
    return folder


def add_program(folder: Path, name: str, body: str) -> None:
    program = folder / name
    program.write_text(f"#!{shutil.which('bash')}\n{body}\n")
    program.chmod(0o755)


def bash(text: str, path: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [path / "bash", "-c", f'source "{SCRIPT}"\n{text}'],
        env={"PATH": str(path)},
        capture_output=True,
        text=True,
        check=False,
    )


def test_a_launcher_without_its_interpreter_is_passed_over(bin_folder: Path) -> None:
    add_program(bin_folder, "python3.13", "echo 'version 3.13 is not installed' >&2; exit 127")
    add_program(bin_folder, "python3", f'exec "{sys.executable}" "$@"')
    assert bash("find_python", bin_folder).stdout.strip() == str(bin_folder / "python3")


def test_an_interpreter_named_by_the_user_comes_first(bin_folder: Path) -> None:
    add_program(bin_folder, "python3", f'exec "{sys.executable}" "$@"')
    add_program(bin_folder, "mine", f'exec "{sys.executable}" "$@"')
    done = bash(f'COATLEDGER_PYTHON="{bin_folder}/mine" find_python', bin_folder)
    assert done.stdout.strip() == str(bin_folder / "mine")


def test_a_machine_with_only_an_old_python_is_told_so(bin_folder: Path) -> None:
    add_program(bin_folder, "python3", '[ "$1" = -c ] && echo "3.9.2"; exit 1')
    done = bash("find_python || explain_missing_python", bin_folder)
    assert done.stdout == ""
    assert "needs Python 3.11 or newer" in done.stderr
    assert f"{bin_folder}/python3: 3.9.2" in done.stderr


def test_the_environment_is_stale_when_a_pin_changes(bin_folder: Path, tmp_path: Path) -> None:
    checkout = tmp_path / "checkout"
    (checkout / "scripts").mkdir(parents=True)
    (checkout / "pyproject.toml").write_text("[project]\n")
    (checkout / "scripts" / "constraints.txt").write_text("numpy==2.4.6\n")
    (checkout / ".venv" / "bin").mkdir(parents=True)
    (checkout / ".venv" / "bin" / "python").symlink_to(sys.executable)
    ask = "is_fresh run && echo fresh || echo stale"
    done = bash(
        f"""
        here="{checkout}"; venv="$here/.venv"; python="$venv/bin/python"
        {ask}
        fingerprint >"$venv/stamp-run"
        {ask}
        echo numpy==2.4.7 >"$here/scripts/constraints.txt"
        {ask}
        """,
        bin_folder,
    )
    assert done.stdout.split() == ["stale", "fresh", "stale"], done.stderr


def test_the_scripts_may_be_executed() -> None:
    root = SCRIPT.parents[1]
    assert all(
        os.access(root / name, os.X_OK) for name in ("scripts/run", "scripts/test", ".ci/run")
    )
