"""The numbers of quality and flow over HTTP: the same in every form, drawn, described, kept apart
from the network."""

import csv
import io
import re
from datetime import datetime
from html import unescape
from typing import Any

import msgspec
import pyarrow
import pytest
from coatledger_api.forms import FORMATS
from pyarrow import ipc, parquet
from served import Served

PATHS = (
    "/v1/quality/rework", "/v1/quality/rework?by=lot", "/v1/quality/why", "/v1/quality/trend",
    "/v1/flow", "/v1/flow?show=cumulative", "/v1/rework", "/v1/throughput", "/v1/stock",
)  # fmt: skip


def with_form(path: str, **given: Any) -> str:
    return path + ("&" if "?" in path else "?") + "&".join(f"{k}={v}" for k, v in given.items())


def filled(served: Served) -> Served:
    """Three pieces of one can; one has a nib and is reworked."""
    served.record("lot_received", lot="L1", product="clear-w", amount_l=4.0)
    served.pieces("T-1", "T-2", "T-3")
    served.later(hours=1)
    served.record(
        "coat_applied", pieces=["T-1", "T-2", "T-3"], lot="L1", gun="g1", actor="p-1",
        hands_on_min=12,
    )  # fmt: skip
    served.later(hours=4)
    served.record("defect_found", pieces=["T-2"], kind="nib")
    served.record("rework_started", pieces=["T-2"], remedy="spot_sand", because="nib")
    served.later(hours=1)
    served.record("rework_finished", pieces=["T-2"], done="spot_sand", hands_on_min=10)
    served.record("inspected", pieces=["T-1", "T-2", "T-3"], point="final", passed=True)
    served.later(hours=20)
    served.record("shipped", pieces=["T-1", "T-3"])
    return served


def test_the_same_numbers_stand_in_every_form(served_on_each: Served) -> None:
    served = filled(served_on_each)
    told = served.get("/v1/quality/rework?by=lot").json()
    (row,) = told["rows"]
    share = row["rework_ratio"]
    assert (row["value"], row["produced"], share["count"], share["few"]) == ("L1", 3, 1, True)
    assert share["exact_low"] < share["low"] < share["value"] < share["high"] < share["exact_high"]
    lines = list(csv.DictReader(io.StringIO(served.get(
        "/v1/quality/rework?by=lot", headers={"Accept": "text/csv"}).text)))  # fmt: skip
    assert [float(line["rework_ratio"]) for line in lines] == [share["value"]]
    assert [float(line["rework_ratio_exact_high"]) for line in lines] == [share["exact_high"]]
    spec = served.get("/v1/quality/rework?by=lot&format=vega").json()
    assert spec["$schema"].endswith("/v5.json")
    (drawn,) = spec["data"]["values"]
    assert (drawn["rework_ratio"], drawn["produced"]) == (share["value"], 3)
    page = unescape(served.get("/v1/quality/rework?by=lot&format=html").text)
    assert '<th scope="row">L1</th>' in page
    assert f"{100 * share['value']:.1f} %" in page


@pytest.mark.parametrize("path", PATHS)
def test_each_address_has_each_form_with_nothing_and_with_something(
    path: str, served: Served
) -> None:
    for has_pieces in (False, True):
        if has_pieces:
            filled(served)
        for form in ("json", "csv", "html", "vega"):
            answer = served.get(with_form(path, format=form))
            assert answer.status_code == 200, answer.text
            assert answer.headers["content-type"].startswith(FORMATS[form])
            assert answer.headers["etag"]


def test_pictures_are_drawn_in_each_look_with_a_name_and_a_description(served: Served) -> None:
    filled(served)
    seen = set()
    for look in ("light", "dark", "contrast", "print"):
        answer = served.get(with_form("/v1/quality/rework?by=lot", format="svg", look=look))
        assert answer.status_code == 200, answer.text
        svg = answer.text
        assert re.match(r'<svg [^>]*role="img"><title>Reworked, by lot</title><desc>', svg)
        assert "1 of 3 pieces reworked" in svg
        assert "<script" not in svg
        assert "default-src 'none'" in answer.headers["content-security-policy"]
        seen.add(svg)
    assert len(seen) == 4
    png = served.get("/v1/flow?show=waiting&width=360", headers={"Accept": "image/png"})
    assert png.content[:8] == b"\x89PNG\r\n\x1a\n"
    first = served.get("/v1/flow?format=svg")
    assert first.status_code == 200
    known = served.get("/v1/flow?format=svg", headers={"If-None-Match": first.headers["etag"]})
    assert known.status_code == 304


def test_days_and_months_are_those_of_the_zone_asked_for(served: Served) -> None:
    """The last Sunday of March 2026, when clocks in Europe go on: 23:30 UTC is half past midnight
    of the next day there, and the month's last evening in New York."""
    for word, at in (("T-1", "2026-03-28T23:30Z"), ("T-2", "2026-03-29T22:30Z"),
                     ("T-3", "2026-03-29T23:30Z"), ("T-4", "2026-03-31T23:30Z")):  # fmt: skip
        served.clock = datetime.fromisoformat(at)
        served.pieces(word)
        served.later(minutes=1)
        served.record("inspected", pieces=[word], point="final", passed=True)
    served.clock = datetime.fromisoformat("2026-04-02T12:00Z")

    def counted(**given: str) -> dict[str, int]:
        answer = served.get(with_form("/v1/quality/rework", **given)).json()
        return {row["value"]: row["produced"] for row in answer["rows"]}

    assert counted(by="day") == {"2026-03-28": 1, "2026-03-29": 2, "2026-03-31": 1}
    there = counted(by="day", zone="Europe/Lisbon")
    assert there == {"2026-03-28": 1, "2026-03-29": 1, "2026-03-30": 1, "2026-04-01": 1}
    assert counted(by="month", zone="Europe/Lisbon") == {"2026-03": 3, "2026-04": 1}
    assert counted(by="month", zone="America/New_York") == {"2026-03": 4}
    assert counted(by="week", zone="Europe/Lisbon") == {"2026-W13": 2, "2026-W14": 2}
    for wrong, status in (("Europe", 404), ("Nowhere/Land", 404), ("../etc", 422), ("", 422)):
        answer = served.get(f"/v1/quality/rework?zone={wrong}")
        assert answer.status_code == status, wrong
    drawn = served.get("/v1/quality/rework?by=day&format=vega").text
    assert '"title":"day"' in drawn


def test_a_picture_of_nothing_says_so(served: Served) -> None:
    svg = served.get("/v1/quality/trend?format=svg").text
    assert "Fewer than six weeks" in svg


def test_what_goes_with_a_defect_and_how_work_flows_are_told(served: Served) -> None:
    filled(served)
    why = served.get("/v1/quality/why").json()
    assert (why["coats"], why["acts"], why["too_few"]) == (3, 1, ["nib"])
    flow = served.get("/v1/flow").json()
    assert flow["left"] == 2
    assert flow["residual_share"] < 0.02
    cost = served.get("/v1/quality/rework").json()["cost"]
    assert [(one["because"], one["hands_on_h"]) for one in cost] == [("nib", round(10 / 60, 3))]


def test_times_are_in_the_shops_zone_and_weeks_are_checked(served: Served) -> None:
    served.record("shop_described", zone="Europe/Lisbon", hours=[])
    filled(served)
    assert served.get("/v1/quality/trend").json()["zone"] == "Europe/Lisbon"
    assert served.get("/v1/quality/rework?first_week=2026-W10&last_week=2026-W10").json()["rows"]
    for wrong in ("first_week=2026-W54", "by=weather", "look=dim", "width=10", "format=xls"):
        assert served.get(f"/v1/quality/rework?{wrong}").status_code == 422
    answer = served.get("/v1/flow", headers={"Accept": "application/pdf"})
    assert answer.status_code == 406


def test_a_word_that_could_break_out_of_a_table_does_not(served: Served) -> None:
    """Words have no such letters, so a label stands for what a careless change could let in."""
    from coatledger_api.charts.frame import Column, Frame, csv_of, html_of

    frame = Frame(
        title="<b>", says="&", columns=(Column("a", "<i>"), Column("b", "b", "share")),
        rows=(('"<script>', 0.5), (None, None)),
    )  # fmt: skip
    page = html_of(frame).decode()
    assert "<script>" not in page
    assert "&lt;i&gt;" in page
    assert csv_of(frame).decode().splitlines() == ["a,b", '"""<script>",0.5', ","]
    assert msgspec.json.encode(frame.records())


@pytest.mark.parametrize("path", PATHS)
def test_columns_hold_the_same_numbers_as_the_table(path: str, served: Served) -> None:
    for has_pieces in (False, True):
        if has_pieces:
            filled(served)
        text = served.get(with_form(path, format="csv")).text
        rows = list(csv.DictReader(io.StringIO(text)))
        stream = served.get(with_form(path, format="arrow"))
        file = served.get(path, headers={"Accept": "application/vnd.apache.parquet"})
        assert stream.headers["content-type"] == "application/vnd.apache.arrow.stream"
        for table in (
            ipc.open_stream(stream.content).read_all(),
            parquet.read_table(pyarrow.BufferReader(file.content)),
        ):
            assert [as_csv(row) for row in table.to_pylist()] == rows
            assert table.schema.metadata[b"title"]
            assert all(field.metadata[b"label"] for field in table.schema)
        again = served.get(path, headers={"Accept": "application/vnd.apache.parquet"})
        assert again.headers["etag"] == file.headers["etag"]


def as_csv(row: dict[str, Any]) -> dict[str, str]:
    return {name: written(value) for name, value in row.items()}


def written(value: object) -> str:
    if value is None:
        return ""
    return str(value).lower() if isinstance(value, bool) else str(value)


def test_an_axis_of_few_pieces_counts_them_one_by_one(served: Served) -> None:
    spec = filled(served).get("/v1/throughput?format=vega").json()
    assert spec["layer"][-1]["encoding"]["y"]["axis"]["values"] == [0, 1, 2]


def test_where_nothing_is_to_be_drawn_words_say_so_and_never_a_legend(served: Served) -> None:
    said = {
        path: served.get(with_form(path, format="vega")).json()["title"]["subtitle"]
        for path in ("/v1/flow", "/v1/flow?show=cumulative", "/v1/rework")
    }
    assert said["/v1/flow"] == ["No piece left in these days."]
    assert said["/v1/flow?show=cumulative"] == ["No piece was started in these days."]
    assert said["/v1/rework"] == ["No piece had its final inspection."]
