"""Ranges of days, what they are gathered by, and zones, over HTTP: the same in every form; and the
picture of it for Vega-Lite 5 and 6."""

import csv
import io
import re
from datetime import datetime
from typing import Any

import pyarrow
import pytest
import vl_convert
from night_shop import COUNTED, LEFT, LISBON, NEW_YORK
from pyarrow import ipc, parquet
from served import Served

ADDRESSES = {
    "/v1/rework": "produced", "/v1/throughput": "shipped", "/v1/quality/rework": "produced",
    "/v1/flow": "left",
}  # fmt: skip
EACH = (*ADDRESSES, "/v1/quality/why", "/v1/quality/trend")
PICTURES = (
    "/v1/rework", "/v1/rework?bucket=day", "/v1/throughput?bucket=month", "/v1/flow",
    "/v1/throughput?bucket=day", "/v1/flow?show=cumulative&bucket=day", "/v1/flow?show=busy",
    "/v1/quality/rework?by=wood", "/v1/quality/why", "/v1/quality/trend", "/v1/stock",
    "/v1/promises/score",
)  # fmt: skip


def at_night(served: Served) -> Served:
    """The five pieces of `night_shop`, told over HTTP."""
    served.record("shop_described", zone=LISBON, hours=[])
    served.at("19 09:00").pieces(*LEFT)
    for word, at in LEFT.items():
        served.at(at)
        served.record("inspected", pieces=[word], point="final", passed=True)
        served.record("shipped", pieces=[word])
    served.clock = datetime.fromisoformat("2026-04-03T12:00Z")
    return served


def asked(served: Served, path: str, **given: str) -> Any:
    """Ask in any form, in the words that an address has for it."""
    query = {"first_day": "2026-03-28", "last_day": "2026-04-02", **given}
    if path == "/v1/quality/rework":
        query["by"] = query.pop("bucket")
    if path == "/v1/flow":
        query["show"] = "cumulative"
    answer = served.client.get(
        path, params=query, headers={"Authorization": f"Bearer {served.token}"}
    )
    assert answer.status_code == 200, answer.text
    return answer


def counted(path: str, rows: Any, bucket: str) -> dict[str, int]:
    """Return what each bucket counts where it counts something; flow adds up, so its steps."""
    found: dict[str, int] = {}
    before = 0
    for row in rows:
        many = int(row[ADDRESSES[path]])
        found[row.get(bucket) or row["value"]] = many - before
        before = many if path == "/v1/flow" else 0
    return {name: many for name, many in found.items() if many}


@pytest.mark.parametrize("path", ADDRESSES)
@pytest.mark.parametrize("bucket", ["day", "week", "month"])
def test_local_days_weeks_and_months_are_the_same_in_every_form(
    path: str, bucket: str, served: Served
) -> None:
    at_night(served)
    for zone in (LISBON, NEW_YORK):
        given = {"bucket": bucket, "zone": zone}
        expected = COUNTED[bucket][zone]
        told = asked(served, path, **given).json()
        assert (told["zone"], told["first_day"], told["last_day"]) == (
            zone, "2026-03-28", "2026-04-02",
        )  # fmt: skip
        rows = told["cumulative"] if path == "/v1/flow" else told["rows"]
        assert counted(path, rows, bucket) == expected
        lines = csv.DictReader(io.StringIO(asked(served, path, format="csv", **given).text))
        assert counted(path, lines, bucket) == expected
        stream = ipc.open_stream(asked(served, path, format="arrow", **given).content).read_all()
        assert counted(path, stream.to_pylist(), bucket) == expected
        file = asked(served, path, format="parquet", **given).content
        table = parquet.read_table(pyarrow.BufferReader(file))
        assert counted(path, table.to_pylist(), bucket) == expected
        page = asked(served, path, format="html", **given).text
        assert all(f'<th scope="row">{name}</th>' in page for name in expected)
        for form in ("vega", "vega6"):
            values = asked(served, path, format=form, **given).json()["data"]["values"]
            if path == "/v1/flow":
                values = [{bucket: v[bucket], "left": v["pieces"]} for v in values
                          if v["stage"] == "left"]  # fmt: skip
            assert counted(path, values, bucket) == expected


def test_the_range_without_a_zone_is_of_the_shops_own_days(served: Served) -> None:
    told = asked(at_night(served), "/v1/throughput", bucket="day").json()
    assert counted("/v1/throughput", told["rows"], "day") == COUNTED["day"][LISBON]
    svg = served.get("/v1/throughput?bucket=day&format=svg").text
    assert "Shipped each day" in svg
    days = "first_day=2026-03-30&last_day=2026-03-31"
    assert "2026-03-30 to 2026-03-31" in served.get(f"/v1/quality/rework?{days}&format=svg").text
    assert "2026-W13 to 2026-W14" in served.get(
        "/v1/quality/rework?first_week=2026-W13&last_week=2026-W14&format=svg").text  # fmt: skip


@pytest.mark.parametrize("path", EACH)
@pytest.mark.parametrize(
    ("query", "status", "named"),
    [
        ("first_day=2026-03-30&last_day=2026-03-29", 409, "last_day"),
        ("first_week=2026-W12&last_week=2026-W11", 409, "last_week"),
        ("first_week=2026-W12&last_day=2026-03-15", 409, "last_day"),
        ("first_day=2026-03-30&first_week=2026-W12", 409, "first_day"),
        ("last_day=2026-03-30&last_week=2026-W12", 409, "last_day"),
        ("first_day=2026-02-29", 422, "first_day"),
        ("first_day=2026-3-1", 422, "first_day"),
        ("first_day=20260301", 422, "first_day"),
        ("last_day=2026-W12", 422, "last_day"),
        ("last_day=1899-12-31", 422, "last_day"),
        ("first_day=0001-01-01", 422, "first_day"),
        ("last_day=9999-12-31", 422, "last_day"),
        ("as_of=0001-01-01T00:00:00%2B14:00", 422, "as_of"),
        ("known_at=9999-12-31T23:59:59-10:00", 422, "known_at"),
        ("first_day=", 422, "first_day"),
        ("first_day=2026-03-01&first_day=2026-03-02", 422, "first_day"),
        ("day=2026-03-01", 422, "day"),
        ("bucket=year", 422, "bucket"),
        ("zone=..%2Fetc", 422, "zone"),
    ],
)
def test_what_is_no_range_is_refused_by_name(
    path: str, query: str, status: int, named: str, served: Served
) -> None:
    answer = served.get(f"{path}?{query}")
    assert answer.status_code == status, answer.text
    assert [fault["parameter"] for fault in answer.json()["faults"]] == [named]


@pytest.mark.parametrize("path", EACH)
def test_a_zone_nobody_knows_is_not_found(path: str, served: Served) -> None:
    assert served.get(f"{path}?zone=Nowhere/Land").status_code == 404


def test_no_more_buckets_are_told_than_a_picture_can_show(served: Served) -> None:
    years = "first_day=2023-01-01&last_day=2026-03-01"
    for path, by in (("/v1/rework", "bucket"), ("/v1/throughput", "bucket"), ("/v1/flow", "bucket"),
                     ("/v1/quality/rework", "by")):  # fmt: skip
        refused = served.get(f"{path}?{years}&{by}=day")
        assert refused.status_code == 409
        assert "1,156 days" in refused.json()["faults"][0]["detail"]
        assert served.get(f"{path}?{years}&{by}=week").status_code == 200
    assert served.get(f"/v1/quality/rework?{years}&by=wood").status_code == 200
    assert served.get("/v1/flow?first_day=1950-01-01&bucket=day").status_code == 409
    assert served.get("/v1/quality/trend?first_week=1950-W01").status_code == 409
    assert served.get("/v1/throughput?last_day=1900-01-01&bucket=month").status_code == 200
    assert served.get("/v1/throughput?first_day=2199-12-31&bucket=day").json()["rows"] == []


@pytest.mark.parametrize("path", PICTURES)
def test_the_picture_is_of_both_grammars_and_both_draw_the_same(path: str, served: Served) -> None:
    at_night(served)
    with_form = path + ("&" if "?" in path else "?")
    five = served.get(f"{with_form}format=vega").json()
    sixth = served.get(path, headers={"Accept": "application/vnd.vegalite.v6+json"})
    assert sixth.headers["content-type"] == "application/vnd.vegalite.v6+json"
    six = sixth.json()
    assert served.get(f"{with_form}format=vega6").json() == six
    assert [spec.pop("$schema")[-8:] for spec in (five, six)] == ["/v5.json", "/v6.json"]
    assert five == six
    drawn = [
        vl_convert.vegalite_to_svg(six, vl_version=version, allowed_base_urls=[])
        for version in ("5.20", "6.4")
    ]
    first, second = (re.sub(r'id="[^"]*"|url\(#[^)]*\)', "", svg) for svg in drawn)
    assert first == second
