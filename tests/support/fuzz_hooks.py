"""What schemathesis cannot know: in which years the ledger lives.

The contract says it by a pattern beside the format; drawn blindly, few times would fit it.
"""

from datetime import date, datetime, timedelta, timezone

import schemathesis
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
