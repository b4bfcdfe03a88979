"""The list of what was erased: opaque references only, kept apart from every database and copy.

A copy from before an erasure still holds the words; whoever puts it back erases them again by this
list.
"""

import os
import sqlite3
from collections.abc import Iterable
from pathlib import Path
from typing import Literal, NamedTuple
from uuid import UUID

FILE = "erased.txt"
Kind = Literal["note", "person"]


class Erased(NamedTuple):
    """One erasure: the words of an event, or the name of a person."""

    kind: Kind
    reference: str


def erased_in(folder: Path) -> tuple[Erased, ...]:
    """Read the list; without a file nothing was erased."""
    try:
        lines = (folder / FILE).read_text(encoding="ascii").splitlines()
    except FileNotFoundError:
        return ()
    found: dict[Erased, None] = {}
    for line in lines:
        kind, _, reference = line.partition(" ")
        assert kind in ("note", "person"), f"{folder / FILE}: {line!r} is not understood"
        found[Erased("note" if kind == "note" else "person", reference)] = None
    return tuple(found)


def note_erasure(folder: Path, erased: Erased) -> None:
    """Write an erasure down, before it is carried out, so that no crash forgets it."""
    with (folder / FILE).open("a", encoding="ascii") as file:
        file.write(f"{erased.kind} {erased.reference}\n")
        file.flush()
        os.fsync(file.fileno())


def erase_again(file: sqlite3.Connection, shop: str, gone: Iterable[Erased]) -> None:
    """Carry erasures out on a database that is being put back."""
    for kind, reference in gone:
        if kind == "note":
            file.execute(
                "UPDATE note SET words = NULL, salt = x'' WHERE shop = ? AND event_id = ?",
                (shop, UUID(reference).bytes),
            )
        else:
            file.execute("DELETE FROM person_name WHERE shop = ? AND person = ?", (shop, reference))
