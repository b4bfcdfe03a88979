"""Examples for the contract: ship dates quoted, held and promised."""

from collections.abc import Mapping
from typing import Any

PARAMETERS: Mapping[str, Any] = {
    "order": "o-1042", "hold": "cart-77", "seed": 1, "replications": 1000,
    "line": ["HS-60*2;tint=smoke"], "ships": "together", "no_later_than": "2026-11-20",
}  # fmt: skip
_LINES = ({"sku": "HS-60", "quantity": 12, "options": {"tint": "smoke"}},)
_ORDERED = ({"line": "1", "quantity": 12, "sku": "HS-60", "options": {"tint": "smoke"}},)
_AT = "2026-10-07T10:25:12.480211+01:00"
BODIES: Mapping[str, Any] = {
    "quote_promise": {"lines": _LINES, "wanted_by": "2026-11-06"},
    "make_hold": {"hold": "cart-77", "minutes": 20, "lines": _LINES},
    "make_promise": {"order": "o-1042", "hold": "cart-77", "customer": "c-311"},
}


def _quote() -> dict[str, Any]:
    days = (
        (50, "2026-11-03", 0.61), (80, "2026-11-05", 0.84), (90, "2026-11-06", 0.92),
        (95, "2026-11-10", 0.97),
    )  # fmt: skip
    return {
        "position": 412,
        "as_of": _AT,
        "engine": "open-shop-1",
        "seed": 1,
        "replications": 1000,
        "level_pct": 80,
        "ships_by": "2026-11-05",
        "chance": 0.84,
        "wanted_by": "2026-11-06",
        "wanted_chance": 0.92,
        "quantiles": [
            {"level_pct": pct, "ships_by": day, "chance": chance} for pct, day, chance in days
        ],
        "takes": {
            "queue_days": 9.6, "hands_on_days": 1.2, "drying_days": 3.1, "cure_days": 2.4,
            "rework_days": 1.3, "pick_up_days": 0.7,
        },
        "earlier": [
            {"way": "split", "says": "ship 6 of 12 first", "ships_by": "2026-11-03"},
        ],
        "lines": [],
        "assumed": ["the last reading of room spray-room is held"],
        "missing": [],
    }  # fmt: skip


def _hold() -> dict[str, Any]:
    return {
        "hold": "cart-77",
        "state": "live",
        "placed_at": _AT,
        "until": "2026-10-07T10:45:12.480211+01:00",
        "together": True,
        "lines": list(_ORDERED),
        "order": None,
        "quote": _quote(),
    }


def _promised() -> dict[str, Any]:
    return {
        "order": "o-1042",
        "position": 415,
        "promised_at": "2026-10-07T10:31:40.120000+01:00",
        "ships_by": "2026-11-05",
        "level_pct": 80,
        "days": [
            {
                "event": "5d0c7a92-1f3e-8b44-9a61-2c5e70b1d3f8", "line": None,
                "ships_by": "2026-11-05", "likely": "2026-11-03", "chance_pct": 84,
                "p50": "2026-11-03", "p80": "2026-11-05", "p90": "2026-11-06",
                "p95": "2026-11-10",
            }
        ],
        "engine": "open-shop-1",
        "seed": 1,
        "replications": 1000,
        "calendar": "tz 2026a, holidays 0.109 GB",
        "quoted_at": _AT,
        "quoted_position": 412,
        "holds_before": 0,
        "says": "Ships-by is the day on which it leaves the shop; the carrier's days come on top "
        "of it.",
    }  # fmt: skip


def _ship_promise() -> dict[str, Any]:
    text = (
        "Made to order. It leaves our workshop by Thursday 5 November 2026 if you order before "
        "17:00 on Wednesday 7 October 2026. That is the day it leaves us, not the day it arrives: "
        "add the carrier's days."
    )
    days = {
        "status": "made_to_order", "basis": "computed", "ships_by": "2026-11-05",
        "likely": "2026-11-03", "order_before": "2026-10-07T17:00:00+01:00", "text": text,
        "json_ld": {
            "@context": "https://schema.org",
            "@type": "OfferShippingDetails",
            "deliveryTime": {
                "@type": "ShippingDeliveryTime",
                "handlingTime": {
                    "@type": "QuantitativeValue", "minValue": 19, "maxValue": 21,
                    "unitCode": "DAY",
                },
                "cutoffTime": "17:00:00+01:00",
                "businessDays": {
                    "@type": "OpeningHoursSpecification",
                    "dayOfWeek": ["https://schema.org/Monday", "https://schema.org/Friday"],
                },
            },
        },
    }  # fmt: skip
    line = {"sku": "HS-60", "quantity": 2, "options": {"tint": "smoke"}, **days}
    return {
        "position": 412, "level_pct": 80, "valid_until": "2026-10-07T17:00:00+01:00", **days,
        "lines": [line],
    }  # fmt: skip


ANSWERS: Mapping[tuple[str, str], Any] = {
    ("quote_promise", "application/json"): _quote,
    ("make_hold", "application/json"): _hold,
    ("read_hold", "application/json"): _hold,
    ("make_promise", "application/json"): _promised,
    ("read_ship_promise", "application/json"): _ship_promise,
}
