"""Calculations over HTTP: the example of each is answered, what is wrong is told by its place."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest
from coatledger.answers.calculations.calculation import Calculation
from coatledger.answers.calculations.table import CALCULATIONS
from httpx import Response
from served import Served, refusal


def calculate(served: Served, name: str, asked: Any, **given: Any) -> Response:
    body = asked if isinstance(asked, bytes) else msgspec.json.encode(asked)
    headers = {"Content-Type": "application/json"}
    path = f"/v1/calculations/{name}"
    return served.ask("POST", path, content=body, headers=headers, **given)


@pytest.mark.parametrize("calculation", CALCULATIONS.values(), ids=tuple(CALCULATIONS))
def test_the_documented_example_is_answered(served: Served, calculation: Calculation) -> None:
    answer = calculate(served, calculation.name, calculation.example)
    assert answer.status_code == 200
    msgspec.json.decode(answer.content, type=calculation.answers)
    contract = served.get("/openapi.json", token=None).json()
    posted = contract["paths"][f"/v1/calculations/{calculation.name}"]["post"]
    assert calculation.source in posted["description"]
    examples = posted["requestBody"]["content"]["application/json"]["examples"]
    assert examples["asked"]["value"] == dict(calculation.example)


def test_the_ledger_is_not_needed_and_not_touched(served: Served) -> None:
    calculate(served, "air", {"air_c": 21, "rh_pct": 50})
    with served.store.reading() as reader:
        assert reader.head().size == 0


def test_every_fault_of_the_form_is_told_with_its_place(served: Served) -> None:
    answer = calculate(served, "air", {"air_c": "warm", "wind": 3})
    places = {place for _, place in refusal(answer, 422, "invalid")}
    assert places == {"/air_c", "/rh_pct", "/wind"}
    refusal(calculate(served, "air", b"{"), 400, "malformed")
    refusal(calculate(served, "air", [21, 50]), 422, "invalid")


def test_numbers_no_source_holds_for_are_told_from_a_wrong_form(served: Served) -> None:
    answer = calculate(served, "air", {"air_c": 21, "rh_pct": 120})
    refusal(answer, 409, "beyond_source")
    assert "relative humidity" in answer.json()["detail"]
    huge = b'{"first": {"species": "ash", "use": "box", "sheet": {"coats_min": 1' + b"0" * 400
    huge += b'}}, "second": {"species": "ash", "use": "box"}, "area_m2": 1}'
    assert calculate(served, "schedule-comparison", huge).status_code in (400, 409, 422)


def test_a_key_is_asked_for_and_an_unknown_calculation_is_not_there(served: Served) -> None:
    refusal(calculate(served, "air", {"air_c": 21, "rh_pct": 50}, token=None), 401, "unauthorized")
    refusal(calculate(served, "weather", {}), 404, "not_found")
