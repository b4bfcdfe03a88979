"""A time stamping authority for tests: RFC 3161 tokens over any text, at any time."""

from datetime import UTC, datetime, timedelta
from hashlib import sha256

from asn1crypto import algos, cms, core, tsp
from asn1crypto import x509 as asn1_x509
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

BORN = datetime(2026, 1, 1, tzinfo=UTC)
AT = datetime(2026, 3, 7, 18, 30, tzinfo=UTC)


class Stamper:
    """One authority with its root; `token` stamps a text."""

    def __init__(self, name: str = "Harbour clock") -> None:
        self._root_key = ec.generate_private_key(ec.SECP256R1())
        self._key = ec.generate_private_key(ec.SECP256R1())
        root_name, own_name = (_named(f"{name} root"), _named(name))
        self.root = _certificate(root_name, root_name, self._root_key.public_key(), self._root_key)
        self.own = _certificate(
            own_name, root_name, self._key.public_key(), self._root_key, stamps=True
        )

    @property
    def root_pem(self) -> bytes:
        """The root as a file that a reader is handed."""
        return self.root.public_bytes(serialization.Encoding.PEM)

    def token(self, text: str, at: datetime = AT) -> bytes:
        """Stamp a text. *Reference:* RFC 3161, 2.4.2; RFC 5652, 5; RFC 5816 for the hash."""
        content = _info(text, at).dump()
        der = self.own.public_bytes(serialization.Encoding.DER)
        mine = asn1_x509.Certificate.load(der)
        attributes = cms.CMSAttributes([
            {"type": "content_type", "values": ["tst_info"]},
            {"type": "message_digest", "values": [sha256(content).digest()]},
            {"type": "signing_certificate_v2", "values": [
                {"certs": [{"cert_hash": sha256(der).digest()}]}
            ]},
        ])  # fmt: skip
        signature = self._key.sign(attributes.dump(), ec.ECDSA(hashes.SHA256()))
        signer = cms.SignerInfo({
            "version": "v1",
            "sid": cms.SignerIdentifier("issuer_and_serial_number", cms.IssuerAndSerialNumber({
                "issuer": mine.issuer, "serial_number": mine.serial_number,
            })),
            "digest_algorithm": _sha256(),
            "signed_attrs": attributes,
            "signature_algorithm": algos.SignedDigestAlgorithm({"algorithm": "sha256_ecdsa"}),
            "signature": signature,
        })  # fmt: skip
        signed = cms.SignedData({
            "version": "v3",
            "digest_algorithms": [_sha256()],
            "encap_content_info": {
                "content_type": "tst_info", "content": core.ParsableOctetString(content)
            },
            "certificates": [mine],
            "signer_infos": [signer],
        })  # fmt: skip
        return bytes(cms.ContentInfo({"content_type": "signed_data", "content": signed}).dump())


def _info(text: str, at: datetime) -> tsp.TSTInfo:
    imprint = {"hash_algorithm": _sha256(), "hashed_message": sha256(text.encode()).digest()}
    return tsp.TSTInfo({
        "version": "v1", "policy": "1.2.3.4", "message_imprint": imprint,
        "serial_number": 1, "gen_time": at,
    })  # fmt: skip


def _sha256() -> algos.DigestAlgorithm:
    return algos.DigestAlgorithm({"algorithm": "sha256"})


def _named(name: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])


def _certificate(
    subject: x509.Name, issuer: x509.Name, public: ec.EllipticCurvePublicKey,
    signer: ec.EllipticCurvePrivateKey, *, stamps: bool = False,
) -> x509.Certificate:  # fmt: skip
    builder = x509.CertificateBuilder(
        issuer_name=issuer, subject_name=subject, public_key=public,
        serial_number=2 if stamps else 1,
        not_valid_before=BORN, not_valid_after=BORN + timedelta(days=3650),
    )  # fmt: skip
    builder = builder.add_extension(x509.BasicConstraints(not stamps, None), critical=True)
    if stamps:
        usage = x509.ExtendedKeyUsage([ExtendedKeyUsageOID.TIME_STAMPING])
        builder = builder.add_extension(usage, critical=True)
    key_id = x509.SubjectKeyIdentifier.from_public_key(public)
    builder = builder.add_extension(key_id, critical=False)
    own = x509.AuthorityKeyIdentifier.from_issuer_public_key(signer.public_key())
    builder = builder.add_extension(own, critical=False)
    return builder.sign(signer, hashes.SHA256())
