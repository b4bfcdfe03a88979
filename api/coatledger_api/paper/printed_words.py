"""How quantities, lengths of time and days are put on paper: as a person would say them."""

import math
from datetime import date, datetime
from zoneinfo import ZoneInfo

from coatledger.units import ft2_from_m2, mil_from_um
from msgspec import Struct


class Manner(Struct, frozen=True):
    """In whose zone and units something is printed."""

    zone: ZoneInfo
    us: bool = False

    def film(self, film_um: float) -> str:
        """Write a wet film."""
        return f"{mil_from_um(film_um):.1f} mil" if self.us else f"{film_um:.0f} µm"

    def film_range(self, least_um: float | None, most_um: float | None) -> str:
        """Write the sheet's least and most, as far as it gives them."""
        if least_um is not None and most_um is not None:
            least, unit = self.film(least_um).split(" ")
            return f"{least} to {self.film(most_um).split(' ')[0]} {unit}"
        if least_um is not None:
            return f"at least {self.film(least_um)}"
        return "" if most_um is None else f"at most {self.film(most_um)}"

    def area(self, area_m2: float) -> str:
        """Write an area to coat."""
        return f"{ft2_from_m2(area_m2):.1f} ft²" if self.us else f"{area_m2:.2f} m²"

    def day(self, when: datetime | date | str) -> str:
        """Write a day in the shop's zone."""
        if isinstance(when, str):
            when = date.fromisoformat(when)
        if isinstance(when, datetime):
            when = when.astimezone(self.zone)
        return f"{when:%a} {when.day} {when:%b %Y}"

    def minute(self, when: datetime) -> str:
        """Write a moment to the minute."""
        return f"{self.day(when)}, {when.astimezone(self.zone):%H:%M}"


def lasting(hours: float, *, up: bool = False) -> str:
    """Write a wait no finer than it is known: to 10 minutes, hours, or days; `up` never less."""
    rounded = math.ceil if up else round
    if hours < 6:
        tens = max(1, rounded(round(hours * 6, 6)))
        whole, minutes = divmod(tens * 10, 60)
        return " ".join(filter(None, (f"{whole} h" if whole else "",
                                      f"{minutes} min" if minutes else "")))  # fmt: skip
    if hours < 48:
        return f"{rounded(round(hours, 6))} h"
    return f"{rounded(round(hours / 24, 6))} days"


def plain(word: object) -> str:
    """Write one of the ledger's words as people say it."""
    return str(word).replace("_", " ")


def listing(words: tuple[str, ...], most: int = 60) -> str:
    """Write words one after the other, and how many more there are."""
    more = f" and {len(words) - most} more" if len(words) > most else ""
    return ", ".join(words[:most]) + more
