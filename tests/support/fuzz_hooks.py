"""What schemathesis cannot know of our contract, so that every check can stay on.

A pattern beside a format says in which years the ledger lives; drawn blindly, few times would fit
it. And no schema can say that an end follows its beginning: a fact that contradicts itself is
refused as `invalid`, which tests of their own hold, and is not drawn here.
"""

from datetime import date, datetime, timedelta, timezone
from typing import Any

import msgspec
import schemathesis
from coatledger.answers.promises.lines import wrong_lines
from coatledger.ledger.batch import Batch
from coatledger.ledger.decode import posted, typed
from coatledger.ledger.memory import MemoryStore
from coatledger.recording.judge import body_faults
from coatledger.refusal import Refused
from coatledger.subjects.view import View
from coatledger_api.selling.asked import AskedLines, lines_of
from hypothesis import strategies as st

OFFSETS = st.integers(-14 * 60, 14 * 60).map(lambda m: timezone(timedelta(minutes=m)))


def times(first: str, last: str) -> st.SearchStrategy[str]:
    """Times between two days, at any offset."""
    drawn = st.datetimes(
        datetime.fromisoformat(first), datetime.fromisoformat(last), timezones=OFFSETS
    )
    return drawn.map(datetime.isoformat)


schemathesis.openapi.format(
    "date-time", times("2025-01-01", "2026-06-01") | times("1900-01-02", "2199-12-30")
)
schemathesis.openapi.format("date", st.dates(date(1900, 1, 1), date(2199, 12, 31)).map(str))


@schemathesis.hook
def filter_case(context: schemathesis.HookContext, case: schemathesis.Case[Any]) -> bool:
    """Leave out what fits the schema and still contradicts itself."""
    if any(map(chooses_twice, (case.query or {}).get("line") or ())):
        return False
    if isinstance(case.body, dict) and "lines" in case.body and "type" not in case.body:
        return not asks_for_nothing(case.body)
    try:
        read = posted(msgspec.json.encode(case.body))
    except (Refused, TypeError, ValueError):
        return True
    events = read.events if isinstance(read, Batch) else (read,)
    return not any(body_faults(event, "") for event in events)


def chooses_twice(line: Any) -> bool:
    """Whether a line of an address names an option more than once."""
    axes = [part.partition("=")[0] for part in str(line).split(";")[1:]]
    return len(set(axes)) < len(axes)


def asks_for_nothing(body: dict[str, Any]) -> bool:
    """Whether what is asked for could be made in no shop: what it is stands nowhere, or twice."""
    try:
        lines = lines_of(typed(body["lines"], AskedLines))
    except (Refused, TypeError):
        return False
    with MemoryStore("nobody").reading() as reader:
        wrong = any(one.kind == "wrong" for one in wrong_lines(View(reader, 0), lines))
    return wrong or bool(body.get("hold") and "order" in body)
