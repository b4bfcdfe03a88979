"""The shop's signing key, and Ed25519 itself; whoever only checks needs no key file.

The key is a file beside the ledger that its owner alone may read, made when it is first needed.
Who has it can sign in the shop's name; who loses it can still check what was signed.
"""

import hmac
import os
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path

from coatledger.computations.signed_note import (
    ED25519,
    Checkpoint,
    Key,
    Note,
    signature,
)
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

KEY_FILE = "signing.key"
SEED_BYTES = 32


class KeyFileError(Exception):
    """The key file cannot be used; the message says why."""


class Signer:
    """One shop's key. Its name is the shop's, so that the key outlives a restored backup."""

    def __init__(self, shop: str, seed: bytes) -> None:
        self._private = Ed25519PrivateKey.from_private_bytes(seed)
        self._secret = hmac.digest(seed, b"coatledger commitments", sha256)
        self.key = Key(shop, ED25519, self._private.public_key().public_bytes_raw())

    def sign(self, checkpoint: Checkpoint) -> Note:
        """Sign a tree's head."""
        text = checkpoint.text
        return Note(text, (signature(self.key, self._private.sign(text.encode())),))

    def seal(self, text: bytes) -> bytes:
        """Sign the text that stands for a whole file."""
        return self._private.sign(text)

    def salt(self, word: str) -> bytes:
        """Return the salt that hides one word, the same each time, known to nobody else."""
        return hmac.digest(self._secret, word.encode(), sha256)


def verify(public: bytes, message: bytes, value: bytes) -> bool:
    """Say whether a signature is right. *Reference:* RFC 8032, Ed25519."""
    try:
        Ed25519PublicKey.from_public_bytes(public).verify(value, message)
    except (InvalidSignature, ValueError):
        return False
    return True


def signer_of(secret: bytes, shop: str) -> Signer:
    """Make a signer of another secret, for trials that keep no key file."""
    return Signer(shop, hmac.digest(secret, b"coatledger signing", sha256))


def signer_in(folder: Path, shop: str, random: Callable[[int], bytes] = os.urandom) -> Signer:
    """Read the key in a folder; make it, for the owner's eyes only, when there is none yet."""
    path = folder / KEY_FILE
    try:
        file = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return Signer(shop, _read(path))
    seed = random(SEED_BYTES)
    with os.fdopen(file, "w", encoding="ascii") as out:
        out.write(seed.hex() + "\n")
        out.flush()
        os.fsync(out.fileno())
    return Signer(shop, seed)


def _read(path: Path) -> bytes:
    if os.name == "posix" and path.stat().st_mode & 0o077:
        raise KeyFileError(f"others may read {path}: run chmod 600 on it, then look who did")
    try:
        seed = bytes.fromhex(path.read_text(encoding="ascii").strip())
    except ValueError as error:
        raise KeyFileError(f"{path} holds no key: put the one from your backup there") from error
    if len(seed) != SEED_BYTES:
        raise KeyFileError(f"{path} holds {len(seed)} bytes where a key has {SEED_BYTES}")
    return seed
