"""One fact for each act of the life of a piece, taken from the goldens and told of one piece."""

from pathlib import Path
from typing import Any

from bench import made_id, on_day
from coatledger.events.base import Fact
from coatledger.events.catalogue import EVENT_TYPES, TAGS
from coatledger.ledger.record import decode_event
from coatledger.subjects.piece_life import NEXT
from msgspec.structs import replace

EVENTS = Path(__file__).resolve().parent.parent / "golden" / "events"
ACTS: tuple[str, ...] = tuple(dict.fromkeys(act for row in NEXT.values() for act in row))
# What names pieces by a field of its own; a settlement names those of the event it is about.
PIECE_TYPES = tuple(kind for kind in EVENT_TYPES if "pieces" in kind.__struct_fields__)


def golden(tag: str) -> Fact:
    """Return the golden event of a type."""
    return decode_event((EVENTS / f"{tag}.json").read_bytes())


def act(name: str, at: str = "1 08:00", piece: str = "a", n: int = 0, **fields: Any) -> Fact:
    """Make the fact of an act of the table, of one piece, on its own."""
    tag, given = name, dict(fields)
    if name in ("passed_final", "failed_final"):
        tag, given = "inspected", {"point": "final", "passed": name == "passed_final", **fields}
    event = golden(tag)
    if "pieces" in event.__struct_fields__:
        given.setdefault("pieces", (piece,))
    if "order" in event.__struct_fields__:
        given.setdefault("order", None)
        given.update({"line": None} if "line" in event.__struct_fields__ else {})
    when = on_day(at)
    number = [*ACTS, *TAGS].index(name)
    return replace(event, id=made_id(number * 1000 + n, when), occurred_at=when, ended_at=None,
                   **given)  # fmt: skip
