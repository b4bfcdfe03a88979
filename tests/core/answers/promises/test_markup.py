"""A date for search engines, held to the shape that schema.org gives it."""

from datetime import UTC, date, datetime, time
from typing import Any

import msgspec
from coatledger.answers.promises.markup import markup_of
from coatledger.computations.calendar import Hours, Opening
from coatledger.subjects.working import Working

CALENDAR = Working(
    hours=Hours("Europe/Lisbon", tuple(Opening(d, time(8), time(17)) for d in (1, 2, 3, 4, 5))),
    closures=(), pickup_days=(2, 6), cut_off=time(15),
)  # fmt: skip
# Properties by type, as https://schema.org defines them, with the types each may have here.
SHAPE: dict[str, dict[str, Any]] = {
    "OfferShippingDetails": {"deliveryTime": "ShippingDeliveryTime"},
    "ShippingDeliveryTime": {
        "handlingTime": "QuantitativeValue", "cutoffTime": str,
        "businessDays": "OpeningHoursSpecification",
    },
    "QuantitativeValue": {"minValue": int, "maxValue": int, "unitCode": str},
    "OpeningHoursSpecification": {"dayOfWeek": list},
}  # fmt: skip


def written(before: datetime, likely: date, ships_by: date) -> Any:
    return msgspec.json.decode(msgspec.json.encode(markup_of(CALENDAR, before, likely, ships_by)))


def fits(node: dict[str, Any], kind: str) -> None:
    """Hold a node to its type: no property is missing, none is strange."""
    assert node.pop("@type") == kind
    assert node.keys() == SHAPE[kind].keys()
    for name, wanted in SHAPE[kind].items():
        if isinstance(wanted, str):
            fits(node[name], wanted)
        else:
            assert isinstance(node[name], wanted)


def test_a_date_has_the_shape_of_offer_shipping_details() -> None:
    found = written(datetime(2026, 3, 2, 17, tzinfo=UTC), date(2026, 3, 5), date(2026, 3, 6))
    assert found.pop("@context") == "https://schema.org"
    fits(found, "OfferShippingDetails")


def test_days_are_business_days_after_the_day_of_the_cut_off() -> None:
    found = written(datetime(2026, 3, 2, 17, tzinfo=UTC), date(2026, 3, 5), date(2026, 3, 17))
    days = found["deliveryTime"]["handlingTime"]
    assert (days["minValue"], days["maxValue"]) == (3, 13)  # two weeks of six days, and a Tuesday
    assert found["deliveryTime"]["businessDays"]["dayOfWeek"] == [
        f"https://schema.org/{day}"
        for day in ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday")
    ]
    same = written(datetime(2026, 3, 3, 15, tzinfo=UTC), date(2026, 3, 3), date(2026, 3, 3))
    assert same["deliveryTime"]["handlingTime"]["maxValue"] == 0


def test_the_cut_off_is_a_time_of_iso_8601_with_the_offset_of_its_day() -> None:
    for day, offset in ((27, "+00:00"), (30, "+01:00")):
        before = datetime(2026, 3, day, 17 if day == 27 else 16, tzinfo=UTC)
        found = written(before, before.date(), before.date())
        assert found["deliveryTime"]["cutoffTime"] == f"17:00:00{offset}"
