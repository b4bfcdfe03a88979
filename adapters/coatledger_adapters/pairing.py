"""One-time codes that pair a device: shown on one screen, read by another, exchanged for a key.

A code is twelve characters of Crockford's base 32 (sixty random bits), written in groups of four so
that it can also be typed. Kept is only its HMAC-SHA256 under the service's secret. It lives ten
minutes and ends with its first use, so whoever photographs the screen later holds nothing.
"""

import hmac
import re
import secrets
from datetime import timedelta
from hashlib import sha256

from coatledger_adapters.keys import ApiKey, Pairing, make_key

CODE_LIFE = timedelta(minutes=10)
CODE_LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
CODE_LENGTH, GROUP = 12, 4
# What is easily misread means the same as what it is mistaken for.
_READ_AS = str.maketrans("OIL", "011")
_SPACES = re.compile(r"[\s-]+")
_DAY_US = 86_400_000_000


def make_pairing(
    secret: bytes, name: str, scopes: frozenset[str], now_us: int, key_days: int | None
) -> tuple[str, Pairing]:
    """Make a code; it is returned once and kept nowhere."""
    letters = "".join(secrets.choice(CODE_LETTERS) for _ in range(CODE_LENGTH))
    ends_us = now_us + int(CODE_LIFE.total_seconds()) * 1_000_000
    kept = Pairing(_hash(secret, letters), name, scopes, key_days, now_us, ends_us)
    return "-".join(letters[i : i + GROUP] for i in range(0, CODE_LENGTH, GROUP)), kept


def hash_of_code(secret: bytes, code: str) -> bytes | None:
    """Hash a code as somebody typed it, or return None when it cannot be one."""
    letters = _SPACES.sub("", code).upper().translate(_READ_AS)
    if len(letters) != CODE_LENGTH or not set(letters) <= set(CODE_LETTERS):
        return None
    return _hash(secret, letters)


def key_of_pairing(secret: bytes, pairing: Pairing, now_us: int) -> tuple[str, ApiKey]:
    """Make the key that a code is exchanged for, with its token."""
    ends_us = None if pairing.key_days is None else now_us + pairing.key_days * _DAY_US
    return make_key(secret, pairing.name, pairing.scopes, now_us, ends_us)


def _hash(secret: bytes, letters: str) -> bytes:
    return hmac.digest(secret, b"pairing:" + letters.encode(), sha256)
