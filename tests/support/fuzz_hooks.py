"""What schemathesis cannot know of our contract, so that every check can stay on.

A pattern beside a format says in which years the ledger lives; drawn blindly, few times would fit
it. And no schema can say that an end follows its beginning: a fact that contradicts itself is
refused as `invalid`, which tests of their own hold, and is not drawn here.
"""

from datetime import date, datetime, timedelta, timezone
from typing import Any

import msgspec
import schemathesis
from coatledger.ledger.batch import Batch
from coatledger.ledger.decode import posted
from coatledger.recording.judge import body_faults
from coatledger.refusal import Refused
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
    try:
        read = posted(msgspec.json.encode(case.body))
    except (Refused, TypeError, ValueError):
        return True
    events = read.events if isinstance(read, Batch) else (read,)
    return not any(body_faults(event, "") for event in events)
