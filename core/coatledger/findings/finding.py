"""A finding: what was seen, why it matters and what to do. It never refuses anything."""

from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING, Any, Literal, NamedTuple
from uuid import UUID

from msgspec import Struct

from coatledger.computations.practice import PRACTICE
from coatledger.events.base import Fact

if TYPE_CHECKING:
    from coatledger.findings.place import Place

Severity = Literal["note", "caution", "serious", "critical"]
SHEET = "data sheet"
COMMON = PRACTICE


class Seen(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One piece of evidence: in words with its numbers, and the fact it comes from."""

    says: str
    event: UUID | None = None


class Finding(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What the rules of the trade say of one fact. `cause` is the subject it lies with (a can, a
    gun, a room, a piece); `settled` is how somebody ended it."""

    code: str
    severity: Severity
    about: UUID
    at: datetime
    cause: str
    seen: tuple[Seen, ...]
    why: str
    what_to_do: str
    source: str
    pieces: tuple[str, ...] = ()
    settled: Literal["accepted", "wrong", "cured"] | None = None


class Hit(NamedTuple):
    """What a rule saw. Severity and source stand in for the rule's own where the case differs."""

    seen: tuple[Seen, ...]
    pieces: tuple[str, ...] = ()
    cause: str = ""
    severity: Severity | None = None
    source: str | None = None


# How a rule that looks at a shared thing is kept from nagging: each act is its own (`act`); once a
# working day for its cause (`day`); once a day, unless it was not so at the earlier act (`air`).
Again = Literal["act", "day", "air"]


class Rule(NamedTuple):
    """One rule of the trade: on which facts it looks, what it says, and who says so.

    `look` takes a fact of the types in `on`, so it is typed by each rule and Any here.
    """

    code: str
    severity: Severity
    on: tuple[type[Fact], ...]
    when: str
    why: str
    what_to_do: str
    source: str
    look: Callable[[Any, "Place"], Hit | None]
    again: Again = "act"
