"""What goes away says so in each of its answers and in the contract, and long enough before."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from coatledger.ledger.memory import MemoryStore
from coatledger_api import app
from coatledger_api.contract.deprecation import NOTICE, POLICY, Deprecation
from coatledger_api.contract.document import document
from served import Served, serving

GOES = Deprecation(
    since=datetime(2026, 11, 1, tzinfo=UTC),
    sunset=datetime(2027, 6, 1, tzinfo=UTC),
    instead="/v1/pieces",
)


def test_every_answer_tells_it_good_or_not(monkeypatch: pytest.MonkeyPatch) -> None:
    changed = tuple(
        replace(one, deprecated=GOES) if one.name == "read_shop" else one for one in app.OPERATIONS
    )
    monkeypatch.setattr(app, "OPERATIONS", changed)
    with serving(MemoryStore("trial")) as served:
        for answer in (served.get("/v1/shop"), served.get("/v1/shop", token=None)):
            assert answer.headers["deprecation"] == "@1793491200"
            assert answer.headers["sunset"] == "Tue, 01 Jun 2027 00:00:00 GMT"
            assert 'rel="deprecation"' in answer.headers["link"]
            assert '</v1/pieces>; rel="successor-version"' in answer.headers["link"]
        assert "deprecation" not in served.get("/v1/clocks").headers
    described = document(changed, "1")["paths"]["/v1/shop"]["get"]
    assert described["deprecated"] is True
    assert "gone after 2027-06-01; use `/v1/pieces` instead" in described["description"]


def test_what_is_not_deprecated_says_nothing(served: Served) -> None:
    assert not {"deprecation", "sunset"} & served.get("/v1/shop").headers.keys()


def test_the_policy_stands_where_the_link_leads(served: Served) -> None:
    page, _, place = POLICY.partition("#")
    assert f"id={place}" in served.get(page, token=None).text


def test_there_is_time_between_the_notice_and_the_end() -> None:
    with pytest.raises(ValueError, match="180 days"):
        Deprecation(since=GOES.since, sunset=GOES.since + NOTICE - timedelta(days=1))
    assert "Sunset" not in Deprecation(since=GOES.since).headers()
