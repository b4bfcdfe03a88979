"""Given these facts, when those are posted, then this stands: the form of every domain test.

Facts are made by short functions and carry ids made of what they say, so that the same line twice
is the same event; `n` tells two alike acts apart.
"""

from __future__ import annotations

import zlib
from typing import Any, TypeVar

from bench import Bench, made_id, on_day
from coatledger.events.about import EventVoided
from coatledger.events.bare import PieceStarted
from coatledger.events.base import Fact
from coatledger.events.catalogue import EventAmended
from coatledger.events.coating import CoatApplied
from coatledger.events.judging import Inspected, ReworkFinished, ReworkStarted
from coatledger.events.leaving import Packed, Returned, Shipped
from coatledger.events.preparing import Sanded
from coatledger.ledger.record import micros
from coatledger.ledger.store import Head, Reader, Store
from coatledger.recording.session import Receipt
from coatledger.refusal import Refused
from coatledger.subjects.lot import Lot
from coatledger.subjects.order import Order
from coatledger.subjects.piece import Piece
from coatledger.subjects.view import View
from msgspec.structs import replace

EVENING = "9 20:00"  # after everything a story tells
F = TypeVar("F", bound=Fact)


def given(*facts: Fact, store: Store | None = None, now: str = EVENING) -> Story:
    """Record facts one by one: the place a story begins at."""
    story = Story(Bench(now, store))
    for fact in facts:
        story.bench.post(fact)
    return story


class Story:
    """A shop with a history."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench

    def when(self, *facts: Fact, **request: Any) -> Outcome:
        """Post facts in one request; what comes of it is asked of the outcome."""
        before = self.head()
        try:
            receipts = self.bench.post(*facts, **request)
        except Refused as refusal:
            assert self.head() == before, "a refusal writes nothing"
            return Outcome(self.bench, (), refusal)
        return Outcome(self.bench, receipts, None)

    def head(self) -> Head:
        """Return where the ledger stands."""
        with self.bench.store.reading() as reader:
            return reader.head()

    def piece(self, word: str = "a", *, at: str | None = None, known: int | None = None) -> Piece:
        """Return a piece as it now is, or was."""
        with self.bench.store.reading() as reader:
            return self.view(reader, at, known).piece(word)

    def lot(self, word: str) -> Lot:
        """Return a can as it now is."""
        with self.bench.store.reading() as reader:
            return self.view(reader).lot(word)

    def order(self, word: str) -> Order:
        """Return an order as it now is."""
        with self.bench.store.reading() as reader:
            return self.view(reader).order(word)

    def view(self, reader: Reader, at: str | None = None, known: int | None = None) -> View:
        """Look at the ledger from a place, through an open reader."""
        return View(reader, micros(on_day(at) if at else self.bench.now), known=known)


class Outcome(Story):
    """What came of one request. It is a story again, so that more can be posted."""

    def __init__(
        self, bench: Bench, receipts: tuple[Receipt, ...], refusal: Refused | None
    ) -> None:
        super().__init__(bench)
        self.receipts = receipts
        self.refusal = refusal

    def refused(self, *rules: str, at: str | None = None) -> Outcome:
        """Expect a refusal by exactly these rules, and its first fault at this pointer."""
        assert self.refusal is not None, f"accepted: {self.receipts}"
        assert tuple(fault.rule for fault in self.refusal.faults) == rules, str(self.refusal)
        assert at in (None, self.refusal.faults[0].pointer)
        return self

    def accepted(self) -> Outcome:
        """Expect that everything was taken."""
        assert self.refusal is None, str(self.refusal)
        assert not any(receipt.faults for receipt in self.receipts)
        return self

    def disputing(self, *facts: Fact) -> Outcome:
        """Expect exactly these later facts to have become impossible."""
        found = {i for receipt in self.accepted().receipts for i in receipt.disputes}
        assert found == {fact.id for fact in facts}
        return self

    def then(self, word: str, **expected: Any) -> Outcome:
        """Expect these fields of a piece."""
        piece = self.accepted().piece(word)
        assert {name: getattr(piece, name) for name in expected} == expected
        return self


def fact(kind: type[F], at: str, /, n: int = 0, **fields: Any) -> F:
    """Make a fact of a time such as "1 08:30"."""
    when = on_day(at)
    told = zlib.crc32(f"{kind.__name__}{at}{n}{sorted(fields.items())}".encode())
    fields.setdefault("id", made_id(told, when))
    return kind(occurred_at=when, **fields)


def started(*pieces: str, at: str = "1 08:00", **fields: Any) -> PieceStarted:
    """Ash bedside tables stand at the bench."""
    given_fields: dict[str, Any] = {
        "kind": "bedside table", "species": "ash", "coat_area_m2": 1.2, "use": "table",
    }  # fmt: skip
    return fact(PieceStarted, at, pieces=pieces, **{**given_fields, **fields})


def sanded(*pieces: str, at: str = "1 09:00", **fields: Any) -> Sanded:
    """Sanded to P150."""
    return fact(Sanded, at, pieces=pieces, **{"stage": "bare", "grit": 150, **fields})


def coated(*pieces: str, at: str = "1 10:00", **fields: Any) -> CoatApplied:
    """One coat from the first can."""
    return fact(CoatApplied, at, pieces=pieces, **{"lot": "can-1", **fields})


def inspected(*pieces: str, at: str = "2 09:00", **fields: Any) -> Inspected:
    """Looked over at the end, and good."""
    return fact(Inspected, at, pieces=pieces, **{"point": "final", "passed": True, **fields})


def rework(*pieces: str, at: str, remedy: str = "recoat", **fields: Any) -> ReworkStarted:
    """Taken out of the plan to be put right."""
    return fact(ReworkStarted, at, pieces=pieces, remedy=remedy, **fields)


def reworked(*pieces: str, at: str, done: str = "recoat", **fields: Any) -> ReworkFinished:
    """Put right."""
    return fact(ReworkFinished, at, pieces=pieces, done=done, **fields)


def packed(*pieces: str, at: str = "3 09:00", **fields: Any) -> Packed:
    """Packed in paper."""
    return fact(Packed, at, pieces=pieces, **{"touching": "paper", **fields})


def shipped(*pieces: str, at: str = "3 15:00", **fields: Any) -> Shipped:
    """Given to the carrier."""
    return fact(Shipped, at, pieces=pieces, **fields)


def returned(*pieces: str, at: str = "6 10:00", **fields: Any) -> Returned:
    """Back in the shop."""
    return fact(Returned, at, pieces=pieces, **fields)


def voided(original: Fact, at: str = "9 18:00", **fields: Any) -> EventVoided:
    """It did not happen."""
    return fact(EventVoided, at, original=original.id, **fields)


def amended(original: Fact, at: str = "9 18:00", n: int = 0, **changed: Any) -> EventAmended:
    """It happened otherwise. `to` moves it in time."""
    if "to" in changed:
        changed["occurred_at"] = on_day(changed.pop("to"))
    return fact(EventAmended, at, n, original=original.id, replacement=replace(original, **changed))
