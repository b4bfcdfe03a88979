"""The day plan and the calendar over HTTP: forms, tags, what a stranger's program sends."""

import csv
import io
from base64 import b64encode
from typing import Any

import pytest
from icalendar import Calendar
from served import Served, refusal

HOURS = [{"day": day, "opens": "07:00", "closes": "17:00"} for day in ("mon", "tue", "wed")]
SHEET = {"kind": "water_borne", "recoat_h": 3.0, "wrap_h": 24.0, "reference_wet_film_um": 100.0}
STEPS = [
    {"act": "sand"}, {"act": "coat", "product": "clear"}, {"act": "scuff"},
    {"act": "coat", "product": "clear"}, {"act": "pack"},
]  # fmt: skip


def worked(served: Served) -> Served:
    """A shop with two pieces, one coated an hour ago, on Monday 2 March 2026 in Lisbon."""
    top = {"kind": "top", "species": "ash", "coat_area_m2": 0.5, "use": "decor", "schedule": "two"}
    facts: list[dict[str, Any]] = [
        served.fact("shop_described", zone="Europe/Lisbon", hours=HOURS, pickup_days=["tue"]),
        served.fact("room_described", room="spray"),
        served.fact("gun_described", gun="g1"),
        served.fact("product_described", product="clear", **SHEET),
        served.fact("lot_received", lot="can-1", product="clear", amount_l=2.0),
        served.fact("schedule_described", schedule="two", steps=STEPS),
        served.fact("order_taken", order="o1", lines=[{"line": "1", "quantity": 2}]),
        served.fact("piece_started", pieces=["a", "b"], **top),
        served.fact("piece_allotted", pieces=["a", "b"], order="o1"),
        served.fact("promise_made", order="o1", ships_by="2026-03-10", level_pct=80.0),
    ]
    assert served.post(served.batch(*facts)).status_code == 201
    served.later(hours=1)
    coat = {"lot": "can-1", "gun": "g1", "room": "spray", "wet_film_um": 100.0}
    served.record("coat_applied", pieces=["a"], **coat)
    return served.later(hours=1)


def basic(token: str) -> dict[str, str]:
    return {"Authorization": f"Basic {b64encode(f'phone:{token}'.encode()).decode()}"}


def test_the_plan_is_told_with_times_in_the_shop_s_zone(served: Served) -> None:
    plan = worked(served).get("/v1/day-plan").json()
    assert plan["zone"] == "Europe/Lisbon"
    assert [day["day"] for day in plan["days"]] == ["2026-03-02", "2026-03-03"]
    first = plan["days"][0]["lines"][0]
    assert (first["act"], first["pieces"], first["begins"]) == (
        "sand", ["b"], "2026-03-02T09:00:00Z",
    )  # fmt: skip
    assert first["promise"] == {"ships_by": "2026-03-10", "level_pct": 80.0}
    (drying,) = plan["drying"]
    assert drying["pieces"] == ["a"]
    assert plan["rule"].startswith("The earlier due date")


def test_who_holds_the_plan_already_is_told_nothing_new(served: Served) -> None:
    worked(served)
    first = served.get("/v1/day-plan")
    tag = {"If-None-Match": first.headers["etag"]}
    served.later(minutes=-2)  # still the same five minutes
    assert served.get("/v1/day-plan", headers=tag).status_code == 304
    served.later(minutes=20)
    assert served.get("/v1/day-plan", headers=tag).status_code == 200


@pytest.mark.parametrize(
    "asked", [{"headers": {"Accept": "text/csv"}}, {"params": {"format": "csv"}}]
)
def test_as_a_table_there_is_a_row_a_line(served: Served, asked: dict[str, Any]) -> None:
    plan = worked(served).get("/v1/day-plan").json()
    answer = served.get("/v1/day-plan", **asked)
    assert answer.headers["content-type"].startswith("text/csv")
    rows = list(csv.DictReader(io.StringIO(answer.text)))
    assert len(rows) == sum(len(day["lines"]) for day in plan["days"])
    assert (rows[0]["begins"], rows[0]["act"], rows[0]["pieces"]) == ("09:00", "sand", "b")
    assert rows[0]["promised_by"] == "2026-03-10"


def test_as_a_page_it_can_be_read_and_printed(served: Served) -> None:
    page = worked(served).get("/v1/day-plan", headers={"Accept": "text/html"})
    assert page.headers["content-type"].startswith("text/html")
    assert "<h2>Monday 2026-03-02</h2>" in page.text
    assert "<h2>What waits</h2>" in page.text
    assert "<h2>What dries</h2>" in page.text
    assert '<span class="piece">b</span>' in page.text
    assert "The earlier due date first" in page.text
    early = {"as_of": "2025-01-01T00:00:00Z", "known_at": "2025-01-01T00:00:00Z"}
    empty = served.get("/v1/day-plan", params={**early, "format": "html"})
    assert "There is no plan without shop_described." in empty.text
    empty = served.get(
        "/v1/day-plan", headers={"Accept": "text/html"}, params={"as_of": "2025-01-01T00:00:00Z"}
    )
    assert empty.status_code == 200


def test_a_shop_that_said_nothing_is_told_what_is_missing(served: Served) -> None:
    assert served.get("/v1/day-plan").json()["missing"] == ["shop_described"]
    csv_of_nothing = served.get("/v1/day-plan", params={"format": "csv"})
    assert len(csv_of_nothing.text.strip().splitlines()) == 1


@pytest.mark.parametrize(
    "wrong", [{"days": "0"}, {"days": "8"}, {"days": "x"}, {"format": "svg"}, {"by": "1"}]
)
def test_wrong_parameters_are_named(served: Served, wrong: dict[str, str]) -> None:
    faults = refusal(served.get("/v1/day-plan", params=wrong), 422, "invalid")
    assert [place for _, place in faults] == list(wrong)


def test_a_calendar_program_reads_the_calendar(served: Served) -> None:
    worked(served)
    token = served.key("read")
    answer = served.get("/v1/calendar.ics", token=None, headers=basic(token))
    assert answer.headers["content-type"] == "text/calendar; charset=utf-8"
    found = Calendar.from_ical(answer.content)
    titles = [str(one["summary"]) for one in found.walk("VEVENT")]
    assert "Order o1 ships by today" in titles
    assert "a may be packed" in titles
    assert any(title.startswith("b: coat 1 of 2") for title in titles)
    assert titles.count("Pick-up") == 4
    assert found.walk("VTIMEZONE")
    kept = served.get("/v1/calendar.ics", headers={"If-None-Match": answer.headers["etag"]})
    assert kept.status_code == 304


def test_a_calendar_of_the_past_is_asked_as_everything_is(served: Served) -> None:
    worked(served)
    early = {"as_of": "2026-03-02T07:30:00Z", "known_at": "2026-03-02T07:30:00Z"}
    found = Calendar.from_ical(served.get("/v1/calendar.ics", params=early).content)
    assert not [e for e in found.walk("VEVENT") if str(e["summary"]).startswith("a may be")]
    refusal(served.get("/v1/calendar.ics", params={"key": "x"}), 422, "invalid")
