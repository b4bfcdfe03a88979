"""The shop itself: its zone and units, in which people are answered, and how it works."""

from datetime import datetime
from typing import Literal

from msgspec import Struct

from coatledger.events.setup import ShopDescribed
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked, iso

ZONE_UNTOLD = "UTC"


class ShopAnswer(Struct, frozen=True, kw_only=True):
    """The shop as it was described last. Until somebody does, times are UTC and units metric."""

    position: int
    as_of: datetime | None
    zone: str
    units: Literal["metric", "us"]
    described: ShopDescribed | None


def shop_answer(reader: Reader, asked: Asked) -> ShopAnswer:
    """Answer how the shop works."""
    described = asked.view(reader).shop()
    return ShopAnswer(
        position=asked.position(reader),
        as_of=iso(asked.now_us),
        zone=ZONE_UNTOLD if described is None else described.zone,
        units="metric" if described is None else described.units,
        described=described,
    )
