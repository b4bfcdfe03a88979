"""Keys made, listed and revoked over HTTP, by whoever holds an admin key."""

import pytest
from httpx import Response
from served import Served, refusal


def make(served: Served, **fields: object) -> Response:
    body = {"label": "phone in the spray room", "scopes": ["record", "read"], **fields}
    return served.ask("POST", "/v1/keys", json=body)


def test_a_key_is_made_used_listed_and_revoked(served: Served) -> None:
    made = make(served, days=30)
    assert made.status_code == 201
    assert made.headers["cache-control"] == "no-store"
    token, key = made.json()["token"], made.json()["key"]
    assert key["scopes"] == ["read", "record"]
    assert key["expires_at"] == "2026-04-01T07:00:00Z"
    assert served.get("/v1/events", token=token).status_code == 200
    refusal(served.get("/v1/keys", token=token), 403, "forbidden")
    listed = served.get("/v1/keys")
    assert [one["key"] for one in listed.json()["keys"]][-1] == key["key"]
    assert token not in listed.text
    for _ in range(2):
        assert served.ask("DELETE", f"/v1/keys/{key['key']}").status_code == 204
        refusal(served.get("/v1/events", token=token), 401, "unauthorized")
    assert served.get("/v1/keys").json()["keys"][-1]["revoked_at"] == "2026-03-02T07:00:00Z"


def test_a_key_ends_after_its_days(served: Served) -> None:
    token = make(served, days=1).json()["token"]
    served.later(hours=23)
    assert served.get("/v1/events", token=token).status_code == 200
    served.later(hours=1)
    refusal(served.get("/v1/events", token=token), 401, "unauthorized")


def test_a_key_cannot_lock_the_shop_out(served: Served) -> None:
    own = served.token[4:12]
    refusal(served.ask("DELETE", f"/v1/keys/{own}"), 409, "own_key")
    assert served.get("/v1/keys").status_code == 200


@pytest.mark.parametrize("word", ["nobody00", "x", "%00"])
def test_a_key_that_is_not_there_is_not_found(served: Served, word: str) -> None:
    refusal(served.ask("DELETE", f"/v1/keys/{word}"), 404, "not_found")


@pytest.mark.parametrize(
    ("fields", "place"),
    [
        ({"scopes": []}, "/scopes"),
        ({"scopes": ["record", "record"]}, "/scopes"),
        ({"scopes": ["owner"]}, "/scopes/0"),
        ({"label": ""}, "/label"),
        ({"days": 0}, "/days"),
        ({"days": "30"}, "/days"),
        ({"key": "mine"}, "/key"),
    ],
)
def test_a_key_that_cannot_be_made_is_refused(
    served: Served, fields: dict[str, object], place: str
) -> None:
    before = len(served.keys.all())
    assert refusal(make(served, **fields), 422, "invalid") == [("invalid", place)]
    assert len(served.keys.all()) == before
