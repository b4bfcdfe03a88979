"""Pairing a device: a code on one screen, read by another, is exchanged once for a key."""

from typing import Annotated

from coatledger.events.base import Label, Moment
from coatledger.ledger.decode import plain, typed
from coatledger.ledger.record import micros, moment
from coatledger_adapters import qr
from coatledger_adapters.keys import ApiKey, Pairing, Scope
from coatledger_adapters.pairing import hash_of_code, key_of_pairing, make_pairing
from msgspec import Meta, Struct

from coatledger_api.base_address import BaseAddress, base_address
from coatledger_api.negotiate import JSON
from coatledger_api.operations import ENCODER, NEVER_CACHED, Call, Operation, Reply, running
from coatledger_api.parameters import Nothing
from coatledger_api.problems import ProblemError
from coatledger_api.rendering import moment_or_none
from coatledger_api.routes.keys import KeyId, Scopes, require_once
from coatledger_api.visit import VISIT

PAGE = "/pair"
Code = Annotated[
    str,
    Meta(
        min_length=12,
        max_length=24,
        description="The code, in whatever case, with or without dashes and spaces.",
    ),
]


class NewPairing(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A device to be paired: what it is called, what its key may do and for how many days; without
    `days` the key does not end by itself."""

    name: Label
    scopes: Scopes = ("record", "read")
    days: Annotated[int, Meta(ge=1, le=3650)] | None = None
    base: BaseAddress | None = None


class MadePairing(Struct, frozen=True, kw_only=True):
    """A code just made; it is not shown again. `link` opens the page that exchanges it, behind a
    `#`, so that no server or log on the way sees the code; `qr` is that link as an SVG picture."""

    pairing: str
    code: str
    name: str
    scopes: tuple[Scope, ...]
    ends_at: Moment
    link: str
    qr: str


class OnePairing(Struct, frozen=True, kw_only=True):
    """A code as it stands: open until `ends_at`, or exchanged for a key, or late."""

    pairing: str
    name: str
    scopes: tuple[Scope, ...]
    made_at: Moment
    ends_at: Moment
    claimed_at: Moment | None
    key: KeyId | None


class Pairings(Struct, frozen=True, kw_only=True):
    """The last hundred codes, newest first."""

    pairings: tuple[OnePairing, ...]


class Claiming(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The code, as the device read it."""

    code: Code


class Claimed(Struct, frozen=True, kw_only=True):
    """The device's key, with its token: keep it now, it is not shown again."""

    token: str
    name: str
    scopes: tuple[Scope, ...]
    key: KeyId
    expires_at: Moment | None


@running("GET", "/v1/pairings", tag="Keys", scope="admin", answers={JSON: Pairings})
async def list_pairings(call: Call[Nothing]) -> Reply:
    """List the last codes made, newest first: which are still open, and what became of the others.

    No code is kept or told. A screen that shows a code can ask here whether it was read.
    """
    made = await call.service.in_thread(call.service.keyring.book.offered)
    return Reply(ENCODER.encode(Pairings(pairings=tuple(_shown(one) for one in made))))


@running("POST", "/v1/pairings", tag="Keys", scope="admin", answers={JSON: MadePairing},
         body=NewPairing, status=(201,))  # fmt: skip
async def add_pairing(call: Call[Nothing]) -> Reply:
    """Make a one-time code for a device. It is good for ten minutes and in this answer only.

    Show `qr` on a screen: a phone's own camera opens `link`, and the page there exchanges the code
    for a key with these scopes.
    """
    service = call.service
    asked: NewPairing = typed(plain(call.body), NewPairing)
    require_once(asked.scopes, "/scopes")
    base = base_address(asked.base, service.settings, call.headers)
    keyring, now_us = service.keyring, micros(service.clock())
    scopes = frozenset(asked.scopes)
    code, kept = make_pairing(keyring.secret, asked.name, scopes, now_us, asked.days)
    await service.in_thread(lambda: keyring.book.offer(kept))
    link = f"{base}{PAGE}#{code}"
    made = MadePairing(
        pairing=kept.pairing_id,
        code=code,
        name=kept.name,
        scopes=_scopes(kept.scopes),
        ends_at=moment(kept.ends_us),
        link=link,
        qr=qr.svg(link, f"Pairs {kept.name} until {moment(kept.ends_us):%H:%M} UTC"),
    )
    return Reply(ENCODER.encode(made), 201, headers=NEVER_CACHED)


@running("POST", "/v1/pairings/claim", tag="Keys", scope=None, answers={JSON: Claimed},
         body=Claiming, status=(201,), problems=("not_found", "pairing_over"))  # fmt: skip
async def claim_pairing(call: Call[Nothing]) -> Reply:
    """Exchange a code for the device's key; needs no key. Its token is in this answer and nowhere
    else.

    A code that nobody made is counted against the address as a guessed token is.
    """
    service = call.service
    asked: Claiming = typed(plain(call.body), Claiming)
    keyring, now_us = service.keyring, micros(service.clock())
    code_hash = hash_of_code(keyring.secret, asked.code)
    made: list[tuple[str, ApiKey]] = []

    def key(pairing: Pairing) -> ApiKey:
        made.append(key_of_pairing(keyring.secret, pairing, now_us))
        return made[-1][1]

    outcome = "unknown"
    if code_hash is not None:
        outcome = await service.in_thread(lambda: keyring.book.claim(code_hash, now_us, key))
    if outcome != "claimed":
        raise _refused(outcome)
    token, kept = made[-1]
    claimed = Claimed(
        token=token,
        name=kept.label,
        scopes=_scopes(kept.scopes),
        key=kept.key_id,
        expires_at=moment_or_none(kept.expires_us),
    )
    return Reply(ENCODER.encode(claimed), 201, headers=NEVER_CACHED)


OPERATIONS: tuple[Operation, ...] = (list_pairings, add_pairing, claim_pairing)


def _refused(outcome: str) -> ProblemError:
    if outcome == "ended":
        return ProblemError("pairing_over", "this code was exchanged already or came too late")
    visit = VISIT.get()
    if visit is not None:
        visit.guessed = True
    return ProblemError("not_found", "no such code; was it mistyped?")


def _shown(pairing: Pairing) -> OnePairing:
    return OnePairing(
        pairing=pairing.pairing_id,
        name=pairing.name,
        scopes=_scopes(pairing.scopes),
        made_at=moment(pairing.made_us),
        ends_at=moment(pairing.ends_us),
        claimed_at=moment_or_none(pairing.claimed_us),
        key=pairing.key_id,
    )


def _scopes(scopes: frozenset[str]) -> tuple[Scope, ...]:
    return tuple(sorted(scopes))  # type: ignore[arg-type]
