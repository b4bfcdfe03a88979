"""Which facts are worth telling outside, and what is said of each.

A fact tells one notice for each order it is about. A correction takes back what was told of its
original and tells what stands instead. Notices about a promise's chance are no facts: whoever
watches the promises makes them, one for each episode. What is imported tells nothing.
"""

from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from hashlib import sha256
from typing import Any, Literal, NamedTuple, get_args
from uuid import UUID

import msgspec
from msgspec import Struct

from coatledger.events import judging, leaving, orders
from coatledger.events.about import EventVoided
from coatledger.events.base import Fact
from coatledger.events.catalogue import CORRECTIONS, TAG_OF, EventAmended
from coatledger.ledger.record import Row, recorded
from coatledger.ledger.store import Reader
from coatledger.subjects.piece import Piece
from coatledger.subjects.registry import state_or_parked

Kind = Literal[
    "promised", "revised", "in_danger", "out_of_danger", "ready", "packed", "shipped", "handed_over"
]
AnyKind = Literal[Kind, "retracted", "ping"]
KINDS: tuple[Kind, ...] = get_args(Kind)
KIND_OF_FACT: Mapping[type[Fact], Kind] = {
    orders.PromiseMade: "promised",
    orders.PromiseRevised: "revised",
    judging.Inspected: "ready",
    leaving.Packed: "packed",
    leaving.Shipped: "shipped",
    leaving.HandedOver: "handed_over",
}
# The tags of facts that may tell something; no other row needs a look.
TELLING: frozenset[str] = frozenset(TAG_OF[kind] for kind in (*KIND_OF_FACT, *CORRECTIONS))
ID_HEX = 32


class NoticeLine(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Pieces of one line of the order; `line` is left out where they belong to none."""

    pieces: tuple[str, ...]
    line: str | None = None


class NoticeData(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What one notice says; what does not belong to its kind is left out.

    `event` is the fact it follows from, `position` where the ledger stood. `ships_by`, `likely`,
    `level_pct` and `why` are those of the promise; `chance_pct` is its present chance, `says` a
    sentence about it and `evidence` the facts behind that. A retraction names in `retracts` the
    message that holds no longer, and repeats what that was about.
    """

    kind: AnyKind
    position: int = 0
    event: UUID | None = None
    order: str | None = None
    line: str | None = None
    lines: tuple[NoticeLine, ...] = ()
    carrier: str | None = None
    ships_by: date | None = None
    likely: date | None = None
    level_pct: float | None = None
    why: str | None = None
    chance_pct: float | None = None
    says: str | None = None
    evidence: tuple[UUID, ...] = ()
    retracts: str | None = None
    retracted_kind: Kind | None = None


class NoticeEvent(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One message: a CloudEvent 1.0 in the JSON form. `sequence` is the ledger's position."""

    specversion: Literal["1.0"]
    id: str
    source: str
    type: str
    time: datetime
    sequence: str
    datacontenttype: Literal["application/json"]
    data: NoticeData
    subject: str | None = None


class Notice(NamedTuple):
    """Something to tell. `key` is told once, for ever: the message's id is made of it.

    Who wants `wanted_as` is told. `about` is the fact behind it, `ends` the message taken back.
    """

    key: str
    wanted_as: Kind
    at: datetime
    said: NoticeData
    about: UUID | None = None
    ends: str | None = None


class Message(NamedTuple):
    """A notice as it is kept and sent."""

    message_id: str
    kind: str
    wanted_as: str
    position: int
    about: UUID | None
    ends: str | None
    body: bytes


Standing = Callable[[UUID], Sequence[Message]]


def notices_of(reader: Reader, row: Row, told_about: Standing) -> tuple[Notice, ...]:
    """Return what a recorded fact tells; `told_about` gives all that was told of an earlier one."""
    if row.type not in TELLING:
        return ()
    event = recorded(row).event
    if event.source == "import":
        return ()
    if not isinstance(event, CORRECTIONS):
        return _told(reader, event, row, event.id)
    assert isinstance(event, (EventVoided, EventAmended))
    told = told_about(event.original)
    ended = {message.ends for message in told}
    standing = [m for m in told if m.kind != "retracted" and m.message_id not in ended]
    new: tuple[Notice, ...] = ()
    if isinstance(event, EventAmended):
        new = _told(reader, event.replacement, row, event.original)
        if not told and _would_tell(reader, event.original):
            return ()  # it was imported, or told nobody; its correction is no news either
    old = [_opened(message) for message in standing]
    if [_bare(one.data, one.time) for one in old] == [_bare(n.said, n.at) for n in new]:
        return ()
    pairs = zip(standing, old, strict=True)
    return (*(_retraction(message, one.data, row) for message, one in pairs), *new)


def episode(
    kind: Literal["in_danger", "out_of_danger"], episode: str, at: datetime, said: NoticeData
) -> Notice:
    """Make the notice of one episode of a promise; telling it again, by anybody, tells nothing.

    `episode` is the episode's own word, for example the id of the fact that began it.
    """
    assert said.kind == kind
    key = "/".join((kind, said.order or "", said.line or "", episode))
    return Notice(key, kind, at, said)


def message_of(shop: str, notice: Notice, position: int) -> Message:
    """Write a notice as the message that is sent: the same key gives the same id in every life."""
    said = msgspec.structs.replace(notice.said, position=position)
    message_id = id_of(shop, notice.key)
    body = encode(shop, message_id, notice.at, said)
    about, ends = notice.about, notice.ends
    return Message(message_id, said.kind, notice.wanted_as, position, about, ends, body)


def id_of(shop: str, key: str) -> str:
    """Make a message's id of what it tells. It holds no full stop, as its signature asks."""
    return "msg_" + sha256(f"{shop}/{key}".encode()).hexdigest()[:ID_HEX]


def encode(shop: str, message_id: str, at: datetime, said: NoticeData) -> bytes:
    """Put what is said into its envelope."""
    return msgspec.json.encode(
        NoticeEvent(
            specversion="1.0",
            id=message_id,
            source=f"/shops/{shop}",
            type=f"coatledger.notice.{said.kind}",
            subject=None if said.order is None else f"order:{said.order}",
            time=at,
            sequence=str(said.position),
            datacontenttype="application/json",
            data=said,
        )
    )


def kind_of(fact: Fact) -> Kind | None:
    """Return which kind of notice a fact tells, or None: of all looks only a passed final one."""
    if isinstance(fact, judging.Inspected) and not (fact.point == "final" and fact.passed):
        return None
    return KIND_OF_FACT.get(type(fact))


def _told(reader: Reader, fact: Fact, row: Row, about: UUID) -> tuple[Notice, ...]:
    kind = kind_of(fact)
    if kind is None:
        return ()
    if isinstance(fact, (orders.PromiseMade, orders.PromiseRevised)):
        promise = NoticeData(
            kind=kind, event=row.event_id, order=fact.order, line=fact.line,
            ships_by=fact.ships_by, likely=getattr(fact, "likely", None),
            level_pct=fact.level_pct, why=getattr(fact, "why", None),
        )  # fmt: skip
        return (_notice(kind, fact, row, about, promise),)
    return tuple(
        _notice(
            kind, fact, row, about,
            NoticeData(kind=kind, event=row.event_id, order=order, lines=lines,
                 carrier=getattr(fact, "carrier", None)),
        )
        for order, lines in _by_order(reader, fact).items()
    )  # fmt: skip


def _notice(kind: Kind, fact: Fact, row: Row, about: UUID, said: NoticeData) -> Notice:
    key = f"{kind}/{row.event_id}/{said.order or ''}"
    return Notice(key, kind, fact.occurred_at, said, about)


def _by_order(reader: Reader, fact: Fact) -> Mapping[str | None, tuple[NoticeLine, ...]]:
    """Part a fact's pieces by order and line; one act may be about several orders, or none."""
    words: tuple[str, ...] = getattr(fact, "pieces", ())
    stored = reader.folds(f"piece:{word}" for word in words)
    found: dict[str | None, dict[str | None, list[str]]] = {}
    for word in words:
        fold = stored.get(f"piece:{word}")
        piece: Any = None if fold is None else state_or_parked("piece", fold.state)
        own = piece.order if isinstance(piece, Piece) else None
        order = getattr(fact, "order", None) or own
        line = piece.line if isinstance(piece, Piece) and order == own else None
        found.setdefault(order, {}).setdefault(line, []).append(word)
    return {
        order: tuple(NoticeLine(pieces=tuple(words), line=line) for line, words in lines.items())
        for order, lines in found.items()
    }


def _retraction(message: Message, said: NoticeData, row: Row) -> Notice:
    assert said.kind in KINDS
    holds_no_longer = msgspec.structs.replace(
        said, kind="retracted", event=row.event_id, retracts=message.message_id,
        retracted_kind=said.kind,
    )  # fmt: skip
    return Notice(
        f"retracted/{row.event_id}/{message.message_id}", said.kind,
        recorded(row).event.occurred_at, holds_no_longer, message.about, message.message_id,
    )  # fmt: skip


def _would_tell(reader: Reader, original: UUID) -> bool:
    found = reader.by_id((original,)).get(original)
    return found is not None and kind_of(recorded(found).event) is not None


def _opened(message: Message) -> NoticeEvent:
    return msgspec.json.decode(message.body, type=NoticeEvent)


def _bare(said: NoticeData, at: datetime) -> tuple[NoticeData, datetime]:
    """What is said to have happened when, whichever fact says it."""
    return msgspec.structs.replace(said, event=None, position=0), at
