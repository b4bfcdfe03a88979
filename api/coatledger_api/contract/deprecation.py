"""What goes away is told beforehand, in the contract and in every answer of its address.

*Reference:* the Deprecation field is RFC 9745 (a structured date, `@` and seconds since 1970), the
Sunset field RFC 8594 (a date of HTTP); links to what says more and to what comes instead are those
two RFCs' and RFC 5829's.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from email.utils import format_datetime

# How long an address is still served after it was said that it goes.
NOTICE = timedelta(days=180)
POLICY = "/docs#versions"


@dataclass(frozen=True, slots=True)
class Deprecation:
    """Since when an operation should no longer be used, when it ends, and what is there instead.

    `since` and `sunset` are in UTC; `sunset` comes half a year later at the soonest.
    """

    since: datetime
    sunset: datetime | None = None
    instead: str | None = None

    def __post_init__(self) -> None:
        if self.sunset is not None and self.sunset - self.since < NOTICE:
            raise ValueError(f"an address is served for {NOTICE.days} days after notice was given")

    def headers(self) -> Mapping[str, str]:
        """Tell it in the fields of HTTP."""
        links = [f'<{POLICY}>; rel="deprecation"; type="text/html"']
        if self.instead is not None:
            links.append(f'<{self.instead}>; rel="successor-version"')
        told = {"Deprecation": f"@{int(self.since.timestamp())}", "Link": ", ".join(links)}
        if self.sunset is not None:
            told["Sunset"] = format_datetime(self.sunset, usegmt=True)
        return told

    def words(self) -> str:
        """Tell it in a sentence of the documentation."""
        said = f"**Deprecated** since {self.since:%Y-%m-%d}"
        if self.sunset is not None:
            said += f", gone after {self.sunset:%Y-%m-%d}"
        return said + (f"; use `{self.instead}` instead." if self.instead else ".")
