"""Examples for the contract: one of every event, kept beside the code, and one of each answer."""

import functools
from collections.abc import Mapping
from importlib.resources import files
from typing import Any

import msgspec
from coatledger.answers.calculations.table import CALCULATIONS

from coatledger_api.contract import examples_selling, examples_webhooks

EXAMPLES_FILE = "examples.json"
_PARAMETERS: Mapping[str, Any] = {
    "as_of": "2026-10-07T15:30:00+01:00",
    "known_at": "2026-10-08T08:00:00Z",
    "cursor": "3f9c0a7d51b2e846.42",
    "limit": 100,
    "subject": "piece:oak-01",
    "type": ["coat_applied", "climate_read"],
    "event": "01a11597-4e80-7d00-bbbb-89117aa194c0",
    "piece": "oak-01",
    "kind": "impossible_order",
    "since": 41,
    "key": "R7kQ2mZa",
    "webhook": "b3XqT9Lw",
    "before": 120,
    "state": ["waiting", "dead"],
    **examples_selling.PARAMETERS,
}
_BODIES: Mapping[str, Any] = {
    "add_key": {"label": "phone in the spray room", "scopes": ["record", "read"], "days": 365},
    "add_publishable_key": {"label": "our web shop"},
    "rotate_key": {"overlap_h": 24},
    "add_pairing": {"name": "phone on the stand", "scopes": ["record", "read"], "days": 365},
    "claim_pairing": {"code": "7KQ2-M9ZA-41XN"},
    **examples_webhooks.BODIES,
    **examples_selling.BODIES,
    "add_to_checkpoint": {
        "size": 42,
        "lines": ["— witness.example AAAAAAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8="],
    },
}


@functools.cache
def events() -> Mapping[str, Any]:
    """Return one example of every event, by its type."""
    kept = files("coatledger_api.contract").joinpath(EXAMPLES_FILE)
    read = msgspec.json.decode(kept.read_bytes())
    shown: Mapping[str, Any] = _divisible(read)
    return shown


def _divisible(value: Any) -> Any:
    """Round what a checker that divides in binary takes for no multiple of a thousandth (100.3)."""
    if isinstance(value, dict):
        return {name: _divisible(inner) for name, inner in value.items()}
    if isinstance(value, list):
        return [_divisible(inner) for inner in value]
    if isinstance(value, float) and not (value / 0.001).is_integer():
        halves = round(value * 2) / 2
        return halves if (halves / 0.001).is_integer() else round(value)
    return value


def parameter_example(name: str) -> Any:
    """Return an example of a parameter, or None."""
    return _PARAMETERS.get(name)


def posted_examples() -> dict[str, Any]:
    """Return what may be posted: one of every event, and a batch."""
    shown = {
        tag: {"summary": tag.replace("_", " "), "value": body} for tag, body in events().items()
    }
    batch = {
        "type": "batch",
        "sent_at": "2026-10-07T09:30:00Z",
        "conditions": [{"subject": "piece:oak-01", "after": 41}],
        "events": [events()["lot_stirred"], events()["coat_applied"]],
    }
    shown["batch"] = {"summary": "several facts and a condition", "value": batch}
    return shown


def body_examples(operation: str, path: str) -> dict[str, Any]:
    """Return examples of what may be posted to an address."""
    if operation == "record_events":
        return posted_examples()
    calculation = CALCULATIONS.get(path.rpartition("/")[2])
    if calculation is not None:
        return {"asked": {"summary": calculation.does, "value": dict(calculation.example)}}
    return {"asked": {"value": _BODIES[operation]}}


def answer_examples(operation: str, media_type: str) -> dict[str, Any]:
    """Return the examples of an operation's answer in one media type."""
    shown = _ANSWERS.get((operation, media_type))
    return {} if shown is None else {"an_answer": {"value": shown()}}


def _recorded() -> dict[str, Any]:
    return {
        "position": 42,
        "recorded_at": "2026-10-07T09:25:12.480211Z",
        "by": "R7kQ2mZa",
        "event": events()["coat_applied"],
        "previous": {"gun:gun-1": 40, "lot:can-31": 41, "piece:oak-01": 38},
    }


def _recording() -> dict[str, Any]:
    outcome = {
        "id": events()["coat_applied"]["id"],
        "position": 42,
        "recorded_at": "2026-10-07T09:25:12.480211Z",
    }
    return {"position": 42, "cursor": _PARAMETERS["cursor"], "events": [outcome]}


def _page() -> dict[str, Any]:
    cursor = _PARAMETERS["cursor"]
    return {"position": 42, "cursor": cursor, "more": False, "events": [_recorded()]}


def _cloud_events() -> list[Any]:
    fact = events()["coat_applied"]
    return [
        {
            "specversion": "1.0",
            "id": fact["id"],
            "source": "/shops/shop",
            "type": "coatledger.coat_applied",
            "subject": "piece:oak-01",
            "time": fact["occurred_at"],
            "recordedtime": "2026-10-07T09:25:12.480211Z",
            "sequence": "42",
            "datacontenttype": "application/json",
            "data": fact,
        }
    ]


def _key() -> dict[str, Any]:
    return {
        "key": "R7kQ2mZa",
        "kind": "secret",
        "label": "phone in the spray room",
        "scopes": ["read", "record"],
        "created_at": "2026-10-01T07:00:00Z",
        "expires_at": "2027-10-01T07:00:00Z",
        "revoked_at": None,
        "used_at": "2026-10-07T09:25:12Z",
        "replaces": None,
    }


def _pairing() -> dict[str, Any]:
    return {
        "pairing": "5f1c09a7be3d2204",
        "name": "phone on the stand",
        "scopes": ["read", "record"],
        "made_at": "2026-10-07T09:20:00Z",
        "ends_at": "2026-10-07T09:30:00Z",
        "claimed_at": None,
        "key": None,
    }


def _made_pairing() -> dict[str, Any]:
    code = _BODIES["claim_pairing"]["code"]
    kept = {name: _pairing()[name] for name in ("pairing", "name", "scopes", "ends_at")}
    return {**kept, "code": code, "link": f"http://192.168.1.20:8700/pair#{code}", "qr": "<svg/>"}


_ANSWERS: Mapping[tuple[str, str], Any] = {
    **examples_webhooks.ANSWERS,
    **examples_selling.ANSWERS,
    ("record_events", "application/json"): _recording,
    ("read_feed", "application/json"): _page,
    ("read_feed", "application/cloudevents-batch+json"): _cloud_events,
    ("read_event", "application/json"): _recorded,
    ("list_keys", "application/json"): lambda: {"keys": [_key()]},
    ("add_key", "application/json"): lambda: {
        "key": {**_key(), "used_at": None},
        "token": "clk_R7kQ2mZa" + "x" * 38,
    },
    ("add_publishable_key", "application/json"): lambda: {
        "key": {**_key(), "kind": "publishable", "label": "our web shop", "scopes": ["storefront"]},
        "token": "clw_R7kQ2mZa" + "x" * 38,
    },
    ("rotate_key", "application/json"): lambda: {
        "key": {**_key(), "key": "b4Xo91Ls", "used_at": None, "replaces": "R7kQ2mZa"},
        "token": "clk_b4Xo91Ls" + "x" * 38,
    },
    ("list_pairings", "application/json"): lambda: {"pairings": [_pairing()]},
    ("add_pairing", "application/json"): _made_pairing,
    ("claim_pairing", "application/json"): lambda: {
        "token": "clk_R7kQ2mZa" + "x" * 38,
        "name": "phone on the stand",
        "scopes": ["read", "record"],
        "key": "R7kQ2mZa",
        "expires_at": "2027-10-07T09:22:41Z",
    },
    ("is_live", "application/health+json"): lambda: {"status": "pass"},
    ("is_ready", "application/health+json"): lambda: {
        "status": "pass",
        "checks": {
            "ledger_reads": True,
            "ledger_writes": True,
            "writer_runs": True,
            "waiting": 0,
            "streams": 1,
            "free_mb": 18204,
        },
    },
    ("stream_events", "text/event-stream"): lambda: (
        'retry: 2000\n\nid: 3f9c0a7d51b2e846.42\nevent: coat_applied\ndata: {"position":42}\n\n'
    ),
}
