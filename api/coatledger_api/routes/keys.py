"""The shop's keys: who may do what. A token is told once, when its key is made."""

from collections.abc import Iterable, Sequence
from datetime import timedelta
from typing import Annotated

from coatledger.events.base import Label, Moment
from coatledger.ledger.decode import plain, typed
from coatledger.ledger.record import micros, moment
from coatledger.refusal import refuse
from coatledger_adapters.keys import (
    PUBLISHABLE_SCOPES,
    ApiKey,
    KeyBook,
    Kind,
    Scope,
    make_key,
    successor,
)
from msgspec import Meta, Struct

from coatledger_api.negotiate import JSON
from coatledger_api.operations import ENCODER, NEVER_CACHED, Call, Operation, Reply, running
from coatledger_api.parameters import Nothing
from coatledger_api.problems import ProblemError
from coatledger_api.rendering import moment_or_none

KeyId = Annotated[str, Meta(pattern="^[0-9A-Za-z]{8}$", description="A key's id.")]
Scopes = Annotated[
    tuple[Scope, ...],
    Meta(
        min_length=1,
        max_length=6,
        description="What the key may do.",
        extra_json_schema={"uniqueItems": True},
    ),
]
HOUR_US = 3_600_000_000


class NewKey(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A key to be made: for whom or what, what it may do, and for how long; without `days` it
    does not end by itself."""

    label: Label
    scopes: Scopes
    days: Annotated[int, Meta(ge=1, le=3650)] | None = None


class NewWord(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A publishable word to be made: for whose pages, and for how long; without `days` it does not
    end by itself."""

    label: Label
    days: Annotated[int, Meta(ge=1, le=3650)] | None = None


class Rotation(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How a key is changed for a new one: for how many hours the old one is still good, and for
    how many days the new one is; without `days` for as long as the old one was made for."""

    overlap_h: Annotated[int, Meta(ge=0, le=720)] = 24
    days: Annotated[int, Meta(ge=1, le=3650)] | None = None


class Key(Struct, frozen=True, kw_only=True):
    """A key as it is kept. `used_at` is right to a minute; `replaces` names the key whose place it
    took."""

    key: KeyId
    kind: Kind
    label: str
    scopes: tuple[Scope, ...]
    created_at: Moment
    expires_at: Moment | None
    revoked_at: Moment | None
    used_at: Moment | None
    replaces: KeyId | None


class MadeKey(Struct, frozen=True, kw_only=True):
    """A key just made, with its token: keep it now, it is not shown again."""

    key: Key
    token: str


class Keys(Struct, frozen=True, kw_only=True):
    """Every key of the shop, oldest first, ended ones too: events name who recorded them."""

    keys: tuple[Key, ...]


class OneKey(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which key."""

    key: KeyId


@running("GET", "/v1/keys", tag="Keys", scope="admin", answers={JSON: Keys})
async def list_keys(call: Call[Nothing]) -> Reply:
    """List the keys, oldest first; no token is kept or told."""
    found = await call.service.in_thread(call.service.keyring.book.all)
    return Reply(ENCODER.encode(Keys(keys=tuple(_shown(key) for key in found))))


@running("POST", "/v1/keys", tag="Keys", scope="admin", answers={JSON: MadeKey}, body=NewKey,
         status=(201,))  # fmt: skip
async def add_key(call: Call[Nothing]) -> Reply:
    """Make a key. Its token is in this answer and nowhere else."""
    asked: NewKey = typed(plain(call.body), NewKey)
    require_once(asked.scopes, "/scopes")
    return await _made(call, asked.label, asked.scopes, asked.days, "secret")


@running("POST", "/v1/publishable-keys", tag="Keys", scope="admin", answers={JSON: MadeKey},
         body=NewWord, status=(201,))  # fmt: skip
async def add_publishable_key(call: Call[Nothing]) -> Reply:
    """Make a word that may stand in the pages of a web shop, for all to read.

    It begins with `clw_`, asks for ship promises (scope `storefront`), only by GET, and opens
    nothing else. It is listed, rotated and revoked as a key is.
    """
    asked: NewWord = typed(plain(call.body), NewWord)
    return await _made(call, asked.label, PUBLISHABLE_SCOPES, asked.days, "publishable")


@running("DELETE", "/v1/keys/{key}", tag="Keys", scope="admin", answers={}, status=(204,),
         problems=("not_found", "own_key"))  # fmt: skip
async def revoke_key(call: Call[OneKey]) -> Reply:
    """Revoke a key: it ends at once and for good.

    Doing it again changes nothing. A key cannot revoke itself, so that nobody locks the shop out.
    """
    service, key_id = call.service, call.query.key
    at_us = micros(service.clock())
    if call.key is not None and call.key.key_id == key_id:
        raise ProblemError("own_key", "this key makes the request")

    def end() -> bool:
        if service.keyring.book.find(key_id) is None:
            return False
        service.keyring.book.revoke(key_id, at_us)
        return True

    if not await service.in_thread(end):
        raise ProblemError("not_found", f"no key {key_id}")
    service.keyring.forget(key_id)
    return Reply(b"", 204, "", NEVER_CACHED)


@running("POST", "/v1/keys/{key}/rotate", tag="Keys", scope="admin", answers={JSON: MadeKey},
         body=Rotation, status=(201,), problems=("not_found", "key_ended"))  # fmt: skip
async def rotate_key(call: Call[OneKey]) -> Reply:
    """Change a key for a new one with the same scopes. The new token is in this answer only.

    Both are good for `overlap_h` hours, so that nothing stops meanwhile; then the old one ends by
    itself. A key that was rotated cannot be rotated again, only the one that took its place.
    """
    service, key_id = call.service, call.query.key
    asked: Rotation = typed(plain(call.body), Rotation)
    keyring, now_us = service.keyring, micros(service.clock())

    def change() -> tuple[str, ApiKey]:
        return rotated(keyring.book, keyring.secret, key_id, asked, now_us)

    token, kept = await service.in_thread(change)
    keyring.forget(key_id)
    made = MadeKey(key=_shown(kept), token=token)
    return Reply(ENCODER.encode(made), 201, headers=NEVER_CACHED)


OPERATIONS: tuple[Operation, ...] = (
    list_keys, add_key, add_publishable_key, revoke_key, rotate_key,
)  # fmt: skip


async def _made(
    call: Call[Nothing], label: str, scopes: Iterable[str], days: int | None, kind: Kind
) -> Reply:
    keyring, now = call.service.keyring, call.service.clock()
    ends = None if days is None else micros(now + timedelta(days=days))
    token, kept = make_key(keyring.secret, label, scopes, micros(now), ends, kind=kind)
    await call.service.in_thread(lambda: keyring.book.add(kept))
    made = MadeKey(key=_shown(kept), token=token)
    return Reply(ENCODER.encode(made), 201, headers=NEVER_CACHED)


def rotated(
    book: KeyBook, secret: bytes, key_id: str, asked: Rotation, now_us: int
) -> tuple[str, ApiKey]:
    """Change a key in the book for a new one, or refuse."""
    old = book.find(key_id)
    if old is None:
        raise ProblemError("not_found", f"no key {key_id}")
    if not old.is_valid(now_us):
        raise ProblemError("key_ended", f"key {key_id} is revoked or expired")
    before = None if old.replaces is None else book.find(old.replaces)
    if before is not None and before.is_valid(now_us):
        raise ProblemError("key_ended", f"key {before.key_id}, whose place it took, is still good")
    lives_us = None if old.expires_us is None else old.expires_us - old.created_us
    if asked.days is not None:
        lives_us = asked.days * 24 * HOUR_US
    ends_us = None if lives_us is None else now_us + lives_us
    token, new, old_ends_us = successor(secret, old, now_us, asked.overlap_h * HOUR_US, ends_us)
    if not book.rotate(key_id, old_ends_us, new):
        raise ProblemError("key_ended", f"another key took the place of {key_id} already")
    return token, new


def require_once(words: Sequence[str], pointer: str) -> None:
    """Refuse a list that names something twice."""
    if len(set(words)) != len(words):
        raise refuse("invalid", pointer, "each is named once")


def _shown(key: ApiKey) -> Key:
    return Key(
        key=key.key_id,
        kind=key.kind,
        label=key.label,
        scopes=tuple(sorted(key.scopes)),  # type: ignore[arg-type]
        created_at=moment(key.created_us),
        expires_at=moment_or_none(key.expires_us),
        revoked_at=moment_or_none(key.revoked_us),
        used_at=moment_or_none(key.used_us),
        replaces=key.replaces,
    )
