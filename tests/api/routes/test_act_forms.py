"""The forms of the pages are those of the events: nothing is missing and nothing else is asked."""

import json

import pytest
from coatledger.events.catalogue import CORRECTIONS, TAGS
from coatledger_api.shop_pages.act_forms import UNASKED, act_forms
from served import Served

FORMS = json.loads(act_forms())
PLAIN = {tag: kind for tag, kind in TAGS.items() if kind not in CORRECTIONS}
KINDS = {"choice", "number", "text", "flag", "day", "moment", "event", "pairs", "rows"}


def test_every_act_but_the_corrections_has_a_form() -> None:
    assert set(FORMS) == set(PLAIN)


@pytest.mark.parametrize("tag", sorted(PLAIN))
def test_a_form_asks_for_each_field_once(tag: str) -> None:
    asked = [field["name"] for field in FORMS[tag]["fields"]]
    assert set(asked) == set(PLAIN[tag].__struct_fields__) - UNASKED
    assert len(asked) == len(set(asked))
    assert {field["kind"] for field in FORMS[tag]["fields"]} <= KINDS


def test_choices_stand_as_the_trade_orders_them() -> None:
    faces = next(field for field in FORMS["coat_applied"]["fields"] if field["name"] == "faces")
    assert faces["choices"][:2] == ["show", "underside"]
    assert faces["many"]
    assert faces["default"] == ["all"]


def test_a_form_is_served_like_any_file_of_the_pages(served: Served) -> None:
    answer = served.get("/pages/act-forms.json", token=None)
    assert answer.status_code == 200
    assert answer.json() == FORMS
