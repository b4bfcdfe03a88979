"""Five pieces that are finished and leave around local midnight, over a change of the clocks.

The shop is in Lisbon, where the clock went on from 01:00 to 02:00 on Sunday, 29 March 2026. Times
are told in UTC; day 1 is 2 March. The days, weeks and months of each zone below are counted by hand
from the local times beside each piece.
"""

from collections.abc import Mapping

from coatledger.events.setup import ShopDescribed
from story import Story, fact, given, inspected, shipped, started

LISBON, NEW_YORK, AUCKLAND = "Europe/Lisbon", "America/New_York", "Pacific/Auckland"
# UTC                    Lisbon        New York      Auckland
LEFT: Mapping[str, str] = {
    "a": "27 23:30",  #  28th 23:30    28th 19:30    29th 12:30
    "b": "28 22:30",  #  29th 23:30    29th 18:30    30th 11:30
    "c": "28 23:00",  #  30th 00:00    29th 19:00    30th 12:00
    "d": "30 22:59",  #  31st 23:59    31st 18:59    1st  11:59
    "e": "30 23:30",  #  1st  00:30    31st 19:30    1st  12:30
}
DAYS: Mapping[str, Mapping[str, int]] = {
    LISBON: {"2026-03-28": 1, "2026-03-29": 1, "2026-03-30": 1, "2026-03-31": 1, "2026-04-01": 1},
    NEW_YORK: {"2026-03-28": 1, "2026-03-29": 2, "2026-03-31": 2},
    AUCKLAND: {"2026-03-29": 1, "2026-03-30": 2, "2026-04-01": 2},
}
WEEKS: Mapping[str, Mapping[str, int]] = {
    LISBON: {"2026-W13": 2, "2026-W14": 3},
    NEW_YORK: {"2026-W13": 3, "2026-W14": 2},
    AUCKLAND: {"2026-W13": 1, "2026-W14": 4},
}
MONTHS: Mapping[str, Mapping[str, int]] = {
    LISBON: {"2026-03": 4, "2026-04": 1},
    NEW_YORK: {"2026-03": 5},
    AUCKLAND: {"2026-03": 3, "2026-04": 2},
}
COUNTED: Mapping[str, Mapping[str, Mapping[str, int]]] = {
    "day": DAYS, "week": WEEKS, "month": MONTHS,
}  # fmt: skip


def night_shop() -> Story:
    """Started on the 20th; each is inspected and leaves in the same minute."""
    facts = [
        fact(ShopDescribed, "1 07:00", zone=LISBON, hours=()),
        started(*LEFT, at="19 09:00"),
    ]
    for word, at in LEFT.items():
        facts += [inspected(word, at=at), shipped(word, at=at)]
    story = given()
    story.bench.at("33 12:00")
    story.when(*facts).accepted()
    return story
