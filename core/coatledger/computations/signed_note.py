"""Signed notes and tree heads in the text form of C2SP, that other people's tools can read.

A note is a text and the signatures under it; a checkpoint is a note whose text is a tree's head.
No cryptography lives here: whoever checks hands in a function that knows Ed25519.
"""

import base64
import binascii
import re
from collections.abc import Callable, Sequence
from hashlib import sha256
from typing import Final, NamedTuple

# Says whether a signature is one of a message under a public key: (key, message, signature).
Verify = Callable[[bytes, bytes, bytes], bool]

ED25519: Final = 1
COSIGNATURE: Final = 4  # an Ed25519 signature with the time at which its maker saw the head
PUBLIC_KEY_BYTES: Final = 32
SIGNATURES_MAX: Final = 64
SIZE_MAX: Final = 2**63 - 1

_MARK: Final = "— "  # an em dash and a space, as the format asks for
_SIZE = re.compile(r"0|[1-9][0-9]{0,18}")
_NAME = re.compile(r"[^\s+\x00-\x1f]+")


class NoteError(ValueError):
    """The text is no signed note, no checkpoint or no key, or it was not signed as it says."""


class Key(NamedTuple):
    """Whose signature is trusted: a name, a kind of signature and a public key."""

    name: str
    kind: int
    public: bytes

    @property
    def key_id(self) -> bytes:
        """Return what stands before each of this key's signatures.

        *Reference:* C2SP signed-note, SHA-256(name || 0x0A || kind || public key)[:4].
        """
        return sha256(self.name.encode() + b"\n" + bytes([self.kind]) + self.public).digest()[:4]

    @property
    def text(self) -> str:
        """Write the key as people pass it on: name, id, and kind with the key in Base64."""
        return f"{self.name}+{self.key_id.hex()}+{_base64(bytes([self.kind]) + self.public)}"


class Signature(NamedTuple):
    """One line under a note: who says to have signed, and what they wrote."""

    name: str
    key_id: bytes
    value: bytes

    @property
    def line(self) -> str:
        """Write the line, without its end."""
        return f"{_MARK}{self.name} {_base64(self.key_id + self.value)}"


class Note(NamedTuple):
    """A text, ending in a line break, and the signatures under it."""

    text: str
    signatures: tuple[Signature, ...]

    @property
    def whole(self) -> str:
        """Write the note with its signatures."""
        return self.text + "\n" + "".join(f"{signed.line}\n" for signed in self.signatures)


class Checkpoint(NamedTuple):
    """A tree's head: whose tree, how many leaves, and the root over them."""

    origin: str
    size: int
    root: bytes
    extensions: tuple[str, ...] = ()

    @property
    def text(self) -> str:
        """Write the head as a note's text. *Reference:* C2SP tlog-checkpoint."""
        lines = (self.origin, str(self.size), _base64(self.root), *self.extensions)
        assert all(line and "\n" not in line for line in lines), "a line is not empty and one line"
        return "".join(f"{line}\n" for line in lines)


def key_of(text: str) -> Key:
    """Read a key from its text form.

    *Reference:* C2SP signed-note, verifier keys. *Valid:* Ed25519 keys, for a log's signatures
    and for cosignatures; the id in the text has to be the key's own.
    """
    name, _, rest = text.strip().partition("+")
    key_id, _, material = rest.partition("+")
    known = _bytes(material, "the key")
    if _NAME.fullmatch(name) is None or len(known) != 1 + PUBLIC_KEY_BYTES:
        raise NoteError("a key reads name+id+Base64 of one byte and 32 bytes of Ed25519")
    key = Key(name, known[0], known[1:])
    if key.kind not in (ED25519, COSIGNATURE):
        raise NoteError(f"signatures of kind {key.kind} are not known here")
    if key.key_id.hex() != key_id:
        raise NoteError(f"the key's id is {key.key_id.hex()}, not {key_id}: it was mistyped")
    return key


def note_of(whole: str) -> Note:
    """Read a signed note. *Reference:* C2SP signed-note."""
    if any(character < " " and character != "\n" for character in whole):
        raise NoteError("a note has no control characters but line breaks")
    head, gap, tail = whole.rpartition("\n\n")
    if not gap or not tail.endswith("\n") or not head:
        raise NoteError("a note is a text, an empty line, and signatures, each ending its line")
    lines = tail[:-1].split("\n")
    if len(lines) > SIGNATURES_MAX:
        raise NoteError(f"more than {SIGNATURES_MAX} signatures")
    return Note(head + "\n", tuple(signature_of(line) for line in lines))


def signature_of(line: str) -> Signature:
    """Read one signature line, as a cosigner sends it."""
    name, _, material = line.removeprefix(_MARK).partition(" ")
    if not line.startswith(_MARK) or _NAME.fullmatch(name) is None or " " in material:
        raise NoteError("a signature reads: em dash, space, name, space, Base64")
    value = _bytes(material, "a signature")
    if len(value) < 5:
        raise NoteError("a signature is longer than its key's id")
    return Signature(name, value[:4], value[4:])


def checkpoint_of(text: str) -> Checkpoint:
    """Read a tree's head from a note's text. *Reference:* C2SP tlog-checkpoint."""
    lines = text.split("\n")
    if lines.pop() != "" or len(lines) < 3 or not all(lines):
        raise NoteError("a head has a line each for origin, size and root, none of them empty")
    origin, size, root, *extensions = lines
    if _SIZE.fullmatch(size) is None or int(size) > SIZE_MAX:
        raise NoteError(f"{size!r} is no count of leaves")
    return Checkpoint(origin, int(size), _bytes(root, "the root"), tuple(extensions))


def signature(key: Key, value: bytes) -> Signature:
    """Put a key's name and id before what it signed."""
    return Signature(key.name, key.key_id, value)


def signed_by(note: Note, key: Key, verify: Verify) -> int | None:
    """Return when a key cosigned, 0 for a plain signature, or None when it did not sign at all.

    A signature under the key's name and id that is not its own is an error, never overlooked.
    *Reference:* C2SP signed-note and, for the time, tlog-cosignature.
    """
    found: int | None = None
    for signed in note.signatures:
        if (signed.name, signed.key_id) != (key.name, key.key_id):
            continue
        at_s, value, message = 0, signed.value, note.text.encode()
        if key.kind == COSIGNATURE:
            at_s, value = int.from_bytes(value[:8], "big"), value[8:]
            message = f"cosignature/v1\ntime {at_s}\n".encode() + message
        if len(value) != 64 or not verify(key.public, message, value):
            raise NoteError(f"the signature under the name {key.name} is not that key's")
        found = at_s
    return found


def with_signatures(note: Note, more: Sequence[Signature]) -> Note:
    """Add lines that are not there yet."""
    new = tuple(signed for signed in dict.fromkeys(more) if signed not in note.signatures)
    if len(note.signatures) + len(new) > SIGNATURES_MAX:
        raise NoteError(f"more than {SIGNATURES_MAX} signatures")
    return note._replace(signatures=(*note.signatures, *new))


def _base64(value: bytes) -> str:
    return base64.b64encode(value).decode("ascii")


def _bytes(text: str, what: str) -> bytes:
    try:
        value = base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError) as error:
        raise NoteError(f"{what} is not in Base64") from error
    # Base64 that ends in unused bits that are set would give one value two texts.
    if _base64(value) != text:
        raise NoteError(f"{what} is not in the one right Base64")
    return value
