"""Bearer tokens: how they are made and recognised, and the book of keys kept of them.

A token is `clk_`, eight characters of id, 32 of secret and six of checksum. Kept are the id and an
HMAC-SHA256 of the whole token under the service's own secret, never the token. The secret part
holds 190 random bits, so a slow hash would only invite overload.
"""

import hmac
import os
import secrets
import string
import zlib
from collections.abc import Callable, Iterable
from hashlib import sha256
from pathlib import Path
from threading import Lock
from typing import Literal, NamedTuple, Protocol

Scope = Literal["record", "read", "promise", "storefront", "audit", "admin"]
SCOPES: tuple[Scope, ...] = ("record", "read", "promise", "storefront", "audit", "admin")

PREFIX = "clk_"
ID_LENGTH, SECRET_LENGTH, CHECK_LENGTH = 8, 32, 6
TOKEN_LENGTH = len(PREFIX) + ID_LENGTH + SECRET_LENGTH + CHECK_LENGTH
_LETTERS = string.digits + string.ascii_uppercase + string.ascii_lowercase


class ApiKey(NamedTuple):
    """One key of a shop, as it is kept. Times are microseconds since 1970 UTC; None is never."""

    key_id: str
    label: str
    scopes: frozenset[str]
    token_hash: bytes
    created_us: int
    expires_us: int | None = None
    revoked_us: int | None = None
    used_us: int | None = None

    def is_valid(self, now_us: int) -> bool:
        """Whether the key may be used now."""
        expired = self.expires_us is not None and self.expires_us <= now_us
        return self.revoked_us is None and not expired


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


class MemoryKeys:
    """A key book in memory, for tests and trials."""

    def __init__(self, keys: Iterable[ApiKey] = ()) -> None:
        self._keys = {key.key_id: key for key in keys}
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

    def _change(self, key_id: str, change: Callable[[ApiKey], ApiKey]) -> None:
        with self._lock:
            if key_id in self._keys:
                self._keys[key_id] = change(self._keys[key_id])


def make_key(
    secret: bytes, label: str, scopes: Iterable[str], now_us: int, expires_us: int | None = None
) -> tuple[str, ApiKey]:
    """Make a new key; the token is returned once and kept nowhere."""
    chosen = frozenset(scopes)
    assert chosen and chosen <= frozenset(SCOPES)
    text = PREFIX + _random(ID_LENGTH) + _random(SECRET_LENGTH)
    token = text + _check(text)
    key_id = key_id_of(token)
    assert key_id is not None
    return token, ApiKey(key_id, label, chosen, hash_of(secret, token), now_us, expires_us)


def key_id_of(token: str) -> str | None:
    """Return the id inside a token, or None when it was mistyped or is no token of ours."""
    if len(token) != TOKEN_LENGTH or not token.startswith(PREFIX) or not token.isascii():
        return None
    text, check = token[:-CHECK_LENGTH], token[-CHECK_LENGTH:]
    if check != _check(text):
        return None
    return token[len(PREFIX) : len(PREFIX) + ID_LENGTH]


def hash_of(secret: bytes, token: str) -> bytes:
    """Hash a token under the service's secret."""
    return hmac.digest(secret, token.encode(), sha256)


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
