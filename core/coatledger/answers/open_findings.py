"""What stands open in the whole shop, most severe first."""

from datetime import datetime

from msgspec import Struct

from coatledger.findings.finding import Finding
from coatledger.findings.shop import open_findings_of_shop
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked, iso


class FindingsAnswer(Struct, frozen=True, kw_only=True):
    """Findings of the shop's state: rags, void films, pot lives, guns, unread rooms, disputes."""

    position: int
    as_of: datetime | None
    findings: tuple[Finding, ...]


def open_findings(reader: Reader, asked: Asked) -> FindingsAnswer:
    """Answer what stood open at a time, as known then. A past time costs the history."""
    found = open_findings_of_shop(asked.view(reader), asked.now_us, present=asked.present)
    return FindingsAnswer(position=asked.position(reader), as_of=iso(asked.now_us), findings=found)
