"""The house rules that no linter knows, held by reading the source and the list of files.

Each rule names the file and line that breaks it and what to do instead; width and docstrings are
ruff's part.
"""

import ast
import re
import subprocess
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
SOURCE_ROOTS = ("core", "adapters", "api")
SOURCE_LINES_MAX = 300
TEST_LINES_MAX = 400  # a test file carries its tables
FUNCTION_LINES_MAX = 50  # without its docstring

TOP_LEVEL = frozenset(
    (
        *("README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE", "pyproject.toml"),
        *("core", "api", "adapters", "tests", "openapi", "scripts", ".ci"),
    )
)

# In the core, what is banned and what to do instead. Keys are the call as written.
BANNED_CALLS = {
    "datetime.now": "take `now` as a parameter",
    "datetime.utcnow": "take `now` as a parameter",
    "datetime.today": "take `now` as a parameter",
    "date.today": "take `now` as a parameter",
    "pendulum.now": "take `now` as a parameter",
    "pendulum.today": "take `now` as a parameter",
    "pendulum.parse": "it accepts words such as 'now'; decode with msgspec",
    "uuid4": "take the id as a parameter",
    "uuid.uuid4": "take the id as a parameter",
    "uuid.uuid1": "take the id as a parameter",
    "open": "read files in an adapter",
    "print": "return the answer",
    "input": "take a parameter",
    "eval": "write the code",
    "exec": "write the code",
}
# Drawing from numpy's hidden generator is chance the caller cannot repeat.
BANNED_PREFIXES = {"np.random.": "take `rng` as a parameter", "numpy.random.": "take `rng`"}

# Written in two parts, so that this file does not hold what it forbids.
FORBIDDEN_TEXT = tuple(
    re.compile(first + second, re.IGNORECASE)
    for first, second in (
        (r"(?<![\w.])/wo", r"rk/"),
        (r"(?<![\w.])/ro", r"ot/"),
        (r"(?<![\w.])/ho", r"me/\w"),
        (r"\.py", r"env\b"),
        (r"\bpypi\.", r"org"),
        (r"python", r"hosted\.org"),
        (r"registry\.", r"npmjs"),
        (r"deb\.", r"debian\.org"),
        (r"tran", r"script"),
        (r"chat", r"bot"),
        (r"clau", r"de\b"),
        (r"\bthro", r"pic\b"),
        (r"language ", r"model"),
        (r"\bsub", r"-?agent"),
        (r"\bissue ", r"#?\d"),
        (r"\bTO", r"DO\b"),
        (r"\bFIX", r"ME\b"),
    )
)


def committed() -> tuple[Path, ...]:
    """Every file that is or would be committed, relative to the root."""
    listed = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    paths = (Path(name) for name in sorted(set(listed.stdout.split("\0"))) if name)
    return tuple(path for path in paths if (ROOT / path).is_file())


COMMITTED = committed()
PYTHON = tuple(path for path in COMMITTED if path.suffix == ".py")
SOURCE = tuple(path for path in PYTHON if path.parts[0] in SOURCE_ROOTS)
CORE = tuple(path for path in SOURCE if path.parts[0] == "core")


def read(path: Path) -> str:
    return (ROOT / path).read_text(encoding="utf-8")


def faults(paths: tuple[Path, ...], look: Callable[[ast.Module], Iterator[str]]) -> list[str]:
    """What `look` finds in the syntax tree of each file, with the file's name before it."""
    found = []
    for path in paths:
        try:
            tree = ast.parse(read(path))
        except SyntaxError as error:
            found.append(f"{path}:{error.lineno} is not Python 3.11: {error.msg}")
        else:
            found += [f"{path}:{fault}" for fault in look(tree)]
    return found


def none_of(found: Iterable[object]) -> None:
    """Fail with every fault on a line of its own."""
    lines = [str(fault) for fault in found]
    assert not lines, "\n" + "\n".join(lines)


def test_the_top_level_holds_only_what_the_design_names() -> None:
    names = {path.parts[0] for path in COMMITTED}
    strangers = {name for name in names - TOP_LEVEL if not name.startswith(".")}
    none_of(strangers)


def test_no_file_outgrows_its_reader() -> None:
    long = []
    for path in PYTHON:
        limit = TEST_LINES_MAX if path.parts[0] == "tests" else SOURCE_LINES_MAX
        if (count := len(read(path).splitlines())) > limit:
            long.append(f"{path}: {count} lines, at most {limit}; split it by subject")
    none_of(long)


def long_functions(tree: ast.Module) -> Iterator[str]:
    for node in ast.walk(tree):
        if not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            continue
        first = node.body[1] if ast.get_docstring(node) and node.body[1:] else node.body[0]
        count = (node.end_lineno or first.lineno) - first.lineno + 1
        if count > FUNCTION_LINES_MAX:
            yield f"{node.lineno} {node.name}: {count} lines, at most {FUNCTION_LINES_MAX}"


def test_no_function_outgrows_a_screen() -> None:
    none_of(faults(PYTHON, long_functions))


def more_than_a_docstring(tree: ast.Module) -> Iterator[str]:
    if len(tree.body) != 1 or not ast.get_docstring(tree):
        yield "1 a package's __init__.py holds its docstring and nothing else"


def test_a_package_front_holds_only_its_docstring() -> None:
    fronts = tuple(path for path in SOURCE if path.name == "__init__.py")
    none_of(faults(fronts, more_than_a_docstring))


def test_every_folder_of_source_is_a_package_so_that_it_is_shipped() -> None:
    folders = {path.parent for path in SOURCE}
    none_of(folder for folder in folders if folder / "__init__.py" not in SOURCE)


def test_tests_are_no_packages() -> None:
    none_of(path for path in PYTHON if path.parts[0] == "tests" and path.stem == "__init__")


def impure_calls(tree: ast.Module) -> Iterator[str]:
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        name = ast.unparse(node.func)
        instead = [
            why
            for banned, why in BANNED_CALLS.items()
            if name == banned or ("." in banned and name.endswith(f".{banned}"))
        ]
        instead += [why for prefix, why in BANNED_PREFIXES.items() if name.startswith(prefix)]
        if instead:
            yield f"{node.lineno} {name}(): {instead[0]}"


def test_the_core_asks_nothing_of_the_world() -> None:
    none_of(faults(CORE, impure_calls))


def mutable_values(tree: ast.Module) -> Iterator[str]:
    mutable = ast.List | ast.Set | ast.ListComp | ast.SetComp
    for node in tree.body:
        if not isinstance(node, ast.Assign | ast.AnnAssign) or node.value is None:
            continue
        kind = ast.unparse(node.annotation) if isinstance(node, ast.AnnAssign) else ""
        if isinstance(node.value, mutable):
            yield f"{node.lineno} a list or set at module level: use a tuple or a frozenset"
        elif isinstance(node.value, ast.Dict | ast.DictComp) and "Mapping" not in kind:
            yield f"{node.lineno} a dict at module level: annotate it as a Mapping"


def test_no_module_keeps_a_value_that_can_change() -> None:
    none_of(faults(SOURCE, mutable_values))


def test_nothing_committed_names_a_machine_a_registry_or_how_it_was_written() -> None:
    found = []
    for path in COMMITTED:
        try:
            lines = read(path).splitlines()
        except UnicodeDecodeError:
            continue
        for number, line in enumerate(lines, 1):
            found += [
                f"{path}:{number} {rule.pattern}" for rule in FORBIDDEN_TEXT if rule.search(line)
            ]
    none_of(found)


def test_the_pins_hold_names_and_versions_and_no_addresses() -> None:
    lines = read(Path("scripts/constraints.txt")).split()
    assert lines
    none_of(line for line in lines if not re.fullmatch(r"[\w.-]+==[\w.]+", line))


def computes(path: Path) -> bool:
    """Whether a module computes: one that only declares (structs, a port) is held by its users."""
    functions = ast.FunctionDef | ast.AsyncFunctionDef
    found = (node for node in ast.walk(ast.parse(read(path))) if isinstance(node, functions))
    return any(not isinstance(node.body[-1], ast.Expr) for node in found)


def imported(path: Path) -> Iterator[str]:
    """The dotted names a file imports."""
    for node in ast.walk(ast.parse(read(path))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def is_tested(module: Path) -> bool:
    """Whether a/b.py of the core has tests/core/a/test_b.py, or a test there that imports it."""
    folder = Path("tests", module.parts[0], *module.parts[2:-1])
    if folder / f"test_{module.name}" in PYTHON:
        return True
    name = ".".join(module.with_suffix("").parts[1:])
    beside = (path for path in PYTHON if path.parent == folder)
    return any(name in imported(path) for path in beside)


def test_every_core_module_that_computes_is_tested_where_its_mirror_stands() -> None:
    modules = (path for path in CORE if path.name != "__init__.py" and computes(path))
    none_of(f"{path}: no test of its own" for path in modules if not is_tested(path))


@pytest.mark.parametrize(
    ("look", "text"),
    [
        (impure_calls, "import datetime as dt\nx = dt.datetime.now(dt.UTC)"),
        (impure_calls, "f = open('a')"),
        (impure_calls, "x = np.random.normal()"),
        (mutable_values, "NEXT = {}"),
        (mutable_values, "NAMES: tuple[str, ...] = [x for x in y]"),
        (more_than_a_docstring, '"""A package."""\nimport os'),
        (long_functions, "def f():\n" + "    x = 1\n" * (FUNCTION_LINES_MAX + 1)),
    ],
)
def test_a_rule_sees_what_breaks_it(look: Callable[[ast.Module], Iterator[str]], text: str) -> None:
    assert list(look(ast.parse(text)))


@pytest.mark.parametrize(
    ("look", "text"),
    [
        (impure_calls, "x = store.open()\nrng.normal()\nsheet.now"),
        (mutable_values, "NEXT: Mapping[str, int] = {}\nNAMES = ('a',)"),
        (more_than_a_docstring, '"""A package."""'),
        (long_functions, 'def f():\n    """Long.' + "\n" * 60 + '    """\n    return 1'),
    ],
)
def test_a_rule_lets_good_code_be(look: Callable[[ast.Module], Iterator[str]], text: str) -> None:
    assert not list(look(ast.parse(text)))
