"""A bench for domain tests: a memory store, a clock that only the test moves, and short recording.

Times are written "day hh:mm"; day 1 is Monday 2 March 2026, all in UTC.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any, TypeVar
from uuid import UUID

from coatledger.events.about import EventVoided
from coatledger.events.bare import PieceStarted
from coatledger.events.base import Fact
from coatledger.events.catalogue import EventAmended
from coatledger.events.coating import CoatApplied
from coatledger.events.finish import LotReceived, LotStirred
from coatledger.events.room_gun import ClimateRead, Reading
from coatledger.events.setup import (
    GunDescribed,
    OpenHours,
    ProductDescribed,
    RoomDescribed,
    ShopDescribed,
)
from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.record import micros
from coatledger.ledger.store import Store
from coatledger.recording.at_hand import AtHand
from coatledger.recording.session import Receipt, Request, Session
from coatledger.subjects.view import View
from msgspec.structs import replace

FIRST_DAY = datetime(2026, 3, 2, tzinfo=UTC)
F = TypeVar("F", bound=Fact)
COAT: Mapping[str, Any] = {"lot": "can-1", "gun": "g1", "room": "spray", "wet_film_um": 100.0}


def on_day(words: str) -> datetime:
    """Return the time of "day hh:mm", for example "1 08:30"."""
    day, _, clock = words.partition(" ")
    hours, _, minutes = clock.partition(":")
    return FIRST_DAY + timedelta(days=int(day) - 1, hours=int(hours), minutes=int(minutes))


def made_id(number: int, when: datetime) -> UUID:
    """Make an id as a client would (UUIDv7 by form), the same on every run."""
    ms = micros(when) // 1000
    return UUID(int=(ms << 80) | (7 << 76) | (0b10 << 62) | number)


class Bench:
    """One small shop under test."""

    def __init__(self, start: str = "1 07:00", store: Store | None = None) -> None:
        self.store: Store = MemoryStore("trial") if store is None else store
        self.now = on_day(start)
        self.count = 0
        self.at_hand = AtHand()

    def at(self, words: str) -> Bench:
        """Let the clock say "day hh:mm"."""
        self.now = on_day(words)
        return self

    def later(self, hours: float) -> Bench:
        """Let hours pass."""
        self.now += timedelta(hours=hours)
        return self

    def fact(self, kind: type[F], /, *, at: str | None = None, **fields: Any) -> F:
        """Make a fact of the present moment, or of another one, without recording it."""
        self.count += 1
        when = on_day(at) if at else self.now
        fields.setdefault("id", made_id(self.count, when))
        return kind(occurred_at=when, **fields)

    def record(self, kind: type[F], /, *, at: str | None = None, **fields: Any) -> F:
        """Record a fact and return it; the clock moves on when the fact ended later."""
        fact = self.fact(kind, at=at, **fields)
        self.take(fact)
        return fact

    def take(self, *facts: Any) -> tuple[Receipt, ...]:
        """Record facts in one request; the clock moves on to where the last of them ended."""
        for fact in facts:
            self.now = max(self.now, fact.occurred_at, fact.ended_at or fact.occurred_at)
        return self.post(*facts)

    def post(self, *facts: Any, **request: Any) -> tuple[Receipt, ...]:
        """Record facts in one request, at whatever the clock says."""
        with self.store.writing() as writer:
            session = Session(writer, self.store.shop, self.now, lambda: bytes(16), self.at_hand)
            receipts = session.take(Request(events=facts, by="key", **request))
            writer.write(session.changes())
        session.written()
        return receipts

    def amend(self, original: Fact, **changed: Any) -> EventAmended:
        """Record that a fact happened otherwise."""
        return self.record(
            EventAmended,
            original=original.id,
            replacement=replace(original, **changed),
            reason="wrong_value",
        )

    def void(self, original: Fact) -> EventVoided:
        """Record that a fact never happened."""
        return self.record(EventVoided, original=original.id, reason="never_happened")

    def view(self, at: str | None = None, *, known: int | None = None) -> View:
        """Look at everything before a moment."""
        with self.store.reading() as reader:
            return View(reader, micros(on_day(at) if at else self.now), known=known)

    @property
    def now_us(self) -> int:
        """The clock in microseconds."""
        return micros(self.now)

    # ---- what most tests need on the bench before they begin

    def open_shop(self, **described: Any) -> Bench:
        """Describe a shop with one room, one gun and one water-borne clear whose sheet is whole;
        fields of its description may differ."""
        hours = tuple(
            OpenHours(day=day, opens="07:00", closes="17:00")
            for day in ("mon", "tue", "wed", "thu", "fri")
        )
        self.record(ShopDescribed, **{"zone": "UTC", "hours": hours, **described})
        self.record(
            RoomDescribed, room="spray", air_min_c=18.0, air_max_c=26.0, rh_min_pct=30.0,
            rh_max_pct=65.0,
        )  # fmt: skip
        self.record(GunDescribed, gun="g1", method="hvlp", strip_clean_every_days=30)
        self.clear("clear-w")
        self.can("can-1", "clear-w")
        return self

    def clear(self, product: str, **sheet: Any) -> ProductDescribed:
        """Describe a water-borne clear with a whole data sheet; fields may differ."""
        given: dict[str, Any] = {
            "kind": "water_borne", "volume_solids_pct": 33.0, "reference_wet_film_um": 100.0,
            "touch_dry_h": 0.5, "tack_free_h": 1.0, "recoat_h": 3.0, "recoat_max_h": 48.0,
            "stack_h": 12.0, "wrap_h": 24.0, "cure_h": 168.0, "mfft_c": 8.0, "air_min_c": 15.0,
            "air_max_c": 30.0, "rh_min_pct": 20.0, "rh_max_pct": 70.0, "wet_film_min_um": 75.0,
            "wet_film_max_um": 125.0, "nozzle_min_mm": 1.1, "nozzle_max_mm": 1.4,
            "scuff_grit": 320, "bare_grit_max": 180, "freezes": True,
        }  # fmt: skip
        return self.record(ProductDescribed, product=product, **{**given, **sheet})

    def can(self, lot: str, product: str, amount_l: float = 5.0, **fields: Any) -> LotStirred:
        """Receive a can and stir it."""
        self.record(LotReceived, lot=lot, product=product, amount_l=amount_l, **fields)
        return self.record(LotStirred, lot=lot)

    def pieces(self, *words: str, **fields: Any) -> PieceStarted:
        """Start pieces: ash bedside tops of half a square metre unless told otherwise."""
        given = {"kind": "bedside top", "species": "cherry", "coat_area_m2": 0.5, "use": "decor"}
        return self.record(PieceStarted, pieces=words, **{**given, **fields})

    def climate(
        self, air_c: float = 21.0, rh_pct: float = 50.0, *, room: str = "spray",
        at: str | None = None, **fields: Any,
    ) -> ClimateRead:  # fmt: skip
        """Read a room's air once."""
        reading = Reading(air_c=air_c, rh_pct=rh_pct, **fields)
        return self.record(ClimateRead, room=room, readings=(reading,), at=at)

    def coat(self, *words: str, **fields: Any) -> CoatApplied:
        """Spray pieces from the first can in the first room, 100 um wet, unless told otherwise."""
        return self.record(CoatApplied, pieces=words, **{**COAT, **fields})

    def would_coat(self, *words: str, **fields: Any) -> CoatApplied:
        """Make the fact of such a coat without recording it."""
        return self.fact(CoatApplied, pieces=words, **{**COAT, **fields})
