"""How promises came out, over HTTP in every form."""

from __future__ import annotations

import csv
import io

import pytest
from selling_shop import open_shop
from served import Served, refusal

FORMS = ("json", "csv", "html", "svg", "png", "vega", "arrow", "parquet")


@pytest.fixture
def sold(served: Served) -> Served:
    """A shop that promised four shelves for Wednesday week: two left in time, one late, one is
    still here."""
    open_shop(served)
    for n in range(4):
        order, piece = f"o-{n}", f"p-{n}"
        served.at("1 08:00").record(
            "order_taken", order=order, lines=[{"line": "1", "sku": "sh-90"}]
        )
        served.pieces(piece)
        served.record("piece_allotted", pieces=[piece], order=order, line="1")
        served.record(
            "promise_made", order=order, ships_by="2026-03-11", level_pct=80, chance_pct=84,
            p50="2026-03-09", p80="2026-03-11", p90="2026-03-12", p95="2026-03-13",
        )  # fmt: skip
    for n, day in enumerate((8, 10, 12)):
        served.at(f"{day} 12:00").record("shipped", pieces=[f"p-{n}"], order=f"o-{n}")
    return served.at("20 12:00")


def test_it_is_told_with_its_levels_groups_and_the_correction(sold: Served) -> None:
    told = sold.get("/v1/promises/score").json()
    assert (told["kept"]["count"], told["kept"]["of"], told["overdue"]) == (2, 4, 1)
    assert [one["covered"]["count"] for one in told["levels"]] == [1, 2, 2, 3]
    assert [one["name"] for one in told["offerings"]] == ["shelf"]
    assert [one["name"] for one in told["months"]] == ["2026-03"]
    assert told["correction"]["simulated_pct"] > 80
    assert "pinball_days" in told["definitions"]


@pytest.mark.parametrize("form", FORMS)
def test_every_form_is_given(sold: Served, form: str) -> None:
    answer = sold.get(f"/v1/promises/score?format={form}")
    assert answer.status_code == 200, answer.text
    assert answer.content
    assert int(answer.headers["coatledger-position"]) == sold.size


def test_the_table_holds_what_the_picture_draws(sold: Served) -> None:
    rows = list(csv.DictReader(io.StringIO(sold.get("/v1/promises/score?format=csv").text)))
    by_name = {row["name"]: row for row in rows}
    assert (by_name["80 % day"]["stated"], by_name["80 % day"]["kept"]) == ("0.8", "0.5")
    assert by_name["said 80 to 90 %"]["promises"] == "4"
    drawn = sold.get("/v1/promises/score?format=vega").json()["data"]["values"]
    assert {row["name"] for row in drawn} == {
        "50 % day", "80 % day", "90 % day", "95 % day", "said 80 to 90 %",
    }  # fmt: skip


def test_a_past_place_is_judged_and_nothing_is_drawn_of_nothing(sold: Served) -> None:
    then = "2026-03-12T06:00:00Z"
    assert sold.get(f"/v1/promises/score?as_of={then}").json()["overdue"] == 2
    early = sold.get("/v1/promises/score?as_of=2026-03-03T06:00:00Z&format=svg")
    assert "nothing to judge" in early.text
    assert refusal(sold.get("/v1/promises/score?width=1"), 422, "invalid")
