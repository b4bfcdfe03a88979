"""Pairing a device over HTTP: who may make a code, what it is worth, and for how long."""

import msgspec
from coatledger.ledger.memory import MemoryStore
from coatledger_adapters.qr import svg
from coatledger_api.limits import UNKNOWN_COSTS
from coatledger_api.settings import Settings
from httpx import Response
from served import Served, refusal, serving

JSON = {"Content-Type": "application/json"}


def send(served: Served, path: str, body: object, **given: object) -> Response:
    return served.ask("POST", path, content=msgspec.json.encode(body), headers=JSON, **given)


def paired(served: Served, **fields: object) -> dict[str, str]:
    answer = send(served, "/v1/pairings", {"name": "phone", **fields})
    assert answer.status_code == 201, answer.text
    assert answer.headers["cache-control"] == "no-store"
    told: dict[str, str] = answer.json()
    return told


def claim(served: Served, code: str) -> Response:
    return send(served, "/v1/pairings/claim", {"code": code}, token=None)


def test_a_device_without_a_key_gets_one_for_its_code(served_on_each: Served) -> None:
    served = served_on_each
    made = paired(served)
    answer = claim(served, made["code"].lower())
    assert answer.status_code == 201, answer.text
    assert answer.headers["cache-control"] == "no-store"
    told = answer.json()
    assert (told["name"], told["scopes"]) == ("phone", ["read", "record"])
    assert told["expires_at"] is None
    fact = served.fact("lot_opened", lot="can-1")
    assert served.post(fact, token=told["token"]).status_code == 201
    assert served.get(f"/v1/events/{fact['id']}").json()["by"] == told["key"]
    refusal(served.get("/v1/keys", token=told["token"]), 403, "forbidden")


def test_the_code_stands_behind_a_hash_sign_in_a_link_and_its_picture(served: Served) -> None:
    made = paired(served, base="http://192.168.1.20:8700")
    assert made["link"] == f"http://192.168.1.20:8700/pair#{made['code']}"
    title = made["qr"].partition("<title>")[2].partition("</title>")[0]
    assert "phone" in title
    assert made["qr"] == svg(made["link"], title)
    assert paired(served)["link"].startswith("http://testserver.local/pair#")


def test_where_devices_reach_the_service_may_be_set() -> None:
    with serving(MemoryStore("trial"), Settings(public_url="https://bench.example")) as served:
        assert paired(served)["link"].startswith("https://bench.example/pair#")


def test_a_host_that_is_none_is_not_written_into_a_code(served: Served) -> None:
    headers = {**JSON, "Host": "a b<script>"}
    answer = served.ask("POST", "/v1/pairings", content=b'{"name": "x"}', headers=headers)
    refusal(answer, 400, "bad_request")


def test_a_code_is_over_after_its_use_and_after_ten_minutes(served_on_each: Served) -> None:
    served = served_on_each
    first, late = paired(served), paired(served)
    served.later(minutes=9, seconds=59)
    assert claim(served, first["code"]).status_code == 201
    refusal(claim(served, first["code"]), 409, "pairing_over")
    served.later(seconds=1)
    refusal(claim(served, late["code"]), 409, "pairing_over")
    shown = served.get("/v1/pairings").json()["pairings"]
    assert {one["pairing"]: one["claimed_at"] is not None for one in shown} == {
        first["pairing"]: True, late["pairing"]: False,
    }  # fmt: skip
    assert first["code"] not in str(shown)


def test_a_key_may_be_made_to_end(served: Served) -> None:
    told = claim(served, paired(served, days=1, scopes=["read"])["code"]).json()
    assert served.get("/v1/events", token=told["token"]).status_code == 200
    served.later(days=1)
    refusal(served.get("/v1/events", token=told["token"]), 401, "unauthorized")


def test_guessing_a_code_costs_as_much_as_guessing_a_token() -> None:
    burst = 3 * (1 + UNKNOWN_COSTS)
    settings = Settings(address_burst=burst, address_requests_per_s=0.001)
    with serving(MemoryStore("trial"), settings) as served:
        for _ in range(3):
            refusal(claim(served, "0000-0000-0000"), 404, "not_found")
        refusal(claim(served, "0000-0000-0000"), 429, "too_many_requests")


def test_what_cannot_be_a_code_is_not_known_and_what_is_no_text_is_invalid(served: Served) -> None:
    refusal(claim(served, "-------------"), 404, "not_found")
    refusal(claim(served, "short"), 422, "invalid")
    refusal(send(served, "/v1/pairings/claim", {"code": 7}, token=None), 422, "invalid")
    faults = refusal(send(served, "/v1/pairings", {"name": "", "scopes": []}), 422, "invalid")
    assert {place for _, place in faults} == {"/name", "/scopes"}
    twice = {"name": "x", "scopes": ["read", "read"]}
    assert refusal(send(served, "/v1/pairings", twice), 422, "invalid") == [("invalid", "/scopes")]
