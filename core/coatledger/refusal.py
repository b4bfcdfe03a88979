"""Every reason to refuse, as a literal table, and the exception that carries the faults.

Bad practice is not here: it is recorded and answered with a finding. Refused are data that cannot
be read, and facts that cannot have happened as told.
"""

from collections.abc import Mapping
from typing import NamedTuple

from msgspec import Struct


class Rule(NamedTuple):
    """One reason to refuse: its HTTP status hint, a fixed title, what it means and what to do."""

    status: int
    title: str
    meaning: str
    remedy: str


RULES: Mapping[str, Rule] = {
    "malformed": Rule(
        400,
        "Not readable as JSON",
        "The body is not one JSON value in UTF-8, or is nested too deeply.",
        "Send one JSON object; a JSON library writes it right.",
    ),
    "invalid": Rule(
        422,
        "Not in the form of the contract",
        "A field is missing, unknown, of the wrong type or out of bounds; each fault names its "
        "place.",
        "Send it again in the form the OpenAPI document gives.",
    ),
    "occurs_in_future": Rule(
        409,
        "Told before it happened",
        "A fact says what happened, so its times cannot lie after the service's clock.",
        "Check the device's clock, or send `sent_at` with the batch so that the offset can be "
        "corrected.",
    ),
    "unknown_piece": Rule(
        409,
        "No such piece",
        "The piece was not started or expected at that time.",
        "Record piece_started first, or correct the word or the time.",
    ),
    "unknown_order": Rule(
        409,
        "No such order",
        "The order was not taken at that time.",
        "Record order_taken first, or correct the word or the time.",
    ),
    "unknown_event": Rule(
        409,
        "No such event",
        "A correction or settlement names an event this ledger does not hold.",
        "Record the original first, or correct the id.",
    ),
    "born_twice": Rule(
        409,
        "The word is taken",
        "Words of pieces, lots and orders are never reused.",
        "Choose a new word.",
    ),
    "impossible_order": Rule(
        409,
        "Cannot have happened there",
        "At that place in the life of the piece or order the act was not possible, for example a "
        "coat on a piece that is away.",
        "Correct the time, or correct the earlier fact first.",
    ),
    "corrects_a_correction": Rule(
        409,
        "Corrections are not corrected",
        "The event named is itself a void or an amendment.",
        "Correct the original event again; the latest correction wins.",
    ),
    "correction_of_other_type": Rule(
        409,
        "Another type of fact",
        "An amendment keeps the type, the id and the note of the original.",
        "Void the original and record a new fact.",
    ),
    "id_reused": Rule(
        409,
        "The id already means another fact",
        "The ledger holds an event of this id with other content.",
        "Make a new id for a new fact.",
    ),
    "beyond_source": Rule(
        409,
        "Outside what its source holds for",
        "A number lies outside the range in which the calculation's source holds, or two numbers "
        "contradict each other.",
        "`detail` names the number, the range and the source; ask within it.",
    ),
    "condition_broken": Rule(
        409,
        "Something was recorded meanwhile",
        "A subject named in `conditions` was named by a later event than `after`.",
        "Read it again and decide anew.",
    ),
}


class Fault(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One thing wrong, and where: `pointer` is an RFC 6901 JSON Pointer into the body."""

    rule: str
    pointer: str
    detail: str


class Refused(Exception):  # noqa: N818 - the house word
    """What was asked is refused as a whole; nothing was written."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        assert faults, "a refusal names at least one fault"
        self.faults = faults
        super().__init__("; ".join(f"{f.pointer or '/'}: {f.detail}" for f in faults))

    @property
    def rule(self) -> str:
        """The rule of the first fault: the one that names the problem."""
        return self.faults[0].rule


def refuse(rule: str, pointer: str, detail: str) -> Refused:
    """Make a refusal of one fault."""
    assert rule in RULES, rule
    return Refused((Fault(rule=rule, pointer=pointer, detail=detail),))
