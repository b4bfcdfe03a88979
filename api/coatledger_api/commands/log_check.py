"""From a line of a day log to a fact the ledger would take, or to every fault of the line.

A line without an id gets one made from what it says: the same fact told again, in this file or in
another, is the same event, so that a log recorded twice is one history.
"""

import hashlib
from collections.abc import Iterable, Iterator
from typing import NamedTuple
from uuid import UUID

import msgspec
from coatledger.events.catalogue import AnyEvent
from coatledger.ledger.decode import typed
from coatledger.ledger.normal import normal_form
from coatledger.ledger.record import micros
from coatledger.recording.judge import body_faults
from coatledger.refusal import Fault, Refused
from msgspec.structs import replace

from coatledger_api.commands.log_fields import How, read_fact
from coatledger_api.commands.log_lines import Line
from coatledger_api.commands.log_times import Wall

NOBODY = UUID(int=0)


class Checked(NamedTuple):
    """One line: the fact it tells, or why it tells none."""

    number: int
    fact: AnyEvent | None
    faults: tuple[Fault, ...] = ()


def checked(
    lines: Iterable[Line], wall: Wall, *, text: bool, source: str | None = None
) -> Iterator[Checked]:
    """Check every line; `source` is put in where a line names none."""
    for line in lines:
        if line.faults:
            yield Checked(line.number, None, line.faults)
            continue
        given = line.given if source is None else {"source": source, **line.given}
        try:
            yield Checked(line.number, _fact(given, wall, text))
        except Refused as refusal:
            yield Checked(line.number, None, refusal.faults)


def _fact(given: dict[str, object] | msgspec.Raw | object, wall: Wall, text: bool) -> AnyEvent:
    assert isinstance(given, dict)
    how = How(text=text, wall=wall, faults=[])
    value = read_fact(given, how)
    named = "id" in value
    value.setdefault("id", str(NOBODY))
    replacement = value.get("replacement")
    if isinstance(replacement, dict) and "original" in value:
        replacement.setdefault("id", value["original"])
    try:
        fact: AnyEvent = typed(value, AnyEvent)
    except Refused as refusal:
        raise Refused(_joined(how.faults, refusal.faults)) from None
    if how.faults:
        raise Refused(tuple(how.faults))
    if not named:
        fact = replace(fact, id=id_of(fact, normal_form(fact)))
    faults = body_faults(fact, "")
    if faults:
        raise Refused(faults)
    return fact


def id_of(fact: AnyEvent, body: bytes) -> UUID:
    """Make the id of a fact from its normal form: UUIDv7 by form, with a hash for the chance part.

    *Reference:* RFC 9562, section 5.7 (layout).
    """
    ms = max(0, micros(fact.occurred_at) // 1000)
    chance = int.from_bytes(hashlib.sha256(body).digest()[:10], "big")
    high, low = chance >> 62 & 0xFFF, chance & (1 << 62) - 1
    return UUID(int=ms << 80 | 7 << 76 | high << 64 | 0b10 << 62 | low)


def _joined(ours: Iterable[Fault], theirs: Iterable[Fault]) -> tuple[Fault, ...]:
    """Put the decoder's faults after ours, but for what it says of a value we could not read."""
    first = tuple(ours)
    places = tuple(fault.pointer for fault in first)
    rest = (
        fault
        for fault in theirs
        if not any(fault.pointer == p or fault.pointer.startswith(f"{p}/") for p in places)
    )
    return (*first, *rest)
