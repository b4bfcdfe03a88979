"""A shop over HTTP that sells shelves and boxes: what the tests of its promises begin with."""

from __future__ import annotations

from typing import Any

import msgspec
from httpx import Response
from served import Served

HOURS = tuple(
    {"day": day, "opens": "07:00", "closes": "17:00"} for day in ("mon", "tue", "wed", "thu", "fri")
)
SHEET = {
    "kind": "water_borne", "volume_solids_pct": 33, "reference_wet_film_um": 100,
    "touch_dry_h": 0.5, "tack_free_h": 1, "recoat_h": 3, "stack_h": 12, "wrap_h": 24,
    "cure_h": 168, "scuff_grit": 320,
}  # fmt: skip
STEPS = (
    {"act": "sand", "minutes": 20}, {"act": "coat", "product": "clear-w"}, {"act": "scuff"},
    {"act": "coat", "product": "clear-w"}, {"act": "scuff"},
    {"act": "coat", "product": "clear-w"}, {"act": "inspect"}, {"act": "pack"},
)  # fmt: skip


def open_shop(served: Served, **described: Any) -> Served:
    """Describe the shop and what it sells; fields of its description may differ."""
    served.record("shop_described", **{"zone": "UTC", "hours": HOURS, **described})
    served.record("room_described", room="spray", air_min_c=18, air_max_c=26)
    served.record("gun_described", gun="g1", method="hvlp")
    served.record("product_described", product="clear-w", **SHEET)
    served.record("climate_read", room="spray", readings=[{"air_c": 21, "rh_pct": 50}])
    served.record("schedule_described", schedule="three", steps=STEPS)
    served.record(
        "offering_described", offering="shelf", skus=["sh-90", "sh-60"], schedule="three",
        species="ash", coat_area_m2=0.6, options={"sheen": ["matte", "satin"]},
    )  # fmt: skip
    served.record("offering_described", offering="box", skus=["bx"], schedule="three", paused=True)
    return served


def send(served: Served, path: str, body: Any, method: str = "POST", **given: Any) -> Response:
    """Send a body as a shop's server does."""
    headers = {"Content-Type": "application/json"}
    content = msgspec.json.encode(body)
    return served.ask(method, path, content=content, headers=headers, **given)


def quoted(served: Served, quantity: int = 2, **asked: Any) -> dict[str, Any]:
    """Quote shelves, which must succeed."""
    body = {"lines": [{"sku": "sh-90", "quantity": quantity}], "ways": False, **asked}
    answer = send(served, "/v1/promises/quote", {"replications": 200, **body})
    assert answer.status_code == 200, answer.text
    told: dict[str, Any] = answer.json()
    return told


def held(served: Served, hold: str, quantity: int = 2, **asked: Any) -> Response:
    """Hold shelves."""
    body = {"hold": hold, "lines": [{"sku": "sh-90", "quantity": quantity}], **asked}
    return send(served, "/v1/holds", body)


def promised(served: Served, order: str, **asked: Any) -> Response:
    """Promise an order."""
    return send(served, "/v1/promises", {"order": order, **asked})
