"""Bearer tokens: how they are made and recognised, and the book of keys kept of them.

A token is `clk_`, eight characters of id, 32 of secret and six of checksum. Kept are the id and an
HMAC-SHA256 of the whole token under the service's own secret, never the token. The secret part
holds 190 random bits, so a slow hash would only invite overload. A publishable word is made alike
but begins with `clw_`: it stands in the page of a web shop for all to see, so it opens almost
nothing.
"""

import hmac
import os
import secrets
import string
import zlib
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from threading import Lock
from typing import Literal, NamedTuple, Protocol

Scope = Literal["record", "read", "promise", "storefront", "audit", "admin"]
SCOPES: tuple[Scope, ...] = ("record", "read", "promise", "storefront", "audit", "admin")

# What may be read by strangers is told apart from what may not at the first glance.
Kind = Literal["secret", "publishable"]
PREFIXES: Mapping[Kind, str] = {"secret": "clk_", "publishable": "clw_"}
PUBLISHABLE_SCOPES: frozenset[str] = frozenset(("storefront",))
ID_LENGTH, SECRET_LENGTH, CHECK_LENGTH = 8, 32, 6
TOKEN_LENGTH = 4 + ID_LENGTH + SECRET_LENGTH + CHECK_LENGTH
OFFERED_MAX = 100
Claim = Literal["claimed", "unknown", "ended"]
_LETTERS = string.digits + string.ascii_uppercase + string.ascii_lowercase


class ApiKey(NamedTuple):
    """One key of a shop, as it is kept. Times are microseconds since 1970 UTC; None is never.

    `replaces` names the key this one was made in place of when that was rotated.
    """

    key_id: str
    label: str
    scopes: frozenset[str]
    token_hash: bytes
    created_us: int
    expires_us: int | None = None
    revoked_us: int | None = None
    used_us: int | None = None
    kind: Kind = "secret"
    replaces: str | None = None

    def is_valid(self, now_us: int) -> bool:
        """Whether the key may be used now."""
        expired = self.expires_us is not None and self.expires_us <= now_us
        return self.revoked_us is None and not expired


class Pairing(NamedTuple):
    """A code as it is kept, and the key it is good for. Times are microseconds since 1970 UTC."""

    code_hash: bytes
    name: str
    scopes: frozenset[str]
    key_days: int | None
    made_us: int
    ends_us: int
    claimed_us: int | None = None
    key_id: str | None = None

    def claimed(self, at_us: int, key_id: str) -> "Pairing":
        """The code after its use."""
        return self._replace(claimed_us=at_us, key_id=key_id)

    @property
    def pairing_id(self) -> str:
        """What it is called where it is listed; nothing of the code can be told from it."""
        return self.code_hash[:8].hex()

    def is_open(self, now_us: int) -> bool:
        """Whether the code may still be exchanged."""
        return self.claimed_us is None and now_us < self.ends_us


class KeyBook(Protocol):
    """Where one shop's keys are kept. Keys are never deleted: events name who recorded them."""

    def find(self, key_id: str) -> ApiKey | None:
        """Return the key of this id, or None."""

    def all(self) -> tuple[ApiKey, ...]:
        """Return every key, oldest first."""

    def add(self, key: ApiKey) -> None:
        """Keep a new key."""

    def revoke(self, key_id: str, at_us: int) -> None:
        """End a key now; doing it again changes nothing."""

    def used(self, key_id: str, at_us: int) -> None:
        """Note when a key was last used."""

    def rotate(self, key_id: str, ends_us: int, new: ApiKey) -> bool:
        """Keep the key that takes another's place, and let that one end: both, or neither when
        another took its place already."""

    def offer(self, pairing: Pairing) -> None:
        """Keep a new code."""

    def offered(self) -> tuple[Pairing, ...]:
        """Return the codes made, newest first, at most `OFFERED_MAX`."""

    def claim(self, code_hash: bytes, now_us: int, key: Callable[[Pairing], ApiKey]) -> Claim:
        """Exchange a code for the key made of it, once; refused are unknown and ended codes."""


class MemoryKeys:
    """A key book in memory, for tests and trials."""

    def __init__(self, keys: Iterable[ApiKey] = ()) -> None:
        self._keys = {key.key_id: key for key in keys}
        self._pairings: dict[bytes, Pairing] = {}
        self._lock = Lock()

    def find(self, key_id: str) -> ApiKey | None:
        """Return the key of this id, or None."""
        return self._keys.get(key_id)

    def all(self) -> tuple[ApiKey, ...]:
        """Return every key, oldest first."""
        with self._lock:
            return tuple(sorted(self._keys.values(), key=lambda key: (key.created_us, key.key_id)))

    def add(self, key: ApiKey) -> None:
        """Keep a new key."""
        with self._lock:
            assert key.key_id not in self._keys
            self._keys[key.key_id] = key

    def revoke(self, key_id: str, at_us: int) -> None:
        """End a key now; doing it again changes nothing."""
        self._change(key_id, lambda key: key if key.revoked_us else key._replace(revoked_us=at_us))

    def used(self, key_id: str, at_us: int) -> None:
        """Note when a key was last used."""
        self._change(key_id, lambda key: key._replace(used_us=at_us))

    def rotate(self, key_id: str, ends_us: int, new: ApiKey) -> bool:
        """Keep the key that takes another's place, and let that one end: both, or neither when
        another took its place already."""
        with self._lock:
            if any(key.replaces == key_id for key in self._keys.values()):
                return False
            self._keys[key_id] = self._keys[key_id]._replace(expires_us=ends_us)
            self._keys[new.key_id] = new
            return True

    def offer(self, pairing: Pairing) -> None:
        """Keep a new code."""
        with self._lock:
            self._pairings[pairing.code_hash] = pairing

    def offered(self) -> tuple[Pairing, ...]:
        """Return the codes made, newest first, at most `OFFERED_MAX`."""
        with self._lock:
            every = sorted(self._pairings.values(), key=lambda one: (-one.made_us, one.code_hash))
            return tuple(every[:OFFERED_MAX])

    def claim(self, code_hash: bytes, now_us: int, key: Callable[[Pairing], ApiKey]) -> Claim:
        """Exchange a code for the key made of it, once; refused are unknown and ended codes."""
        with self._lock:
            found = self._pairings.get(code_hash)
            if found is None or not found.is_open(now_us):
                return "unknown" if found is None else "ended"
            made = key(found)
            self._keys[made.key_id] = made
            self._pairings[code_hash] = found.claimed(now_us, made.key_id)
            return "claimed"

    def _change(self, key_id: str, change: Callable[[ApiKey], ApiKey]) -> None:
        with self._lock:
            if key_id in self._keys:
                self._keys[key_id] = change(self._keys[key_id])


def make_key(
    secret: bytes, label: str, scopes: Iterable[str], now_us: int, expires_us: int | None = None,
    *, kind: Kind = "secret",
) -> tuple[str, ApiKey]:  # fmt: skip
    """Make a new key; the token is returned once and kept nowhere."""
    chosen = frozenset(scopes)
    assert chosen and chosen <= frozenset(SCOPES)
    assert kind == "secret" or chosen == PUBLISHABLE_SCOPES
    text = PREFIXES[kind] + _random(ID_LENGTH) + _random(SECRET_LENGTH)
    token = text + _check(text)
    key_id = key_id_of(token)
    assert key_id is not None
    kept = ApiKey(key_id, label, chosen, hash_of(secret, token), now_us, expires_us, kind=kind)
    return token, kept


def successor(
    secret: bytes, old: ApiKey, now_us: int, overlap_us: int, expires_us: int | None
) -> tuple[str, ApiKey, int]:
    """Make the key that takes a key's place, and say when the old one ends.

    For the overlap both are good, so that whoever holds the old token can change over; a key that
    would have ended sooner still does.
    """
    token, kept = make_key(secret, old.label, old.scopes, now_us, expires_us, kind=old.kind)
    ends_us = now_us + overlap_us
    if old.expires_us is not None:
        ends_us = min(ends_us, old.expires_us)
    return token, kept._replace(replaces=old.key_id), ends_us


def key_id_of(token: str) -> str | None:
    """Return the id inside a token, or None when it was mistyped or is no token of ours."""
    if len(token) != TOKEN_LENGTH or not token.isascii():
        return None
    if not token.startswith(tuple(PREFIXES.values())):
        return None
    text, check = token[:-CHECK_LENGTH], token[-CHECK_LENGTH:]
    if check != _check(text):
        return None
    return token[4 : 4 + ID_LENGTH]


def hash_of(secret: bytes, token: str) -> bytes:
    """Hash a token under the service's secret."""
    # `hmac.digest` would let other threads go on meanwhile, and then wait for its turn.
    return hmac.new(secret, token.encode(), "sha256").digest()


def is_token_of(key: ApiKey, secret: bytes, token: str) -> bool:
    """Whether this is the token the key was made with, in the same time whatever is wrong."""
    return hmac.compare_digest(key.token_hash, hash_of(secret, token))


def secret_in(path: Path) -> bytes:
    """Read the service's secret from its file; make it, for the owner's eyes only, when missing.

    Without this file no token is recognised any more, so it belongs in a backup, but apart.
    """
    try:
        file = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        kept = bytes.fromhex(path.read_text(encoding="ascii").strip())
        assert len(kept) >= 32, f"{path} holds too short a secret"
        return kept
    made = secrets.token_bytes(32)
    with os.fdopen(file, "w", encoding="ascii") as out:
        out.write(made.hex() + "\n")
        out.flush()
        os.fsync(out.fileno())
    return made


def _random(length: int) -> str:
    return "".join(secrets.choice(_LETTERS) for _ in range(length))


def _check(text: str) -> str:
    rest, letters = zlib.crc32(text.encode()), ""
    for _ in range(CHECK_LENGTH):
        rest, digit = divmod(rest, len(_LETTERS))
        letters += _LETTERS[digit]
    return letters
