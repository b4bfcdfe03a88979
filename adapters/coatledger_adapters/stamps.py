"""Time stamps of outsiders over a signed head: what a token says, and whether its issuer said it.

A token that is over another text is refused when it is handed in and a fault where it is found.
Who issued it is only known to somebody who has the issuer's certificate.
"""

import base64
from collections.abc import Sequence
from datetime import datetime
from hashlib import sha256
from typing import NamedTuple

from coatledger.computations.signed_note import note_of
from coatledger.ledger.pack import Pack
from coatledger.ledger.pack_check import STAMPED, PackFault, Verdict
from cryptography import x509
from rfc3161_client import (
    TimeStampResponse,
    VerificationError,
    VerifierBuilder,
    decode_timestamp_response,
)

SHA_256 = "2.16.840.1.101.3.4.2.1"
# PKIStatusInfo "granted": what stands before a token in the answer it came in (RFC 3161, 2.4.2).
GRANTED = bytes.fromhex("3003020100")
READ = (
    "That the time stamp over the head is of {at:%Y-%m-%d at %H:%M:%SZ}: give its issuer's "
    "certificate to check that."
)
PROVEN = (
    "{issuer} stamped the signed head on {at:%Y-%m-%d at %H:%M:%SZ}: the ledger is at least as old "
    "as that."
)


class StampError(ValueError):
    """A time stamp is none, is over another text, or is not of the issuer it should be of."""


class Stamp(NamedTuple):
    """When a token says the head existed, in UTC, and who signed it, as its certificate says."""

    at: datetime
    issuer: str


def stamp_of(token: bytes, text: str) -> Stamp:
    """Read an RFC 3161 token, and refuse one that is not over the SHA-256 of a text."""
    try:
        answer = _answer(token)
        over, stamp = answer.tst_info.message_imprint, _stamp(answer)
    except Exception as error:
        raise StampError("it is no RFC 3161 time stamp token") from error
    if over.hash_algorithm.dotted_string != SHA_256:
        raise StampError("the time stamp is not over a SHA-256 hash")
    if bytes(over.message) != sha256(text.encode()).digest():
        raise StampError("the time stamp is over another text than this signed head's")
    return stamp


def vouched(token: bytes, text: str, authorities: Sequence[x509.Certificate]) -> Stamp:
    """Read a token whose signer one of the authorities vouches for.

    *Reference:* RFC 3161, section 2.2 and 2.3; the chain is checked as it was at the stamped time.
    """
    stamp = stamp_of(token, text)
    builder = VerifierBuilder()
    for authority in authorities:
        builder = builder.add_root_certificate(authority)
    try:
        builder.build().verify_message(_answer(token), text.encode())
    except (VerificationError, ValueError) as error:
        raise StampError(f"no certificate that was given vouches for it: {error}") from None
    return stamp


def with_stamp(
    verdict: Verdict, pack: Pack, authorities: Sequence[x509.Certificate] = ()
) -> Verdict:
    """Say in a verdict what the pack's time stamp proves, or why it does not hold."""
    if pack.stamp is None or not verdict.holds:
        return verdict
    text = note_of(pack.checkpoint).text
    verdict = verdict._replace(stated=tuple(says for says in verdict.stated if says != STAMPED))
    try:
        token = base64.b64decode(pack.stamp, validate=True)
        stamp = vouched(token, text, authorities) if authorities else stamp_of(token, text)
    except ValueError as error:  # the token's fault, or Base64's
        return verdict._replace(faults=(*verdict.faults, PackFault(None, str(error))))
    if authorities:
        return verdict._replace(proven=(*verdict.proven, PROVEN.format(**stamp._asdict())))
    return verdict._replace(stated=(*verdict.stated, READ.format(at=stamp.at)))


def _answer(token: bytes) -> TimeStampResponse:
    size = len(GRANTED) + len(token)
    return decode_timestamp_response(b"\x30" + _length(size) + GRANTED + token)


def _length(size: int) -> bytes:
    """Write a length as DER does. *Reference:* ITU-T X.690, 8.1.3."""
    if size < 0x80:
        return bytes([size])
    octets = size.to_bytes((size.bit_length() + 7) // 8, "big")
    return bytes([0x80 | len(octets)]) + octets


def _stamp(answer: TimeStampResponse) -> Stamp:
    """Take the time and the name of the one signer, as its enclosed certificate has it."""
    (signer,) = answer.signed_data.signer_infos
    name = signer.issuer
    for data in answer.signed_data.certificates:
        certificate = x509.load_der_x509_certificate(bytes(data))
        if certificate.serial_number == signer.serial_number:
            name = certificate.subject
    return Stamp(answer.tst_info.gen_time, name.rfc4514_string())
