"""Checking a proof pack: offline, with nothing but the shop's public key.

Every fault is named with the position it lies at. What remains is said in two lists: what the
mathematics proves, and what the shop only states.
"""

import base64
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from typing import NamedTuple

import msgspec

from coatledger.computations.merkle import HASH_BYTES, verify_inclusion
from coatledger.computations.signed_note import (
    Checkpoint,
    Key,
    Note,
    NoteError,
    Verify,
    checkpoint_of,
    note_of,
    signed_by,
)
from coatledger.ledger.pack import Pack, PackLeaf, hash_of, leaf_of, pack_bytes, sealed_text
from coatledger.ledger.record import Leaf

# What the mathematics proves.
SIGNED = "The shop {shop} signed that its ledger {origin} had {size} events, with this content."
SHOWN = (
    "The {shown} events shown stand in that ledger byte for byte, at the positions given and so in "
    "this order."
)
CHAIN = (
    "Nothing about piece {piece} was left out between its first event and the last one shown: each "
    "of its {count} events names the one before it, back to the first."
)
GAPS = (
    "Each event of piece {piece} that is shown names the one before it; of {count} events some are "
    "withheld."
)
TIMES = (
    "What was told late, corrected or settled is among them with the time at which the ledger took "
    "it in, and those times never go back."
)
COSIGNED = "{name} saw the same signed head{when}: the ledger is at least as old as that."

# What only the shop says.
FOLLOWED = (
    "That nothing about the piece is in the ledger between the last event shown and event {size}, "
    "or came after it."
)
BENCH = "That what the bench told is true: a proof holds words fast, it does not watch the bench."
PICKED = (
    "That the readings, cans, guns and instruments shown are all there were: only the chain of the "
    "piece itself is without gaps."
)
STATED = (
    "That the head was signed at {at}, and what stands under `stated`: sister pieces, findings and "
    "whatever else was counted from events that are not here."
)
WITHHELD = (
    "That event {position}, withheld because it names another customer's order, is what it is said "
    "to be, and that nothing was left out right before it."
)
STRANGER = "That {name} vouched for the head: give that key to check it."
STAMPED = (
    "That the enclosed time stamp (RFC 3161) is over the SHA-256 of the signed head's text: its "
    "issuer's certificate can check that."
)


class PackFault(NamedTuple):
    """Something that is not as the shop signed it. `position` is None for the file as a whole."""

    position: int | None
    says: str

    def __str__(self) -> str:
        return self.says if self.position is None else f"event {self.position}: {self.says}"


class Verdict(NamedTuple):
    """What a check found. The pack holds when there are no faults."""

    faults: tuple[PackFault, ...]
    proven: tuple[str, ...]
    stated: tuple[str, ...]

    @property
    def holds(self) -> bool:
        """Whether everything in the pack is as it was signed."""
        return not self.faults

    @property
    def first_bad(self) -> int | None:
        """Return the first position at which something is wrong."""
        return min((f.position for f in self.faults if f.position is not None), default=None)


class _Checked(NamedTuple):
    """The signed head once its signature held, and when each cosigner saw it."""

    note: Note
    head: Checkpoint
    cosigned: tuple[tuple[str, int], ...]


def check_pack(
    data: bytes, pack: Pack, key: Key, verify: Verify, cosigners: Sequence[Key] = ()
) -> Verdict:
    """Check everything in a pack but `told`, which is worked out again elsewhere."""
    faults: list[PackFault] = []
    if data != pack_bytes(pack):
        faults.append(PackFault(None, "the file was written anew since: it is not in its own form"))
    if not verify(key.public, sealed_text(pack), _bytes(pack.seal)):
        faults.append(PackFault(None, "the seal is not the shop's over these bytes"))
    if pack.shop != key.name:
        faults.append(PackFault(None, f"the pack is of {pack.shop}, the key of {key.name}"))
    try:
        checked = _checked_head(pack, key, verify, cosigners)
    except NoteError as error:
        faults.append(PackFault(None, f"the signed head does not hold: {error}"))
        return Verdict(tuple(faults), (), ())
    faults.extend(_leaf_faults(pack, checked.head))
    faults.extend(_order_faults(pack))
    faults.extend(_chain_faults(pack))
    return Verdict(tuple(faults), _proven(pack, checked), _stated(pack, checked))


def _checked_head(pack: Pack, key: Key, verify: Verify, cosigners: Sequence[Key]) -> _Checked:
    note = note_of(pack.checkpoint)
    if signed_by(note, key, verify) is None:
        raise NoteError("the shop's key did not sign it")
    head = checkpoint_of(note.text)
    if not head.origin.startswith(f"{pack.shop}/") or len(head.root) != HASH_BYTES:
        raise NoteError(f"it is not a head of the ledger of {pack.shop}")
    seen = ((cosigner, signed_by(note, cosigner, verify)) for cosigner in cosigners)
    return _Checked(note, head, tuple((k.name, at_s) for k, at_s in seen if at_s is not None))


def _leaf_faults(pack: Pack, head: Checkpoint) -> Iterator[PackFault]:
    for leaf in pack.leaves:
        says = _own_fault(pack, leaf)
        if says:
            yield PackFault(leaf.position, says)
        found = _bytes(leaf.hash) if leaf.hash is not None else hash_of(leaf)
        path = [_bytes(step) for step in leaf.proof]
        if not verify_inclusion(found, leaf.position - 1, head.size, path, head.root):
            yield PackFault(leaf.position, "its bytes are not those under the signed head")


def _own_fault(pack: Pack, leaf: PackLeaf) -> str:
    """Say what a leaf tells otherwise than the pack does."""
    if leaf.withheld:
        shown = bytes(leaf.leaf) or leaf.before is None or leaf.order is None
        return "a withheld event shows its hash, and nothing of itself" if shown else ""
    try:
        inside = leaf_of(bytes(leaf.leaf))
    except msgspec.DecodeError as error:
        return f"its bytes are no event: {error}"
    if inside.position != leaf.position:
        return f"its bytes are of event {inside.position}"
    if inside.shop != pack.shop:
        return f"its bytes are of the shop {inside.shop}"
    return ""


def _order_faults(pack: Pack) -> Iterator[PackFault]:
    before, recorded_at = 0, ""
    for leaf in pack.leaves:
        if leaf.position <= before:
            yield PackFault(leaf.position, f"it stands after event {before}: the order is wrong")
        before = leaf.position
        inside = _inside(leaf)
        if inside is not None:
            if inside.recorded_at < recorded_at:
                yield PackFault(leaf.position, "it was recorded before the event that precedes it")
            recorded_at = inside.recorded_at


def _chain_faults(pack: Pack) -> Iterator[PackFault]:
    """Each event of the piece names the one before it: nothing between them may be missing."""
    last = 0
    for leaf in pack.leaves:
        before = _named_before(pack, leaf)
        if before is None:
            continue
        if before != last:
            says = f"it names event {before} as the one before it, but the pack has "
            yield PackFault(leaf.position, says + (f"event {last}" if last else "none"))
        last = leaf.position
    if not last:
        yield PackFault(None, f"no event in it names piece {pack.piece}")


def _named_before(pack: Pack, leaf: PackLeaf) -> int | None:
    inside = _inside(leaf)
    return leaf.before if inside is None else inside.previous.get(pack.subject)


def _inside(leaf: PackLeaf) -> Leaf | None:
    try:
        return leaf_of(bytes(leaf.leaf))
    except msgspec.DecodeError:
        return None


def _proven(pack: Pack, checked: _Checked) -> tuple[str, ...]:
    chain = [leaf for leaf in pack.leaves if _named_before(pack, leaf) is not None]
    withheld = any(leaf.withheld for leaf in pack.leaves)
    shown = sum(not leaf.withheld for leaf in pack.leaves)
    says = [
        SIGNED.format(shop=pack.shop, origin=checked.head.origin, size=checked.head.size),
        SHOWN.format(shown=shown),
        (GAPS if withheld else CHAIN).format(piece=pack.piece, count=len(chain)),
        TIMES,
    ]
    says += [COSIGNED.format(name=name, when=_when(at_s)) for name, at_s in checked.cosigned]
    return tuple(says)


def _stated(pack: Pack, checked: _Checked) -> tuple[str, ...]:
    strangers = {signed.name for signed in checked.note.signatures} - {pack.shop}
    unknown = sorted(strangers - dict(checked.cosigned).keys())
    return (
        FOLLOWED.format(size=checked.head.size),
        BENCH,
        PICKED,
        STATED.format(at=pack.signed_at),
        *(WITHHELD.format(position=leaf.position) for leaf in pack.leaves if leaf.withheld),
        *(STRANGER.format(name=name) for name in unknown),
        *(() if pack.stamp is None else (STAMPED,)),
    )


def _when(at_s: int) -> str:
    return f" on {datetime.fromtimestamp(at_s, UTC):%Y-%m-%d at %H:%M:%SZ}" if at_s else ""


def _bytes(text: str) -> bytes:
    try:
        return base64.b64decode(text, validate=True)
    except ValueError:
        return b""
