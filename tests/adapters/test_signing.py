"""Ed25519 against RFC 8032, and the key file: made once, read by its owner only."""

import json
import stat
from pathlib import Path

import pytest
from coatledger.computations.signed_note import Checkpoint, key_of, note_of, signed_by
from coatledger_adapters.signing import KEY_FILE, KeyFileError, Signer, signer_in, verify
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

GOLDEN = Path(__file__).parents[1] / "golden" / "computations"
VECTORS = json.loads((GOLDEN / "ed25519.json").read_text(encoding="utf-8"))["vectors"]


@pytest.mark.parametrize("vector", VECTORS, ids=lambda v: v["name"])
def test_signatures_are_the_published_ones(vector: dict[str, str]) -> None:
    secret, public, message, value = (
        bytes.fromhex(vector[f"{part}_hex"])
        for part in ("secret", "public", "message", "signature")
    )
    private = Ed25519PrivateKey.from_private_bytes(secret)
    assert private.public_key().public_bytes_raw() == public
    assert private.sign(message) == value
    assert verify(public, message, value)
    assert not verify(public, message + b"!", value)
    assert not verify(public, message, value[:-1])
    assert not verify(public[:-1], message, value)
    for at in range(len(value)):
        assert not verify(public, message, value[:at] + bytes([value[at] ^ 1]) + value[at + 1 :])


def test_a_head_signed_by_the_shop_reads_and_verifies_from_its_text(tmp_path: Path) -> None:
    signer = signer_in(tmp_path, "dune-end")
    note = signer.sign(Checkpoint("dune-end/first", 7, bytes(32)))
    assert signed_by(note_of(note.whole), key_of(signer.key.text), verify) == 0


def test_the_key_is_made_once_and_for_its_owner_only(tmp_path: Path) -> None:
    first = signer_in(tmp_path, "dune-end")
    assert stat.S_IMODE((tmp_path / KEY_FILE).stat().st_mode) == 0o600
    assert signer_in(tmp_path, "dune-end").key == first.key
    (tmp_path / KEY_FILE).chmod(0o644)
    with pytest.raises(KeyFileError, match="chmod 600"):
        signer_in(tmp_path, "dune-end")


@pytest.mark.parametrize("text", ["", "no hex", "00" * 31])
def test_a_file_that_holds_no_key_is_refused(tmp_path: Path, text: str) -> None:
    path = tmp_path / KEY_FILE
    path.write_text(text, encoding="ascii")
    path.chmod(0o600)
    with pytest.raises(KeyFileError):
        signer_in(tmp_path, "dune-end")


def test_a_word_has_the_same_salt_each_time_and_another_under_another_key() -> None:
    one, other = Signer("dune-end", bytes(32)), Signer("dune-end", bytes([1] * 32))
    assert one.salt("O-7") == one.salt("O-7")
    assert len({one.salt("O-7"), one.salt("O-8"), other.salt("O-7")}) == 3
