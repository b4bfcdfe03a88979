"""What exactly was done to a piece, and can the shop prove it: the proof pack.

Every event that names the piece is in it, and what those lean on: its cans and their sheets, the
air it dried in, the guns, the instruments' checks. Each has its path to one signed head.
"""

import base64
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import NamedTuple

import msgspec
from msgspec import Struct
from msgspec.structs import replace

from coatledger.computations.merkle import leaf_hash
from coatledger.computations.signed_note import Key, Note, checkpoint_of
from coatledger.events.coating import CoatApplied
from coatledger.findings.finding import Finding
from coatledger.ledger.correct import FAR, Placed, history, last
from coatledger.ledger.normal import utc_text
from coatledger.ledger.pack import FORMAT, Pack, PackLeaf, commitment, recorded_in, sealed_text
from coatledger.ledger.pack_check import PackFault
from coatledger.ledger.record import Recorded, moment, recorded
from coatledger.ledger.store import Reader
from coatledger.ledger.tree import inclusion_proofs
from coatledger.subjects.dossier import told_bytes, told_of
from coatledger.subjects.dossier_leaves import Leaves, leaves_of
from coatledger.subjects.piece import Piece
from coatledger.subjects.registry import state_of

# A session of a gun lasts from one of these to the next; this many are looked at first.
SESSION = ("gun_set_up", "gun_flushed")
TURNS = 16
_ENCODER = msgspec.json.Encoder(order="sorted")


class Signed(NamedTuple):
    """A signed head, and the shop's key: to seal a pack, and to hide a word in it."""

    note: Note
    signed_us: int
    stamp: bytes | None
    key: Key
    seal: Callable[[bytes], bytes]
    salt: Callable[[str], bytes]


class SisterOrder(Struct, frozen=True, kw_only=True):
    """Another customer's order, hidden: the shop can show later which one it was."""

    order: str
    pieces: int


class Sisters(Struct, frozen=True, kw_only=True):
    """The other pieces that got finish from the same can, or in the same session of a gun."""

    shared: str
    since: int | None
    pieces: int
    same_order: int
    no_order: int
    orders: tuple[SisterOrder, ...]


class Stated(Struct, frozen=True, kw_only=True):
    """What the shop says on the strength of events that are not in the pack."""

    sisters: tuple[Sisters, ...]
    findings: tuple[Finding, ...]
    readings_left_out: int


def pack_of_piece(
    reader: Reader, shop: str, piece: str, signed: Signed, findings: Sequence[Finding] = ()
) -> Pack | None:
    """Write a piece's pack under a signed head; None when no event of that ledger names it."""
    size = checkpoint_of(signed.note.text).size
    picked = leaves_of(reader, piece, size)
    if not picked.rows:
        return None
    order = _order_of(reader, piece)
    packed = _packed(reader, picked, order, signed.salt)
    stated = Stated(
        sisters=_sisters(reader, picked, piece, order, signed.salt),
        findings=tuple(findings),
        readings_left_out=picked.air_left_out,
    )
    pack = Pack(
        format=FORMAT,
        shop=shop,
        piece=piece,
        key=signed.key.text,
        checkpoint=signed.note.whole,
        signed_at=utc_text(moment(signed.signed_us)),
        stamp=None if signed.stamp is None else _base64(signed.stamp),
        leaves=packed,
        told=msgspec.Raw(),
        stated=msgspec.Raw(_ENCODER.encode(stated)),
        seal="",
    )
    pack = replace(pack, told=msgspec.Raw(told_bytes(told_of(piece, shown(pack)))))
    return replace(pack, seal=_base64(signed.seal(sealed_text(pack))))


def told_faults(pack: Pack) -> tuple[PackFault, ...]:
    """Work out again what the events tell, and compare."""
    try:
        told = told_bytes(told_of(pack.piece, shown(pack)))
    except (msgspec.MsgspecError, ValueError):
        return (PackFault(None, "what the pack tells cannot be worked out from its events"),)
    if told != bytes(pack.told):
        return (PackFault(None, "what the pack tells is not what its events tell"),)
    return ()


def shown(pack: Pack) -> tuple[Recorded, ...]:
    """Decode the events a pack shows, for whoever draws them."""
    return tuple(recorded_in(leaf) for leaf in pack.leaves if not leaf.withheld)


def _packed(
    reader: Reader, picked: Leaves, order: str | None, salt: Callable[[str], bytes]
) -> tuple[PackLeaf, ...]:
    proofs = inclusion_proofs(reader, picked.rows, picked.size)
    found = []
    for position in sorted(picked.rows):
        row = picked.rows[position]
        event = recorded(row)
        others = [s for s in event.previous if s.startswith("order:") and s != f"order:{order}"]
        common = PackLeaf(
            position=position,
            here_for=tuple(picked.why[position]),
            proof=tuple(_base64(step) for step in proofs[position]),
        )
        if others and picked.subject in event.previous:
            word = others[0].partition(":")[2]
            found.append(
                replace(
                    common,
                    hash=_base64(leaf_hash(row.leaf)),
                    order=commitment(salt(word), word),
                    before=event.previous[picked.subject],
                )
            )
        elif not others:
            found.append(replace(common, leaf=msgspec.Raw(row.leaf)))
    return tuple(found)


def _order_of(reader: Reader, piece: str) -> str | None:
    subject = f"piece:{piece}"
    stored = reader.folds((subject,)).get(subject)
    state = None if stored is None else state_of("piece", stored.state)
    return state.order if isinstance(state, Piece) else None


def _sisters(
    reader: Reader, picked: Leaves, piece: str, order: str | None, salt: Callable[[str], bytes]
) -> tuple[Sisters, ...]:
    own = [
        p for p in history(reader, picked.subject, known=picked.size, types=("coat_applied",))
        if isinstance(p.fact, CoatApplied)
    ]  # fmt: skip
    groups: dict[tuple[str, int | None], set[str]] = {}
    for placed in own:
        assert isinstance(placed.fact, CoatApplied)
        lot, gun = f"lot:{placed.fact.lot}", placed.fact.gun
        coats = history(reader, lot, known=picked.size, types=("coat_applied",))
        groups.setdefault((lot, None), set()).update(_pieces(coats, piece))
        if gun is not None:
            until_us = max(p.at_us for p in (placed, *coats) if _by(p, gun))
            since, start, end = _session(reader, picked, gun, placed, until_us)
            inside = (p for p in coats if start <= p.at_us < end and _by(p, gun))
            groups.setdefault((f"gun:{gun}", since), set()).update(_pieces(inside, piece))
    wanted = sorted({f"piece:{word}" for words in groups.values() for word in words})
    orders = {
        subject: state_of("piece", fold.state).order
        for subject, fold in reader.folds(wanted).items()
    }
    return tuple(
        _counted(shared, since, words, orders, order, salt)
        for (shared, since), words in sorted(groups.items(), key=lambda g: (g[0][0], g[0][1] or 0))
    )


def _session(
    reader: Reader, picked: Leaves, gun: str, coat: Placed, until_us: int
) -> tuple[int | None, int, int]:
    """Return the set-up a coat was sprayed with, and from when to when it lasted.

    Only turns up to `until_us`, where the can was last used, matter: the gun's whole history is
    never read.
    """
    place, count = (coat.at_us, coat.position), TURNS
    before: tuple[Placed, ...] = ()
    turns: tuple[Placed, ...] = ()
    while not before:
        turns = last(reader, f"gun:{gun}", SESSION, until_us, known=picked.size, count=count)
        before = tuple(p for p in turns if (p.at_us, p.position) < place)
        if len(turns) < count:
            break
        count *= 2
    after = [p.at_us for p in turns if (p.at_us, p.position) > place]
    start = before[-1] if before else None
    return (
        None if start is None else start.position,
        -FAR if start is None else start.at_us,
        after[0] if after else FAR,
    )


def _by(placed: Placed, gun: str) -> bool:
    return isinstance(placed.fact, CoatApplied) and placed.fact.gun == gun


def _pieces(coats: Iterable[Placed], piece: str) -> set[str]:
    return {w for p in coats if isinstance(p.fact, CoatApplied) for w in p.fact.pieces} - {piece}


def _counted(
    shared: str, since: int | None, words: set[str], orders: Mapping[str, str | None],
    own: str | None, salt: Callable[[str], bytes],
) -> Sisters:  # fmt: skip
    named = [orders.get(f"piece:{word}") for word in words]
    others = sorted({order for order in named if order is not None and order != own})
    hidden = [
        SisterOrder(order=commitment(salt(order), order), pieces=named.count(order))
        for order in others
    ]
    return Sisters(
        shared=shared,
        since=since,
        pieces=len(words),
        same_order=0 if own is None else named.count(own),
        no_order=named.count(None),
        orders=tuple(sorted(hidden, key=lambda one: one.order)),
    )


def _base64(value: bytes) -> str:
    return base64.b64encode(value).decode("ascii")
