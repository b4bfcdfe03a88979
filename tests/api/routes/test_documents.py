"""The contract, its page, the problems' pages, health: open to all and always of one form."""

import re

import pytest
from coatledger_api.problems import KINDS
from served import Served, refusal


def test_every_kind_of_problem_is_explained_where_its_type_points(served: Served) -> None:
    for kind, rule in KINDS.items():
        page = served.get(f"/problems/{kind}", token=None)
        assert page.status_code == 200
        assert page.headers["content-type"] == "text/html; charset=utf-8"
        assert rule.title in page.text
        told = served.get(f"/problems/{kind}", headers={"Accept": "application/json"}).json()
        assert told["status"] == rule.status
        assert told["meaning"]
        assert told["remedy"]
        assert f"/problems/{kind}" in served.get("/problems", token=None).text
    refusal(served.get("/problems/no_such_kind", token=None), 404, "not_found")


def test_the_documentation_needs_nothing_from_elsewhere(served: Served) -> None:
    page = served.get("/docs", token=None)
    assert page.status_code == 200
    assert not re.findall(r"(?:src|href)=\"(?![/#])[^\"]*", page.text)
    assert "<script" not in page.text
    assert "default-src 'none'" in page.headers["content-security-policy"]
    contract = served.get("/openapi.json", token=None).json()
    for path, methods in contract["paths"].items():
        assert path in page.text
        for operation in methods.values():
            assert f'id="{operation["operationId"]}"' in page.text
    for link in re.findall(r'href="#([^"]+)"', page.text):
        assert f'id="{link}"' in page.text


def test_the_service_tells_how_it_is(served: Served) -> None:
    live = served.get("/health/live", token=None)
    assert live.json() == {"status": "pass"}
    ready = served.get("/health/ready", token=None)
    assert ready.headers["content-type"] == "application/health+json"
    assert ready.json()["checks"] == {
        "ledger_reads": True, "ledger_writes": True, "writer_runs": True, "waiting": 0,
        "streams": 0,
    }  # fmt: skip


def test_a_service_whose_ledger_cannot_be_read_says_so(
    served: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken() -> object:
        raise OSError("the disk is gone")

    monkeypatch.setattr(served.store, "reading", broken)
    answer = served.get("/health/ready", token=None)
    assert answer.status_code == 503
    assert answer.json()["status"] == "fail"
    refusal(served.get("/v1/events"), 500, "internal")
    assert "disk" not in served.get("/v1/events").text


@pytest.mark.parametrize("path", ["/", "/v2/events", "/v1/event", "/v1/events/a/b", "/docs/x"])
def test_an_address_that_does_not_exist_is_not_found(served: Served, path: str) -> None:
    refusal(served.get(path), 404, "not_found")


@pytest.mark.parametrize(
    ("method", "path", "allowed"),
    [
        ("PUT", "/v1/events", "GET, HEAD, OPTIONS, POST"),
        ("DELETE", "/v1/events/019cad58-bd80-7000-8000-000000000001", "GET, HEAD, OPTIONS"),
        ("POST", "/docs", "GET, HEAD, OPTIONS"),
    ],
)
def test_another_method_is_refused_with_those_allowed(
    served: Served, method: str, path: str, allowed: str
) -> None:
    answer = served.ask(method, path)
    refusal(answer, 405, "method_not_allowed")
    assert sorted(answer.headers["allow"].split(", ")) == allowed.split(", ")
    asked = served.ask("OPTIONS", path, token=None)
    assert asked.status_code == 204
    assert sorted(asked.headers["allow"].split(", ")) == allowed.split(", ")
