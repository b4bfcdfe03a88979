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


def rotate(served: Served, key: str, **fields: object) -> Response:
    return served.ask("POST", f"/v1/keys/{key}/rotate", json=fields)


def test_two_tokens_are_good_until_the_overlap_ends(served_on_each: Served) -> None:
    served = served_on_each
    first = make(served).json()
    old, served_old = first["key"]["key"], first["token"]
    answer = rotate(served, old, overlap_h=2)
    assert answer.status_code == 201, answer.text
    assert answer.headers["cache-control"] == "no-store"
    new, token = answer.json()["key"], answer.json()["token"]
    assert new["replaces"] == old
    assert (new["label"], new["scopes"]) == ("phone in the spray room", ["read", "record"])
    for one in (served_old, token):
        assert served.get("/v1/events", token=one).status_code == 200
    served.later(hours=2)
    refusal(served.get("/v1/events", token=served_old), 401, "unauthorized")
    assert served.get("/v1/events", token=token).status_code == 200


def test_without_an_overlap_the_old_token_ends_at_once(served: Served) -> None:
    first = make(served).json()
    assert served.get("/v1/events", token=first["token"]).status_code == 200
    assert rotate(served, first["key"]["key"], overlap_h=0).status_code == 201
    refusal(served.get("/v1/events", token=first["token"]), 401, "unauthorized")


def test_a_key_changes_itself_and_goes_on(served: Served) -> None:
    token = rotate(served, served.token[4:12]).json()["token"]
    assert served.get("/v1/keys", token=token).status_code == 200
    assert served.get("/v1/keys").status_code == 200


def test_the_new_key_lives_as_long_as_the_old_one_did_or_as_is_said(served: Served) -> None:
    old = make(served, days=10).json()["key"]["key"]
    served.later(days=4)
    new = rotate(served, old, overlap_h=720).json()["key"]
    assert new["expires_at"] == "2026-03-16T07:00:00Z"
    keys = {one["key"]: one for one in served.get("/v1/keys").json()["keys"]}
    assert keys[old]["expires_at"] == "2026-03-12T07:00:00Z", "it ends no later than it would have"
    refusal(rotate(served, new["key"]), 409, "key_ended")
    served.ask("DELETE", f"/v1/keys/{old}")
    assert rotate(served, new["key"], days=1).json()["key"]["expires_at"] == "2026-03-07T07:00:00Z"


def test_at_most_two_keys_of_a_line_are_good(served: Served) -> None:
    old = make(served).json()["key"]["key"]
    assert rotate(served, old).status_code == 201
    refusal(rotate(served, old), 409, "key_ended")
    gone = make(served).json()["key"]["key"]
    served.ask("DELETE", f"/v1/keys/{gone}")
    refusal(rotate(served, gone), 409, "key_ended")
    refusal(rotate(served, "nobody00"), 404, "not_found")


def test_a_publishable_word_has_no_other_scope(served: Served) -> None:
    answer = served.ask("POST", "/v1/publishable-keys", json={"label": "our pages", "days": 9})
    assert answer.status_code == 201, answer.text
    assert answer.json()["token"].startswith("clw_")
    assert answer.json()["key"]["kind"] == "publishable"
    refusal(served.get("/v1/events", token=answer.json()["token"]), 403, "forbidden")
    assert answer.json()["key"]["scopes"] == ["storefront"]
    wrong = served.ask("POST", "/v1/publishable-keys", json={"label": "x", "scopes": ["read"]})
    assert refusal(wrong, 422, "invalid") == [("invalid", "/scopes")]
