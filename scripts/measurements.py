"""Run one measurement, or one drill, by name: a module with `main(arguments)` in its folder."""

import ast
import importlib
import sys
from pathlib import Path

BENCHMARKS = Path(__file__).resolve().parent / "benchmarks"
TESTS = BENCHMARKS.parent.parent / "tests"


def names(folder: Path = BENCHMARKS) -> tuple[str, ...]:
    """Return the measurements there are."""
    return tuple(sorted(path.stem for path in folder.glob("[!_]*.py")))


def subject_of(path: Path) -> str:
    """Return the first line of what a measurement says of itself, without running it."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return (ast.get_docstring(tree) or "").partition("\n")[0]


def run(arguments: list[str], folder: Path, program: str) -> int:
    """Run the module named first, with the other arguments."""
    there = names(folder)
    if not arguments or arguments[0].startswith("-"):
        print(f"usage: scripts/{program} NAME [--json] [options]")
        print("\n".join(f"  {name:<12}{subject_of(folder / f'{name}.py')}" for name in there))
        return 0 if arguments in (["--list"], ["--help"], ["-h"]) else 2
    name, *rest = arguments
    if name not in there:
        print(f"nothing to {program} is called {name}; there are {', '.join(there)}",
              file=sys.stderr)  # fmt: skip
        return 2
    # What the tests start and invent is what is measured: the PostgreSQL server, the shops.
    sys.path[:0] = [str(folder), str(TESTS / "support"), str(TESTS / "sim")]
    result: int = importlib.import_module(name).main(rest)
    return result


if __name__ == "__main__":
    sys.exit(run(sys.argv[1:], BENCHMARKS, "measure"))
