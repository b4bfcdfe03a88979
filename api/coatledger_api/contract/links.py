"""Where an answer leads: OpenAPI links from what was recorded or read to what may be asked next.

A generated client can offer them, and a fuzzer follows them to states that no blind request finds.
"""

from collections.abc import Mapping
from typing import Any, NamedTuple


class Link(NamedTuple):
    """One step: `parameters` of the operation `leads_to`, each a runtime expression of OpenAPI."""

    name: str
    leads_to: str
    parameters: Mapping[str, str]
    says: str


_OF_BODY = "$request.body#/"
_OF_ANSWER = "$response.body#/"
_RECORDED: tuple[Link, ...] = (
    Link("piece", "read_piece", {"piece": f"{_OF_BODY}pieces/0"}, "The first piece it names."),
    Link("history", "read_piece_history", {"piece": f"{_OF_BODY}pieces/0"},
         "Everything about the first piece it names."),
    Link("proof", "read_piece_proof", {"piece": f"{_OF_BODY}pieces/0"},
         "What can be proven about that piece."),
    Link("event", "read_event", {"event": f"{_OF_ANSWER}events/0/id"}, "The fact as recorded."),
    Link("gun", "read_gun", {"gun": f"{_OF_BODY}gun"}, "The gun it names."),
    Link("room", "read_room", {"room": f"{_OF_BODY}room"}, "The room it names."),
    Link("schedule", "read_schedule", {"schedule": f"{_OF_BODY}schedule"},
         "The schedule it names."),
    Link("product", "read_product_drying", {"product": f"{_OF_BODY}product"},
         "What is learned of the product it names."),
    Link("after", "read_feed", {"cursor": f"{_OF_ANSWER}cursor"}, "What is recorded after it."),
)  # fmt: skip
LINKS: Mapping[str, tuple[Link, ...]] = {
    "record_events": _RECORDED,
    "read_feed": (
        Link("next", "read_feed", {"cursor": f"{_OF_ANSWER}cursor"}, "The next page."),
        Link("event", "read_event", {"event": f"{_OF_ANSWER}events/0/event/id"},
             "The first event of the page."),
    ),
    "list_pieces": (
        Link("piece", "read_piece", {"piece": f"{_OF_ANSWER}pieces/0/piece"}, "The first piece."),
        Link("next", "list_pieces", {"after": f"{_OF_ANSWER}next_after"}, "The next page."),
    ),
    "read_piece": (
        Link("history", "read_piece_history", {"piece": f"{_OF_ANSWER}piece"},
             "Everything that happened to it."),
        Link("proof", "read_piece_proof", {"piece": f"{_OF_ANSWER}piece"},
             "What can be proven about it."),
    ),
    "make_hold": (
        Link("hold", "read_hold", {"hold": f"{_OF_ANSWER}hold"}, "The hold as it stands."),
        Link("release", "release_hold", {"hold": f"{_OF_ANSWER}hold"}, "Give it up."),
    ),
    "make_promise": (
        Link("promise", "read_promise", {"order": f"{_OF_ANSWER}order"},
             "What it is worth, and what of it left."),
        Link("replay", "replay_promise", {"order": f"{_OF_ANSWER}order"}, "Compute it again."),
    ),
    "list_promises": (
        Link("promise", "read_promise", {"order": f"{_OF_ANSWER}promises/0/order"},
             "The promise that is due first."),
    ),
    "add_key": (
        Link("revoke", "revoke_key", {"key": f"{_OF_ANSWER}key/key"}, "End this key."),
    ),
}  # fmt: skip


def links_of(operation: str) -> dict[str, Any]:
    """Return the links from an operation's good answer, as OpenAPI writes them."""
    return {
        link.name: {
            "operationId": link.leads_to,
            "parameters": dict(link.parameters),
            "description": link.says,
        }
        for link in LINKS.get(operation, ())
    }
