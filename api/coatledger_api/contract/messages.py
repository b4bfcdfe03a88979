"""The contract's other direction: the message this service posts to a webhook."""

from collections.abc import Mapping
from typing import Any, Final

from coatledger.recording.notices import NoticeEvent

from coatledger_api.contract.examples_webhooks import MESSAGE
from coatledger_api.contract.schemas import Components
from coatledger_api.courier import MEDIA_TYPE

TYPES: Final = (NoticeEvent,)
_HEADERS: Mapping[str, tuple[str, str]] = {
    "webhook-id": (
        "The message's id: the same at every try, and in `id`. Keep it, and do nothing twice.",
        str(MESSAGE["id"]),
    ),
    "webhook-timestamp": ("When this try was made, in seconds since 1970 UTC.", "1791385800"),
    "webhook-signature": (
        "`v1,` and base64 of HMAC-SHA256 under the secret over id, `.`, timestamp, `.`, body.",
        "v1,K5oZfzN95Z9UVu1EsfQmfVNQhnkZ2pj9o9NDN/H/pI4=",
    ),
}


def webhooks_of(components: Components) -> dict[str, Any]:
    """Describe the message, for the `webhooks` of an OpenAPI 3.1 document."""
    return {
        "notice": {
            "post": {
                "operationId": "be_told",
                "tags": ["Webhooks"],
                "summary": "Be told of what happened in the shop",
                "description": "A CloudEvent 1.0 in structured mode, signed by Standard Webhooks "
                "1.0.0. Any 2xx ends it; 410 ends the webhook; anything else, a redirect too, is "
                "tried again for three days. While a secret is changed there are two signatures, "
                "with a space between. Messages may come twice or out of order: `id` tells "
                "them apart, `sequence` orders them.",
                "parameters": [_header(name, *told) for name, told in _HEADERS.items()],
                "requestBody": {
                    "required": True,
                    "content": {
                        MEDIA_TYPE: {
                            "schema": components.schema(NoticeEvent),
                            "examples": {"shipped": {"value": MESSAGE}},
                        }
                    },
                },
                "responses": {
                    "204": {"description": "Taken."},
                    "410": {"description": "Nobody is here any more: the webhook ends."},
                },
                "security": [],
            }
        }
    }


def _header(name: str, says: str, example: str) -> dict[str, Any]:
    return {
        "name": name,
        "in": "header",
        "required": True,
        "description": says,
        "schema": {"type": "string"},
        "example": example,
    }
