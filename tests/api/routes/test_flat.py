"""The flat tables over HTTP: the same rows in each form, of one place, joined, resumed."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import duckdb
import pyarrow
import pytest
from pyarrow import ipc, parquet
from served import Served

README = Path(__file__).resolve().parents[3] / "README.md"
TABLES = ("coats", "pieces", "defects", "readings")


def filled(served: Served) -> Served:
    """Three pieces, two coats each; one has a nib after its first and is reworked."""
    served.record("climate_read", room="spray", readings=[{"air_c": 21, "rh_pct": 50}])
    served.record("lot_received", lot="L1", product="clear-w", amount_l=4.0)
    served.pieces("T-1", "T-2", "T-3")
    words = ["T-1", "T-2", "T-3"]
    for number in range(2):
        served.later(hours=1)
        served.record(
            "coat_applied", pieces=words, lot="L1", gun="g1", room="spray", actor="p-1",
            amount_l=0.3,
        )  # fmt: skip
        served.later(hours=3)
        if number == 0:
            served.record("defect_found", pieces=["T-2"], kind="nib")
            served.record("rework_started", pieces=["T-2"], remedy="spot_sand", because="nib")
            served.record("rework_finished", pieces=["T-2"], done="spot_sand")
    served.later(hours=5)
    served.record("inspected", pieces=words, point="final", passed=True)
    served.later(hours=20)
    served.record("shipped", pieces=["T-1"])
    return served


def rows(served: Served, table: str, **given: Any) -> list[dict[str, Any]]:
    query = "&".join(f"{name}={value}" for name, value in given.items())
    answer = served.get(f"/v1/tables/{table}?{query}")
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "application/x-ndjson"
    return [json.loads(line) for line in answer.text.splitlines()]


def test_a_coat_comes_with_what_was_so_and_what_came_of_it(served_on_each: Served) -> None:
    told = rows(filled(served_on_each), "coats")
    assert [(row["piece"], row["coat_number"]) for row in told] == [
        (piece, number) for piece in ("T-1", "T-2", "T-3") for number in (1, 2)
    ]
    first, second = (row for row in told if row["piece"] == "T-2")
    assert (first["defects"], first["reworked"]) == ("nib", True)
    assert (second["defects"], second["reworked"], second["waited_h"]) == ("", False, 4.0)
    assert (first["lot"], first["gun"], first["person"]) == ("L1", "g1", "p-1")
    assert (first["product"], first["wood"], first["air_c"]) == ("clear-w", "ash", 21.0)
    assert first["share_l"] == pytest.approx(0.1)
    assert second["waited_h"] is not None
    assert first["waited_h"] is None


def test_pieces_defects_and_readings_are_told(served: Served) -> None:
    filled(served)
    pieces = {row["piece"]: row for row in rows(served, "pieces")}
    assert [pieces[word]["passed_first"] for word in ("T-1", "T-2")] == [True, False]
    assert (pieces["T-1"]["stage"], pieces["T-1"]["coats"]) == ("shipped", 2)
    assert pieces["T-1"]["lead_days"] == pytest.approx(33 / 24)
    assert (pieces["T-2"]["reworks"], pieces["T-2"]["lead_days"]) == (1, None)
    (defect,) = rows(served, "defects")
    assert (defect["defect"], defect["coat_number"], defect["lot"]) == ("nib", 1, "L1")
    (reading,) = rows(served, "readings")
    assert (reading["room"], reading["air_c"], reading["position"]) == ("spray", 21.0, 1)


@pytest.mark.parametrize("table", TABLES)
@pytest.mark.parametrize("full", [False, True])
def test_every_form_holds_the_same_rows(served: Served, table: str, full: bool) -> None:
    if full:
        filled(served)
    told = rows(served, table)
    assert bool(told) == full
    asked = f"/v1/tables/{table}"
    comma = served.get(asked, headers={"Accept": "text/csv"})
    assert comma.headers["content-type"] == "text/csv; charset=utf-8; header=present"
    lines = list(csv.DictReader(io.StringIO(comma.text)))
    arrow = ipc.open_stream(served.get(f"{asked}?format=arrow").content).read_all()
    packed = parquet.read_table(io.BytesIO(served.get(f"{asked}?format=parquet").content))
    assert packed.equals(arrow)
    assert len(lines) == arrow.num_rows == len(told)
    assert arrow.schema.field("at" if table != "pieces" else "started_at").type == (
        pyarrow.timestamp("us", tz="UTC")
    )
    for row, line, columns in zip(told, lines, arrow.to_pylist(), strict=True):
        assert list(row) == list(line) == list(columns)
        for name, value in row.items():
            assert line[name] in (_as_csv(value), str(value).replace("Z", "+00:00"))
            if not name.endswith("at"):
                assert columns[name] == value


def _as_csv(value: Any) -> str:
    return {None: "", True: "true", False: "false"}.get(value, str(value))


@pytest.mark.parametrize("form", ["ndjson", "csv", "arrow", "parquet"])
def test_a_table_is_of_one_place_however_much_is_recorded_meanwhile(
    served_on_each: Served, form: str
) -> None:
    served = filled(served_on_each)
    before = {t: served.get(f"/v1/tables/{t}?format={form}") for t in TABLES}
    cursor = before["coats"].headers["coatledger-cursor"]
    assert before["coats"].headers["coatledger-position"] == str(served.size)
    served.record("climate_read", room="spray", readings=[{"air_c": 25, "rh_pct": 50}])
    served.record("defect_found", pieces=["T-3"], kind="fish_eye")
    served.pieces("A-1")
    (found,) = [r["event"] for r in rows(served, "defects") if r["defect"] == "nib"]
    served.record("event_voided", original=found)
    for table in TABLES:
        again = served.get(f"/v1/tables/{table}?format={form}&cursor={cursor}")
        assert again.content == before[table].content
        assert served.get(f"/v1/tables/{table}?format={form}").content != again.content


def test_what_broke_off_goes_on_and_what_is_wrong_is_refused(
    served: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    filled(served)
    monkeypatch.setattr("coatledger.answers.flat.paged.PIECES_A_PAGE", 2)
    monkeypatch.setattr("coatledger.answers.flat.paged.EVENTS_A_PAGE", 2)
    whole = rows(served, "coats")
    assert len(whole) == 6
    assert rows(served, "coats", after="T-1") == whole[2:]
    assert len(rows(served, "readings")) == 1
    assert rows(served, "readings", after=1) == []
    epoch = served.get("/v1/tables/coats").headers["coatledger-cursor"].partition(".")[0]
    for wrong, status in (
        ("cursor=other.1", 409), (f"cursor={epoch}.999", 409), ("format=svg", 422),
        ("first=1", 422), ("after=", 422),
    ):  # fmt: skip
        assert served.get(f"/v1/tables/coats?{wrong}").status_code == status, wrong
    assert served.get("/v1/tables/coats", headers={"Accept": "image/png"}).status_code == 406
    assert served.get("/v1/tables/coats", token=None).status_code == 401


def test_the_recipe_of_the_readme_runs_as_it_stands(
    served: Served, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    filled(served)
    monkeypatch.chdir(tmp_path)
    for table in ("coats", "pieces"):
        body = served.get(f"/v1/tables/{table}?format=parquet").content
        (tmp_path / f"{table}.parquet").write_bytes(body)
    recipe = README.read_text("utf-8").partition("```sql\nSELECT lot")[2].partition("```")[0]
    with duckdb.connect() as beside:
        (row,) = beside.execute(f"SELECT lot{recipe}").fetchall()
    assert row == ("L1", 6, pytest.approx(1 / 6), 50.0, pytest.approx(2 / 3))
