"""Examples of what is asked and answered about webhooks, and of a message they get."""

from collections.abc import Mapping
from typing import Any

WEBHOOK: Mapping[str, Any] = {
    "webhook": "b3XqT9Lw",
    "label": "web shop",
    "url": "https://shop.example/told-by-the-bench",
    "kinds": ["promised", "revised", "ready", "shipped"],
    "state": "on",
    "created_at": "2026-10-01T07:00:00Z",
    "older_secret_until": None,
    "success_at": "2026-10-07T09:25:13Z",
    "failure_at": None,
    "failure": None,
    "waiting": 0,
    "given_up": 0,
}
# The secret of the specification's own test vector: nobody's.
MADE: Mapping[str, Any] = {
    "webhook": {**WEBHOOK, "success_at": None},
    "secret": "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw",
}
MESSAGE: Mapping[str, Any] = {
    "specversion": "1.0",
    "id": "msg_0c6f9a4be1d24f7d8f1b2a3c4d5e6f70",
    "source": "/shops/shop",
    "type": "coatledger.notice.shipped",
    "subject": "order:1042",
    "time": "2026-10-07T15:10:00Z",
    "sequence": "412",
    "datacontenttype": "application/json",
    "data": {
        "kind": "shipped",
        "position": 412,
        "event": "01a11597-4e80-7d00-bbbb-89117aa194c0",
        "order": "1042",
        "lines": [{"line": "1", "pieces": ["BT-08-1", "BT-08-2"]}],
        "carrier": "van",
    },
}
BODIES: Mapping[str, Any] = {
    "add_webhook": {
        "webhook": "b3XqT9Lw",
        "label": "web shop",
        "url": "https://shop.example/told-by-the-bench",
        "kinds": ["promised", "revised", "ready", "shipped"],
    },
    "change_webhook": {
        "label": "web shop",
        "url": "https://shop.example/told-by-the-bench",
        "kinds": ["shipped"],
        "paused": True,
    },
    "change_secret": {"overlap_h": 24},
    "resend_messages": {"since": "2026-10-05T00:00:00Z"},
}
_JSON = "application/json"
ANSWERS: Mapping[tuple[str, str], Any] = {
    ("list_webhooks", _JSON): lambda: {"webhooks": [WEBHOOK]},
    ("add_webhook", _JSON): lambda: MADE,
    ("read_webhook", _JSON): lambda: WEBHOOK,
    ("change_webhook", _JSON): lambda: WEBHOOK,
    ("change_secret", _JSON): lambda: MADE,
    ("ping_webhook", _JSON): lambda: {"delivered": True, "status": 204, "says": ""},
    ("resend_messages", _JSON): lambda: {"messages": 3, "position": 412, "more": False},
    ("list_notices", _JSON): lambda: {
        "notices": [{"number": 118, "told_at": "2026-10-07T15:10:02Z", "notice": MESSAGE}],
        "next_after": 118,
        "more": False,
    },
    ("list_deliveries", _JSON): lambda: {
        "deliveries": [
            {
                "number": 118,
                "message": MESSAGE["id"],
                "kind": "shipped",
                "state": "waiting",
                "tries": 2,
                "due_at": "2026-10-07T15:15:40Z",
                "tried_at": "2026-10-07T15:10:21Z",
                "status": 503,
                "says": "answered 503",
            }
        ],
        "next_before": None,
    },
}
