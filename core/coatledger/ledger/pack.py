"""The proof pack as a file: leaves of the ledger with their proofs, under one signed head.

A pack is one JSON object. Each leaf stands in it byte for byte as it was hashed, so whoever reads
the file reads what is proven. The seal is the shop's signature of everything else in the file.
"""

from datetime import datetime
from hashlib import sha256
from typing import Annotated, Final, Literal

import msgspec
from msgspec import Meta, Struct

from coatledger.computations.merkle import leaf_hash
from coatledger.events.base import Sha256, Word, whole
from coatledger.ledger.record import Leaf, Recorded, decode_event, on_true_time

FORMAT: Final = "coatledger-proof-1"
PACK_BYTES_MAX: Final = 64 * 1024 * 1024
Base64 = Annotated[
    str,
    Meta(
        pattern=whole(
            "([A-Za-z0-9+/]{4})*([A-Za-z0-9+/][AQgw]==|[A-Za-z0-9+/]{2}[AEIMQUYcgkosw048]=)?"
        ),
        description="Base64 with its padding (RFC 4648, section 4).",
    ),
]
Position = Annotated[int, Meta(ge=1)]


class PackLeaf(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """One event: the leaf as it was hashed, why it is here, and its path to the signed root.

    A leaf that names another customer's order is withheld. Then `hash` stands for it, `order` is a
    commitment to the order's word, and `before` the event that is said to have named the piece
    before it.
    """

    position: Position
    here_for: tuple[str, ...]
    proof: tuple[Base64, ...]
    # Nothing, written as plain bytes because a schema can state these and not an empty Raw.
    leaf: msgspec.Raw = b""  # type: ignore[assignment]
    hash: Base64 | None = None
    order: Sha256 | None = None
    before: Annotated[int, Meta(ge=0)] | None = None

    @property
    def withheld(self) -> bool:
        """Whether only the hash is shown."""
        return self.hash is not None


class Pack(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A piece's history with its proof.

    `told` is what anybody can work out from the leaves; `stated` is what only the shop says.
    """

    format: Literal["coatledger-proof-1"]
    shop: str
    piece: Word
    key: str
    checkpoint: str
    signed_at: str
    stamp: Base64 | None
    leaves: tuple[PackLeaf, ...]
    told: msgspec.Raw
    stated: msgspec.Raw
    seal: Base64

    @property
    def subject(self) -> str:
        """The piece as the ledger names it."""
        return f"piece:{self.piece}"


_ENCODER = msgspec.json.Encoder(order="sorted")
_DECODER = msgspec.json.Decoder(Pack)
_LEAF = msgspec.json.Decoder(Leaf)


def pack_bytes(pack: Pack) -> bytes:
    """Write a pack as its file, in the one form it has."""
    return _ENCODER.encode(pack) + b"\n"


def pack_of(data: bytes) -> Pack:
    """Read a pack; `msgspec.DecodeError` names what is no pack."""
    if len(data) > PACK_BYTES_MAX:
        raise msgspec.ValidationError(f"a pack has at most {PACK_BYTES_MAX} bytes")
    try:
        data.decode()  # what is skipped as raw would not be looked at
    except UnicodeDecodeError as error:
        raise msgspec.DecodeError(f"not UTF-8 at byte {error.start}") from error
    return _DECODER.decode(data)


def sealed_text(pack: Pack) -> bytes:
    """Return what the seal signs: a name of its own, and the hash of the file without the seal.

    A signed head begins with its origin, which has a slash in it, so that neither signature can
    stand for the other.
    """
    unsealed = msgspec.structs.replace(pack, seal="")
    return f"{FORMAT}\n{sha256(_ENCODER.encode(unsealed)).hexdigest()}\n".encode()


def commitment(salt: bytes, word: str) -> str:
    """Hide a word so that it can be shown later: whoever is told salt and word finds this."""
    return sha256(salt + word.encode()).hexdigest()


def leaf_of(data: bytes) -> Leaf:
    """Read a leaf; `msgspec.DecodeError` says what is no leaf."""
    return _LEAF.decode(data)


def hash_of(leaf: PackLeaf) -> bytes:
    """Return the hash whose place in the tree is proven."""
    return leaf_hash(bytes(leaf.leaf))


def recorded_in(leaf: PackLeaf) -> Recorded:
    """Decode the event a leaf shows, with its stamps."""
    inside = leaf_of(bytes(leaf.leaf))
    return Recorded(
        position=inside.position,
        recorded_at=datetime.fromisoformat(inside.recorded_at),
        by=inside.by,
        offset_ms=inside.offset,
        previous=inside.previous,
        event=on_true_time(decode_event(inside.body), inside.offset),
    )
