"""Run one measurement by name: a module in scripts/benchmarks/ with `main(arguments)`."""

import ast
import importlib
import sys
from pathlib import Path

BENCHMARKS = Path(__file__).resolve().parent / "benchmarks"
TESTS = BENCHMARKS.parent.parent / "tests"


def names() -> tuple[str, ...]:
    """Return the measurements there are."""
    return tuple(sorted(path.stem for path in BENCHMARKS.glob("[!_]*.py")))


def subject_of(name: str) -> str:
    """Return the first line of what a measurement says of itself, without running it."""
    tree = ast.parse((BENCHMARKS / f"{name}.py").read_text(encoding="utf-8"))
    return (ast.get_docstring(tree) or "").partition("\n")[0]


def main(arguments: list[str]) -> int:
    """Run the measurement named first, with the other arguments."""
    if not arguments or arguments[0].startswith("-"):
        print("usage: scripts/measure NAME [--json] [options]")
        print("\n".join(f"  {name:<12}{subject_of(name)}" for name in names()))
        return 0 if arguments in (["--list"], ["--help"], ["-h"]) else 2
    name, *rest = arguments
    if name not in names():
        print(f"no measurement is called {name}; there are {', '.join(names())}", file=sys.stderr)
        return 2
    # What the tests start and invent is what is measured: the PostgreSQL server, the shops.
    sys.path[:0] = [str(BENCHMARKS), str(TESTS / "support"), str(TESTS / "sim")]
    result: int = importlib.import_module(name).main(rest)
    return result


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
