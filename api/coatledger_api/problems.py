"""Every answer that is not a success, as RFC 9457 problem details.

Each kind has a stable `type` that this service itself explains, one fixed title and status; what
varies stands in `detail` and `faults`. Refusals of facts are the core's; here are those of HTTP.
"""

from collections.abc import Iterable, Mapping
from typing import Any

import msgspec
from coatledger.refusal import RULES, Fault, Rule
from msgspec import Struct

from coatledger_api.problems_selling import SELLING

MEDIA_TYPE = "application/problem+json"

HTTP: Mapping[str, Rule] = {
    "bad_request": Rule(
        400,
        "Not a request this service can read",
        "The request breaks the rules of HTTP, or its query or path is not in UTF-8.",
        "Send it again with a client library that writes requests right.",
    ),
    "unauthorized": Rule(
        401,
        "No valid key",
        "The request carries no bearer token, or one that is unknown, expired or revoked.",
        "Send `Authorization: Bearer clk_…` with a key of this shop; whoever holds an admin key "
        "can make a new one.",
    ),
    "forbidden": Rule(
        403,
        "The key may not do this",
        "The key is good, but lacks the scope that this operation needs; `detail` names it.",
        "Use a key with that scope.",
    ),
    "not_found": Rule(
        404,
        "Nothing here",
        "There is no such address, or this ledger holds nothing of that name.",
        "Check the address against the list under /docs, and the shop's word for upper and lower "
        "case.",
    ),
    "method_not_allowed": Rule(
        405,
        "Not with this method",
        "The address exists, but not for this HTTP method.",
        "Use one of the methods in the Allow header.",
    ),
    "not_acceptable": Rule(
        406,
        "Not in that form",
        "The Accept header asks for media types this address does not offer.",
        "Ask for one of the types named in `detail`, or leave Accept out.",
    ),
    "too_slow": Rule(
        408,
        "The request did not come in time",
        "A connection was opened and its request, or the rest of it, did not follow; the service "
        "closed it.",
        "Send a request without pausing in it. Behind a server that gathers requests first, a slow "
        "line does no harm.",
    ),
    "head_too_large": Rule(
        431,
        "Too long a head",
        "The address and the headers of the request are longer than this service takes.",
        "Send fewer or shorter headers; what is long belongs in the body.",
    ),
    "too_large": Rule(
        413,
        "Too much at once",
        "The body is larger than this service takes.",
        "Send fewer facts in one request.",
    ),
    "unsupported_media_type": Rule(
        415,
        "Not sent as JSON",
        "The body is taken as application/json in UTF-8, neither compressed nor in another form.",
        "Set `Content-Type: application/json`.",
    ),
    "feed_rewound": Rule(
        409,
        "The feed begins anew",
        "The cursor is of another life of this ledger, or lies beyond its head: a backup was "
        "restored, so what was read after it may never have happened.",
        "Begin again without a cursor and compare with what was kept; `epoch` is the present one.",
    ),
    "history_broken": Rule(
        500,
        "The ledger is not what was signed",
        "The events no longer give the root of the last signed head: somebody or something changed "
        "this database past the program. Nothing is signed over it.",
        "Tell whoever runs the service: stop it, run `coatledger self-check`, compare with a "
        "backup.",
    ),
    "own_key": Rule(
        409,
        "A key cannot end itself",
        "The key to be revoked is the one this request carries.",
        "Make another admin key first and revoke this one with it.",
    ),
    "not_a_range": Rule(
        409,
        "Not a range of days",
        "An end of the range is told twice, or it ends before it begins, or it holds more days, "
        "weeks or months than are told at once; each fault names a parameter.",
        "Tell each end by a week or by a day, the earlier first; ask for larger buckets or for a "
        "shorter range.",
    ),
    "does_not_fit": Rule(
        409,
        "Does not fit on the paper",
        "The labels do not lie on the paper that way, or a label is too small for its code or its "
        "word.",
        "Each fault names a parameter and how much is needed. Take fewer or larger labels, or a "
        "shorter address in `base`, which makes a smaller code.",
    ),
    "key_ended": Rule(
        409,
        "The key cannot be rotated",
        "It is revoked or expired, or was rotated before, or the key whose place it took is still "
        "good: at most two keys of one line are good at a time.",
        "Rotate the key that took its place, revoke the one before it, or make a new one.",
    ),
    "pairing_over": Rule(
        409,
        "The code is over",
        "A pairing code is good for ten minutes and for one device. This one was exchanged already "
        "or came too late.",
        "Make another code with `coatledger pair` or POST /v1/pairings. If the device never got "
        "its key, revoke that key: `coatledger key list` names it.",
    ),
    "webhook_target": Rule(
        409,
        "Not a place this service sends to",
        "Messages go by https to port 443 of names on the public internet, never into a private "
        "network; `detail` says what is in the way. Each delivery is checked again.",
        "Give an address of that kind. For a receiver in the shop's own network, whoever runs the "
        "service allows its host and port by name, in COATLEDGER_WEBHOOK_HOSTS.",
    ),
    "too_many_webhooks": Rule(
        409,
        "Too many webhooks",
        "A shop has at most 20 webhooks.",
        "Delete one that nobody needs any more.",
    ),
    "webhook_reused": Rule(
        409,
        "The id already names another webhook",
        "A webhook was made under this id with other content, or too long ago for its secret to "
        "be told again.",
        "Choose a new id for a new webhook; for a new secret of the one that is there, ask "
        "`POST /v1/webhooks/{webhook}/secret`.",
    ),
    "too_many_requests": Rule(
        429,
        "Too often",
        "This key or this address asks more often than the service lets one caller, or more "
        "streams are open than it serves at a time. `RateLimit` tells what is left, "
        "`RateLimit-Policy` how much there is.",
        "Wait as long as Retry-After says; ask for several things in one request, and follow the "
        "feed's stream instead of asking again and again.",
    ),
    "parked": Rule(
        503,
        "Set apart",
        "The facts of this subject cannot be folded: a fault of the program, which `detail` names. "
        "Everything recorded about it is safe, more can be recorded, and the rest of the shop goes "
        "on; lists and counts leave it out.",
        "Tell whoever makes coatledger. A correction of the fact that does it, or a mended "
        "program, brings the subject back.",
    ),
    "updating": Rule(
        503,
        "Kept by another version",
        "What is kept beside the events was made by another version of the program, or the ledger "
        "was moved to another database. Nothing of this request was recorded.",
        "Send it again after Retry-After. If it stays, this service is older than the ledger: tell "
        "whoever runs it to update and restart it.",
    ),
    "no_room": Rule(
        507,
        "Nothing can be written down",
        "The ledger's disk is full, fails, or may only be read; `detail` says which. Nothing of "
        "this request was recorded, what was recorded before is safe, and reading goes on.",
        "Keep the facts and send them again later: the event ids make it safe. Tell whoever runs "
        "the service to make room; it goes on by itself then.",
    ),
    "internal": Rule(
        500,
        "The service failed",
        "Something went wrong that is not the client's fault; it was logged. Nothing was recorded "
        "by this request unless an answer said so.",
        "Send it again: the same event ids are recorded once. If it stays, tell whoever runs the "
        "service.",
    ),
    "overloaded": Rule(
        503,
        "Too much is waiting",
        "The ledger is slower than what comes in, or the service is going down; nothing of this "
        "request was recorded.",
        "Send the same request again after Retry-After; the event ids make it safe.",
    ),
}
KINDS: Mapping[str, Rule] = {**RULES, **HTTP, **SELLING}


class ProblemFault(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One thing wrong. `pointer` is an RFC 6901 JSON Pointer into the body; `parameter` names a
    parameter of the address instead."""

    rule: str
    detail: str
    pointer: str | None = None
    parameter: str | None = None


class Problem(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """RFC 9457 problem details. `type` is an address on this service that explains the kind. Where
    a date cannot be held or promised, `quote` is what can be; `ship_promise` is what a page can
    show instead."""

    type: str
    title: str
    status: int
    detail: str
    faults: tuple[ProblemFault, ...] = ()
    epoch: str | None = None
    quote: Mapping[str, Any] | None = None
    ship_promise: Mapping[str, Any] | None = None


class ProblemError(Exception):
    """Ends a request with a problem."""

    def __init__(
        self, kind: str, detail: str, *, faults: Iterable[ProblemFault] = (),
        epoch: str | None = None, headers: Mapping[str, str] | None = None,
        quote: Mapping[str, Any] | None = None, ship_promise: Mapping[str, Any] | None = None,
    ) -> None:  # fmt: skip
        rule = KINDS[kind]
        self.problem = Problem(
            type=type_of(kind),
            title=rule.title,
            status=rule.status,
            detail=detail,
            faults=tuple(faults),
            epoch=epoch,
            quote=quote,
            ship_promise=ship_promise,
        )
        self.headers: Mapping[str, str] = headers or {}
        super().__init__(f"{kind}: {detail}")


def type_of(kind: str) -> str:
    """Return the address that explains a kind of problem."""
    return f"/problems/{kind}"


def problem_of(faults: tuple[Fault, ...]) -> Problem:
    """Tell the core's faults as a problem; the first one names its kind."""
    first, *others = faults
    rule = KINDS[first.rule]
    detail = first.detail if not others else f"{first.detail}; and {len(others)} more, see faults"
    return Problem(
        type=type_of(first.rule),
        title=rule.title,
        status=rule.status,
        detail=detail,
        faults=tuple(ProblemFault(rule=f.rule, detail=f.detail, pointer=f.pointer) for f in faults),
    )


def body_of_problem(problem: Problem) -> bytes:
    """Write a problem as JSON."""
    return msgspec.json.encode(problem)
