"""Who may do what: every operation has a scope, and nothing passes without the right key."""

import re
import time
from base64 import b64encode

import pytest
from coatledger_adapters.keys import SCOPES, make_key
from coatledger_api.app import OPERATIONS
from coatledger_api.keys import Keyring
from coatledger_api.operations import Operation
from coatledger_api.problems import ProblemError
from served import SECRET, Served, refusal

OPEN_TO_ALL = frozenset(
    (
        "/health/live",
        "/health/ready",
        "/openapi.json",
        "/docs",
        "/problems",
        "/problems/{kind}",
        "/findings",
        "/gun-side",
        "/wall",
        "/life",
        "/set-up",
        "/pair",
        "/pages/{file}",
        "/v1/pairings/claim",
    )
)
GUARDED = [operation for operation in OPERATIONS if operation.path not in OPEN_TO_ALL]


def address(operation: Operation) -> str:
    """An address of an operation, any will do: keys are looked at first."""
    return re.sub(r"\{\w+\}", "x", operation.path)


def test_every_operation_has_a_scope_but_for_those_named_here() -> None:
    for operation in OPERATIONS:
        assert (operation.scope is None) == (operation.path in OPEN_TO_ALL), operation.name
        assert operation.scope is None or operation.scope in SCOPES, operation.name


@pytest.mark.parametrize("operation", GUARDED, ids=lambda one: one.name)
def test_no_operation_is_served_without_a_key_of_its_scope(
    served: Served, operation: Operation
) -> None:
    answer = served.ask(operation.method, address(operation), token=None)
    refusal(answer, 401, "unauthorized")
    challenge = answer.headers["www-authenticate"]
    assert challenge.startswith("Basic" if operation.basic else "Bearer")
    assert "Bearer" in challenge
    others = served.key(*(scope for scope in SCOPES if scope != operation.scope))
    answer = served.ask(operation.method, address(operation), token=others)
    refusal(answer, 403, "forbidden")
    assert f'scope="{operation.scope}"' in answer.headers["www-authenticate"]
    assert served.size == 0


@pytest.mark.parametrize(
    "header",
    ["", "Bearer", "Bearer ", "Basic dXNlcjpwYXNz", "Bearer clk_", "Bearer " + "x" * 50,
     "Bearer \xe9" * 9],
)  # fmt: skip
def test_what_is_no_token_is_refused(served: Served, header: str) -> None:
    answer = served.get(
        "/v1/events", token=None, headers={"Authorization": header.encode("latin-1")}
    )
    refusal(answer, 401, "unauthorized")


def test_a_token_of_nobody_and_one_of_another_service_are_refused(served: Served) -> None:
    stranger, _ = make_key(SECRET, "stranger", SCOPES, 0)
    refusal(served.get("/v1/events", token=stranger), 401, "unauthorized")
    elsewhere, kept = make_key(b"the secret of another service", "elsewhere", SCOPES, 0)
    served.keys.add(kept)
    refusal(served.get("/v1/events", token=elsewhere), 401, "unauthorized")


def basic(pair: str) -> dict[str, str]:
    """Write a user and password as HTTP Basic does."""
    return {"Authorization": f"Basic {b64encode(pair.encode()).decode()}"}


@pytest.mark.parametrize("user", ["", "phone", "späte Schicht"])
def test_a_calendar_program_sends_the_key_as_a_password(served: Served, user: str) -> None:
    token = served.key("read")
    calendar = served.get("/v1/calendar.ics", token=None, headers=basic(f"{user}:{token}"))
    assert calendar.status_code == 200
    # Nowhere else: a browser that remembers a password sends it unasked.
    elsewhere = served.get("/v1/day-plan", token=None, headers=basic(f"{user}:{token}"))
    refusal(elsewhere, 401, "unauthorized")


@pytest.mark.parametrize(
    "header",
    ["Basic", "Basic !!", "Basic dXNlcjpwYXNz", "Basic " + "eA" * 30, "Bearer x", "Basic /////w=="],
)
def test_what_is_no_token_is_no_password_either(served: Served, header: str) -> None:
    answer = served.get("/v1/calendar.ics", token=None, headers={"Authorization": header})
    refusal(answer, 401, "unauthorized")
    stranger, _ = make_key(SECRET, "stranger", SCOPES, 0)
    answer = served.get("/v1/calendar.ics", token=None, headers=basic(f"phone:{stranger}"))
    refusal(answer, 401, "unauthorized")
    small = served.key("record")
    answer = served.get("/v1/calendar.ics", token=None, headers=basic(f"phone:{small}"))
    refusal(answer, 403, "forbidden")


def test_a_key_ends_at_its_time(served: Served) -> None:
    ends_us = int(served.clock.timestamp() * 1e6) + 60_000_000
    token = served.key("read", expires_us=ends_us)
    assert served.get("/v1/events", token=token).status_code == 200
    served.later(seconds=59)
    assert served.get("/v1/events", token=token).status_code == 200
    served.later(seconds=1)
    refusal(served.get("/v1/events", token=token), 401, "unauthorized")


def test_a_key_revoked_elsewhere_ends_within_seconds(served: Served) -> None:
    token = served.key("read")
    assert served.get("/v1/events", token=token).status_code == 200
    served.keys.revoke(token[4:12], 1)
    served.later(seconds=6)
    refusal(served.get("/v1/events", token=token), 401, "unauthorized")


def test_the_last_use_of_a_key_is_noted_once_a_minute(served: Served) -> None:
    token = served.key("read")
    key_id = token[4:12]
    served.get("/v1/events", token=token)
    first_us = int(served.clock.timestamp() * 1e6)
    noted(served, key_id, first_us)
    served.later(seconds=30).get("/v1/events", token=token)
    served.later(seconds=30).get("/v1/events", token=token)
    noted(served, key_id, first_us + 60_000_000)


def noted(served: Served, key_id: str, at_us: int) -> None:
    """Wait until a use is noted: that is done beside the answer."""
    for _ in range(200):
        key = served.keys.find(key_id)
        if key is not None and key.used_us == at_us:
            return
        time.sleep(0.01)
    raise AssertionError(f"{key} was not noted at {at_us}")


def test_who_recorded_a_fact_is_the_key_and_not_what_the_body_says(served: Served) -> None:
    token = served.key("record")
    fact = served.fact("lot_opened", lot="can-1", actor="somebody")
    assert served.post(fact, token=token).status_code == 201
    assert served.get(f"/v1/events/{fact['id']}").json()["by"] == token[4:12]


def test_a_publishable_word_only_asks(served: Served) -> None:
    word, kept = make_key(SECRET, "our pages", ("storefront",), 0, kind="publishable")
    served.keys.add(kept)
    ring = Keyring(served.keys, SECRET, lambda: served.clock, 0)
    for method in ("GET", "HEAD"):
        assert ring.recognise(f"Bearer {word}", "storefront", method) == kept
    for method in ("POST", "PUT", "PATCH", "DELETE"):
        with pytest.raises(ProblemError, match="may only ask"):
            ring.recognise(f"Bearer {word}", "storefront", method)
    secret = served.key("storefront")
    assert ring.recognise(f"Bearer {secret}", "storefront", "POST").kind == "secret"
