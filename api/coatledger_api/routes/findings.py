"""What stands open in the shop, and the rules behind every finding as a page."""

from coatledger.answers.open_findings import FindingsAnswer, open_findings
from coatledger.events.catalogue import TAG_OF
from coatledger.findings.table import INTRODUCTION, RULES
from coatledger.ledger.store import Reader

from coatledger_api.operations import Call, Operation, Reply, asked, reading, running
from coatledger_api.pages import HEADERS, inline, page, table
from coatledger_api.parameters import AsOf, Nothing

HTML = "text/html"


@reading("/v1/findings", tag="Pieces")
def list_open_findings(call: Call[AsOf], reader: Reader) -> FindingsAnswer:
    """List what stands open in the whole shop, most severe first.

    Oily rags not dealt with, films that dried too cold, pot lives running out, guns overdue, rooms
    nobody read, facts that cannot have happened where they stand. As of a past time it also tells
    which coats a wrong climate had spoiled by then.
    """
    return open_findings(reader, asked(call, reader))


@running("GET", "/findings", tag="Documents", scope=None, answers={HTML: str})
async def read_finding_rules(call: Call[Nothing]) -> Reply:
    """Read the rules behind the findings: when, why, what to do, and who says so."""
    rows = (
        (
            f"<code>{rule.code}</code>",
            rule.severity,
            ", ".join(TAG_OF[kind] for kind in rule.on) or "the state of the shop",
            inline(rule.when),
            inline(rule.why),
            inline(rule.what_to_do),
            inline(rule.source),
        )
        for rule in RULES
    )
    headings = ("finding", "severity", "looks at", "when", "why", "what to do", "source")
    rules = f'<div class="wide" tabindex="0">{table(headings, rows)}</div>'
    body = f"<h1>Findings</h1><p>{inline(INTRODUCTION)}</p>{rules}"
    return Reply(
        page("coatledger: findings", body),
        media_type="text/html; charset=utf-8",
        headers=HEADERS,
    )


OPERATIONS: tuple[Operation, ...] = (list_open_findings, read_finding_rules)
