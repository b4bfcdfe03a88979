"""Every declared dependency is explained once, with the licence that it tells itself."""

import re
import tomllib
from collections.abc import Iterator
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path
from typing import NamedTuple

import pytest

ROOT = Path(__file__).resolve().parents[2]
# What a licence is called in the table, and by what it is known in metadata or its text.
KNOWN_BY = {
    "MIT": r"\bMIT\b",
    "BSD": r"\bBSD\b",
    "Apache": r"\bApache\b",
    "LGPL": r"\bLGPL\b",
    "MPL": r"\bMPL\b",
    "OSI": r"any-OSI",
    "OFL": r"\bOFL\b",
}


class Row(NamedTuple):
    """One line of the table."""

    extras: frozenset[str]
    why: str
    licence: str


def table() -> dict[str, Row]:
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    part = text.partition("## What it stands on")[2].partition("\n## ")[0]
    found: dict[str, Row] = {}
    for line in part.splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if line.startswith("| ") and len(cells) == 5 and cells[0] != "package":
            assert cells[0] not in found, f"{cells[0]} stands twice"
            found[cells[0]] = Row(frozenset(cells[1].split(", ")), cells[2], cells[3])
    return found


def declared() -> Iterator[tuple[str, str]]:
    """Every dependency with the part of the program that asks for it."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    groups = {"core": project["dependencies"], **project["optional-dependencies"]}
    for extra, wanted in groups.items():
        for requirement in wanted:
            name = re.match(r"[A-Za-z0-9._-]+", requirement)
            assert name is not None
            if name[0] != "coatledger":
                yield name[0].lower(), extra


def test_every_dependency_is_explained_and_nothing_else_is() -> None:
    extras: dict[str, set[str]] = {}
    for name, extra in declared():
        extras.setdefault(name, set()).add(extra)
    rows = table()
    assert rows.keys() == extras.keys()
    assert {name: set(row.extras) for name, row in rows.items()} == extras
    assert all(row.why for row in rows.values())


def told(found: Distribution) -> str:
    """What a package says of its licence: in its metadata, else in its licence file."""
    fields = found.metadata
    said = [*(fields.get_all("License-Expression") or ()), *(fields.get_all("License") or ())]
    said += [one for one in fields.get_all("Classifier") or () if one.startswith("License")]
    if any(re.search(known, " ".join(said)) for known in KNOWN_BY.values()):
        return " ".join(said)
    files = [one for one in found.files or () if "licen" in str(one).lower()]
    return " ".join(one.read_text() for one in files if one.suffix in ("", ".txt", ".md"))


@pytest.mark.parametrize(("name", "row"), table().items(), ids=lambda one: str(one)[:40])
def test_its_licence_is_the_one_it_tells(name: str, row: Row) -> None:
    try:
        found = distribution(name)
    except PackageNotFoundError:
        assert name == "uvloop"  # the one that is not for every system
        return
    assert re.search(KNOWN_BY[row.licence], told(found)), told(found)[:200]
