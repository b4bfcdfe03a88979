"""Signed notes and heads against the published ones; Ed25519 itself is only borrowed here."""

import json
from pathlib import Path

import pytest
from coatledger.computations.signed_note import (
    COSIGNATURE,
    ED25519,
    Checkpoint,
    Key,
    Note,
    NoteError,
    Signature,
    checkpoint_of,
    key_of,
    note_of,
    signature,
    signed_by,
    with_signatures,
)
from coatledger_adapters.signing import verify
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from hypothesis import given
from hypothesis import strategies as st

GOLDEN = Path(__file__).parents[2] / "golden" / "computations"
VECTORS = json.loads((GOLDEN / "signed_notes.json").read_text(encoding="utf-8"))
VALID = [note for note in VECTORS["notes"] if note.get("valid")]
BODIES = VECTORS["checkpoint"]["bodies"]
WITNESS = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))


def named(name: str, kind: int = ED25519) -> Key:
    return Key(name, kind, WITNESS.public_key().public_bytes_raw())


@pytest.mark.parametrize("vector", VALID, ids=lambda v: v["name"])
def test_published_notes_read_verify_and_write_back_to_the_byte(vector: dict[str, str]) -> None:
    key, note = key_of(vector["vkey"]), note_of(vector["note"])
    assert key.text == vector["vkey"]
    assert note.whole == vector["note"]
    assert signed_by(note, key, verify) == 0


@pytest.mark.parametrize("vector", VALID, ids=lambda v: v["name"])
def test_a_published_note_with_one_changed_letter_is_refused(vector: dict[str, str]) -> None:
    note = note_of(vector["note"])
    for at in range(len(note.text) - 1):
        changed = note.text[:at] + ("x" if note.text[at] != "x" else "y") + note.text[at + 1 :]
        with pytest.raises(NoteError, match="is not that key's"):
            signed_by(note._replace(text=changed), key_of(vector["vkey"]), verify)


def test_a_key_of_the_wrong_length_is_refused() -> None:
    (wrong,) = (v for v in VECTORS["notes"] if v.get("valid_vkey") is False)
    with pytest.raises(NoteError):
        key_of(wrong["vkey"])


def test_a_mistyped_key_is_refused() -> None:
    text = VALID[0]["vkey"]
    for wrong in (text.replace("530d903a", "530d903b"), text.replace("foo", "fop"), text[:-1]):
        with pytest.raises(NoteError):
            key_of(wrong)
    with pytest.raises(NoteError, match="kind 2"):
        key_of(named("other", 2).text)


@pytest.mark.parametrize("body", BODIES, ids=lambda b: b["origin"])
def test_published_heads_read_and_write_back(body: dict[str, str]) -> None:
    head = checkpoint_of(body["body"])
    assert (head.origin, head.size) == (body["origin"], int(body["size"]))
    assert head.text == body["body"]


@pytest.mark.parametrize("text", VECTORS["checkpoint"]["must_reject"])
def test_published_wrong_heads_are_refused(text: str) -> None:
    with pytest.raises(NoteError):
        checkpoint_of(text)


@pytest.mark.parametrize("size", ["01", "-1", "+1", "1 ", "٣", "9223372036854775808", ""])
def test_a_size_is_written_in_one_way_only(size: str) -> None:
    with pytest.raises(NoteError):
        checkpoint_of(f"Log\n{size}\nYmFuYW5hcw==\n")


@pytest.mark.parametrize("root", ["YmFuYW5hcw=", "YmFuYW5hcx==", "YmFu YW5hcw==", "!"])
def test_a_root_is_written_in_one_way_only(root: str) -> None:
    with pytest.raises(NoteError):
        checkpoint_of(f"Log\n1\n{root}\n")


def test_extension_lines_are_kept() -> None:
    head = Checkpoint("Log", 1, bytes(32), ("more", "and more"))
    assert checkpoint_of(head.text) == head


@pytest.mark.parametrize(
    "wrong",
    [
        "text\n", "text\n\n", "text\n\n— name c2ln", "text\n\n- name c2lnbmVkIQ==\n",
        "text\n\n— na+me c2lnbmVkIQ==\n", "text\n\n— name\n", "text\n\n— name c2ln\n",
        "te\txt\n\n— name c2lnbmVkIQ==\n", "text\n\n— name c2lnbmVkIQ==\n\n",
        "text\n\n" + "— name c2lnbmVkIQ==\n" * 65,
    ],
)  # fmt: skip
def test_what_is_no_note_is_refused(wrong: str) -> None:
    with pytest.raises(NoteError):
        note_of(wrong)


def test_a_note_by_somebody_else_is_not_signed_by_this_key() -> None:
    assert signed_by(note_of(VALID[0]["note"]), named("somebody"), verify) is None


def test_a_cosigner_vouches_for_a_head_and_a_time() -> None:
    # The published example of a cosigned head gives the form; its keys are not published, so the
    # signature is made here over the message as the format words it.
    head = checkpoint_of(BODIES[0]["body"])
    key = named("witness.example.com/w1", COSIGNATURE)
    at_s = 1_679_315_147
    message = f"cosignature/v1\ntime {at_s}\n{head.text}".encode()
    value = at_s.to_bytes(8, "big") + WITNESS.sign(message)
    note = with_signatures(Note(head.text, ()), [signature(key, value)])
    assert signed_by(note_of(note.whole), key, verify) == at_s
    later = signature(key, (at_s + 1).to_bytes(8, "big") + value[8:])
    with pytest.raises(NoteError):
        signed_by(Note(head.text, (later,)), key, verify)


def test_a_line_is_added_once() -> None:
    note = note_of(VALID[0]["note"])
    line = Signature("name", b"abcd", b"more")
    twice = with_signatures(with_signatures(note, [line, line]), [line])
    assert twice.signatures == (*note.signatures, line)
    with pytest.raises(NoteError, match="more than 64"):
        with_signatures(note, [line._replace(value=bytes([i])) for i in range(64)])


@given(st.text(st.characters(codec="utf-8", exclude_categories=["Cc"]), min_size=1))
def test_any_text_without_control_characters_signs_and_reads_back(text: str) -> None:
    key = named("shop")
    signed = signature(key, WITNESS.sign(f"{text}\n".encode()))
    note = note_of(Note(f"{text}\n", (signed,)).whole)
    assert note.text == f"{text}\n"
    assert signed_by(note, key, verify) == 0
