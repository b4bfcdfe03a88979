"""What the ledger thinks of the facts just recorded: the findings about them, each told once."""

from collections.abc import Iterator, Sequence
from urllib.parse import quote
from uuid import UUID

import msgspec
from coatledger.events.catalogue import AnyEvent, subjects_of
from coatledger.findings.finding import Finding

from coatledger_api.commands.log_report import LineFinding
from coatledger_api.commands.log_send import Outcome
from coatledger_api.commands.reach import Refusal, Service

Answered = tuple[int, AnyEvent, Outcome]
PIECES_ASKED_MAX = 200
FORBIDDEN = 403


class PieceFindings(msgspec.Struct, frozen=True):
    """A piece's answer, as far as it is needed here."""

    findings: tuple[Finding, ...] = ()


def findings_of(service: Service, answered: Sequence[Answered]) -> tuple[LineFinding, ...]:
    """Ask for the findings about facts that are new, in the order of their lines."""
    new = [
        (number, fact, outcome)
        for number, fact, outcome in answered
        if outcome.problem is None and not outcome.repeated
    ]
    line_of = {fact.id: number for number, fact, _ in new}
    told: dict[tuple[UUID, str], LineFinding] = {}
    for number, fact, outcome in new:
        if outcome.disputes:
            told[fact.id, "order_disputed"] = LineFinding(
                line=number,
                code="order_disputed",
                severity="serious",
                says=f"{len(outcome.disputes)} later facts cannot have been as they were told",
                what_to_do="Look at the history and correct what is wrong.",
            )
    for finding in _asked(service, _pieces([fact for _, fact, _ in new])):
        if finding.about in line_of and finding.settled is None:
            told.setdefault(
                (finding.about, finding.code),
                LineFinding(
                    line=line_of[finding.about],
                    code=finding.code,
                    severity=finding.severity,
                    says="; ".join(seen.says for seen in finding.seen),
                    what_to_do=finding.what_to_do,
                ),
            )
    return tuple(sorted(told.values(), key=lambda finding: (finding.line, finding.code)))


def _pieces(facts: Sequence[AnyEvent]) -> tuple[str, ...]:
    """Name the pieces of these facts, each once; of a very long log the last ones."""
    subjects = (subject for fact in reversed(facts) for subject in subjects_of(fact))
    words = (s.removeprefix("piece:") for s in subjects if s.startswith("piece:"))
    return tuple(dict.fromkeys(words))[:PIECES_ASKED_MAX]


def _asked(service: Service, pieces: Sequence[str]) -> Iterator[Finding]:
    for piece in pieces:
        try:
            body = service.get(f"/v1/pieces/{quote(piece)}")
        except Refusal as refusal:
            if refusal.status == FORBIDDEN:  # a key that may only record
                return
            continue
        yield from msgspec.json.decode(body, type=PieceFindings).findings
