"""What the rules of the trade say of the facts just recorded, with the lines that told them."""

from collections.abc import Iterator, Sequence

from coatledger_api.commands.log_report import LineFinding
from coatledger_api.commands.log_send import Answered


def findings_of(answered: Sequence[Answered]) -> tuple[LineFinding, ...]:
    """Return the findings about facts that are new, in the order of their lines."""
    new = (one for one in answered if one.outcome.problem is None and not one.outcome.repeated)
    found = (finding for one in new for finding in _of_line(one))
    return tuple(sorted(found, key=lambda finding: (finding.line, finding.code)))


def _of_line(one: Answered) -> Iterator[LineFinding]:
    if one.outcome.disputes:
        yield LineFinding(
            line=one.number,
            code="order_disputed",
            severity="serious",
            says=f"{len(one.outcome.disputes)} later facts cannot have been as they were told",
            what_to_do="Look at the history and correct what is wrong.",
        )
    for finding in one.outcome.findings:
        yield LineFinding(
            line=one.number,
            code=finding.code,
            severity=finding.severity,
            says="; ".join(seen.says for seen in finding.seen),
            what_to_do=finding.what_to_do,
        )
