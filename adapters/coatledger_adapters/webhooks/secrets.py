"""The secrets messages are signed with: made, kept under seal, and used.

*Reference:* Standard Webhooks 1.0.0, "Signature scheme" and "Webhook headers": HMAC-SHA256 over
`id.timestamp.body`, `v1,` and base64; the secret is 24 to 64 random bytes in base64 behind
`whsec_`; while one secret takes the place of another, both sign.
"""

import base64
import hmac
import secrets
from collections.abc import Iterable, Mapping
from hashlib import sha256
from typing import Final

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

PREFIX: Final = "whsec_"
SECRET_BYTES: Final = 32
NONCE_BYTES: Final = 12


class SealError(Exception):
    """A secret cannot be opened: the service's own secret is not the one it was sealed with."""


def make_secret() -> str:
    """Make a new secret, as it is shown to the receiver once."""
    return PREFIX + base64.b64encode(secrets.token_bytes(SECRET_BYTES)).decode()


def headers_for(
    signing: Iterable[str], message_id: str, at_s: int, body: bytes
) -> Mapping[str, str]:
    """Return the three headers of one try; each secret adds its signature."""
    assert "." not in message_id, "the signature could not tell where the id ends"
    signed = f"{message_id}.{at_s}.".encode() + body
    signatures = [
        "v1," + base64.b64encode(hmac.digest(_key(secret), signed, sha256)).decode()
        for secret in signing
    ]
    return {
        "webhook-id": message_id,
        "webhook-timestamp": str(at_s),
        "webhook-signature": " ".join(signatures),
    }


def seal(own: bytes, secret: str) -> bytes:
    """Lock a secret up under the service's own, so that a copy of the database tells it nobody."""
    nonce = secrets.token_bytes(NONCE_BYTES)
    return nonce + _cipher(own).encrypt(nonce, secret.encode(), None)


def unseal(own: bytes, sealed: bytes) -> str:
    """Open a secret again."""
    try:
        return _cipher(own).decrypt(sealed[:NONCE_BYTES], sealed[NONCE_BYTES:], None).decode()
    except InvalidTag as error:
        raise SealError from error


def _cipher(own: bytes) -> AESGCM:
    return AESGCM(hmac.digest(own, b"secrets of webhooks", sha256))


def _key(secret: str) -> bytes:
    return base64.b64decode(secret.removeprefix(PREFIX))
