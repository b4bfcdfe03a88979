"""A lived world as a shop would write it down: facts for the ledger, each when it was recorded.

What the worlds know and the ledger has no word for is said in its nearest: the weather as the air
that makes the sheet's hours so much longer, a place to cure as a place in the rack, the shop's own
due date as the day the customer was told. What is recorded late comes late, in its batch's order.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from math import exp, log
from typing import Any
from zoneinfo import ZoneInfo

from coatledger.computations.air_saturation import KELVIN
from coatledger.computations.drying import GAS_CONSTANT_J_MOL_K
from coatledger.events.bare import PieceExpected, PieceStarted
from coatledger.events.coating import CoatApplied, DrynessChecked
from coatledger.events.finish import LotReceived
from coatledger.events.judging import DefectFound, Inspected, ReworkFinished, ReworkStarted
from coatledger.events.leaving import Packed, Scrapped, Shipped
from coatledger.events.orders import OrderLine, OrderTaken, PieceAllotted
from coatledger.events.preparing import Sanded
from coatledger.events.room_gun import ClimateRead, GunSetUp, Reading
from coatledger.events.setup import (
    ClosureAnnounced,
    GunDescribed,
    OfferingDescribed,
    OpenHours,
    PersonAbsent,
    ProductDescribed,
    RoomDescribed,
    ScheduleDescribed,
    ShopDescribed,
    Step,
    Weekday,
)
from shop_spec import SPRAY, Batch, Range
from wall_clock import MINUTE
from worlds import _AREA, KINDS, Order, Told, planned
from worlds_truth import DAY, Entry, Lived, since_start

DAYS: tuple[Weekday, ...] = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
WOOD = {"bedside": "ash", "shelf": "white_oak", "box": "cherry", "table": "walnut"}
USE = {"bedside": "decor", "shelf": "shelf", "box": "box", "table": "table"}
# Of the worlds' two products the ledger has three: a table's dries so much longer to its end.
SHEET = {"bedside": "clear", "shelf": "satin", "box": "clear", "table": "deep"}
WORLD_PRODUCT = {"clear": "clear", "satin": "satin", "deep": "satin"}
FILM_UM, SOLVENT_J_MOL, REFERENCE_C = 100.0, 44_000.0, 21.0
CAN_DAYS = 30
Kind = tuple[type[Any], dict[str, Any]]


@dataclass(frozen=True)
class Posted:
    """Facts that are recorded together; times are microseconds since the world's start."""

    recorded: int
    facts: tuple[tuple[type[Any], int, dict[str, Any]], ...]
    order: Order | None = None  # taken at this moment: quoted before


def posts(lived: Lived) -> list[Posted]:
    """Return all that is recorded of a world, in the order in which it is."""
    found = [*_set_up(lived), *_weather(lived), *_told(lived), *_guns(lived)]
    of_batch: dict[str, list[Entry]] = {}
    for entry in sorted(lived.entries, key=lambda entry: entry.number):
        of_batch.setdefault(entry.batch, []).append(entry)
    for order in lived.world.orders:
        found += _Book(lived, order, of_batch).posts()
    return sorted(found, key=lambda post: post.recorded)


def air_c(slower: float) -> float:
    """Return the air in which a solvent leaves so many times slower than at the reference.

    By Clausius and Clapeyron, as the ledger's clock has it for a lacquer.
    """
    reference = REFERENCE_C + KELVIN
    return 1.0 / (1.0 / reference + GAS_CONSTANT_J_MOL_K * log(slower) / SOLVENT_J_MOL) - KELVIN


def _set_up(lived: Lived) -> Iterator[Posted]:
    world, shop = lived.world, lived.world.shop
    hours = tuple(
        OpenHours(day=DAYS[o.weekday - 1], opens=f"{o.opens:%H:%M}", closes=f"{o.closes:%H:%M}")
        for o in shop.openings
    )
    facts: list[Kind] = [
        (ShopDescribed, {
            "zone": shop.zone, "hours": hours, "people": len(shop.people),
            "rack_places": shop.rack_places + shop.curing_places,
            "pickup_days": tuple(DAYS[day - 1] for day in shop.pick_up_weekdays),
            "pickup_cutoff": f"{shop.cut_off:%H:%M}", "service_level_pct": 80.0,
        }),
        (RoomDescribed, {"room": "spray"}),
        *((GunDescribed, {"gun": gun.id, "method": "hvlp"}) for gun in shop.guns),
    ]  # fmt: skip
    for kind in KINDS:
        facts += _sold(kind, world.seed)
    yield Posted(0, tuple((what, 0, fields) for what, fields in facts))
    for number in range(14):
        cans = [(LotReceived, {"lot": f"{p}-{number}", "product": p, "amount_l": 500.0})
                for p in WORLD_PRODUCT]  # fmt: skip
        at = number * CAN_DAYS * DAY
        yield Posted(at + 1, tuple((what, at, fields) for what, fields in cans))


def _sold(kind: str, seed: int) -> list[Kind]:
    """Return a kind of piece as a sheet, a schedule and an offering."""
    waits = [step.wait for step in planned(kind, seed) if step.wait]
    between_h, last_h = waits[0].p50 / 60.0, waits[-1].p50 / 60.0
    product, coats = SHEET[kind], len(waits)
    steps = [Step(act="sand")]
    for number in range(coats):
        steps += [Step(act="scuff")] * bool(number)
        steps.append(Step(act="coat", product=product, wet_film_um=FILM_UM))
    steps += [Step(act="cure"), Step(act="inspect"), Step(act="pack")]
    sheet = {
        "product": product, "kind": "lacquer", "reference_air_c": REFERENCE_C,
        "reference_wet_film_um": FILM_UM, "touch_dry_h": round(0.2 * between_h, 3),
        "tack_free_h": round(0.4 * between_h, 3), "recoat_h": round(between_h, 3),
        "stack_h": round(1.5 * between_h, 3), "wrap_h": round(last_h, 3),
        "cure_h": round(last_h, 3),
    }  # fmt: skip
    offering = {
        "offering": kind, "skus": (kind,), "schedule": kind, "species": WOOD[kind],
        "coat_area_m2": _AREA[kind],
    }  # fmt: skip
    return [
        (ProductDescribed, sheet),
        (ScheduleDescribed, {"schedule": kind, "steps": tuple(steps)}),
        (OfferingDescribed, offering),
    ]


def _weather(lived: Lived) -> Iterator[Posted]:
    for day, weather in enumerate(lived.world.nature.weather):
        reading = Reading(air_c=round(air_c(exp(weather)), 3), rh_pct=50.0)
        read = {"room": "spray", "readings": (reading,)}
        yield Posted(day * DAY + 2, ((ClimateRead, day * DAY, read),))


def _told(lived: Lived) -> Iterator[Posted]:
    zone = ZoneInfo(lived.world.shop.zone)
    for told in lived.world.closures:
        days = [m.astimezone(zone).date() for m in (told.stretch.starts_at, told.stretch.ends_at)]
        fields: dict[str, Any] = {"first_day": days[0], "last_day": days[1] - timedelta(days=1)}
        yield _word(lived, told, ClosureAnnounced, fields)
    for told in lived.world.absences:
        fields = {"person": told.person, "since": told.stretch.starts_at,
                  "until": told.stretch.ends_at}  # fmt: skip
        yield _word(lived, told, PersonAbsent, fields)


def _word(lived: Lived, told: Told, kind: type[Any], fields: dict[str, Any]) -> Posted:
    at = max(since_start(lived.world, told.told_at), 3)
    return Posted(at, ((kind, at, fields),))


def _guns(lived: Lived) -> Iterator[Posted]:
    """A gun is set up for each new can; changing it over takes what it takes, near enough."""
    holds: dict[str, str] = {}
    for entry in sorted(lived.entries, key=lambda entry: entry.number):
        if entry.what != "began" or not entry.gun:
            continue
        product = SHEET[lived.world.kinds[entry.batch]]
        before = holds.get(entry.gun, "")
        if product == before:
            continue
        holds[entry.gun] = product
        fields: dict[str, Any] = {"gun": entry.gun, "lot": lot_of(product, entry.at)}
        if WORLD_PRODUCT[product] != WORLD_PRODUCT.get(before):
            fields["hands_on_min"] = round(lived.world.shop.changeover_min)
        yield Posted(entry.recorded, ((GunSetUp, entry.at, fields),))


def lot_of(product: str, at: int) -> str:
    """Name the can that is open."""
    return f"{product}-{at // (CAN_DAYS * DAY)}"


@dataclass
class _Line:
    """A batch: its pieces by name, and for which of them each operation is still to be done."""

    batch: Batch
    kind: str
    pieces: list[str]
    left: list[list[str]] = field(default_factory=list)
    remade: int = 0
    again: set[str] = field(default_factory=set)
    begun: int = 0
    recorded: int = 0


class _Book:
    """What is written down of one order."""

    def __init__(self, lived: Lived, order: Order, of_batch: Mapping[str, list[Entry]]) -> None:
        self.lived, self.order, self.of_batch = lived, order, of_batch
        self.zone = ZoneInfo(lived.world.shop.zone)
        self.lines = [self._line(batch) for batch in order.batches]

    def _line(self, batch: Batch) -> _Line:
        names = [f"{batch.id}-{n}" for n in range(1, batch.pieces + 1)]
        kind = self.lived.world.kinds[batch.id]
        return _Line(batch, kind, names, [[*names] for _ in batch.operations])

    def posts(self) -> Iterator[Posted]:
        at = since_start(self.lived.world, self.order.ordered_at)
        lines = tuple(
            OrderLine(line=str(n), quantity=line.batch.pieces, offering=line.kind)
            for n, line in enumerate(self.lines, 1)
        )
        taken = {"order": self.order.id, "lines": lines, "wanted_by": self.order.batches[0].due}
        expected: list[tuple[type[Any], int, dict[str, Any]]] = []
        for line in self.lines:
            if line.batch.ready_in.p50 > 0.0:
                expected += self._expected(line, line.pieces, at, line.batch.ready_in)
        yield Posted(at, ((OrderTaken, at, taken), *expected), self.order)
        last = at
        for line in self.lines:
            line.recorded = at
            entries = self.of_batch[line.batch.id]
            for number, entry in enumerate(entries):
                after = entries[number + 1] if number + 1 < len(entries) else None
                yield from self._entry(line, entry, after)
            last = max(last, line.recorded)
        ships = self.lived.ships[self.order.id]
        pieces = tuple(piece for line in self.lines for piece in line.pieces)
        yield Posted(
            max(ships, last), ((Shipped, ships, {"pieces": pieces, "order": self.order.id}),)
        )

    def _expected(
        self, line: _Line, pieces: Sequence[str], at: int, lead: Range
    ) -> list[tuple[type[Any], int, dict[str, Any]]]:
        fields = {
            "pieces": tuple(pieces), "likely_on": self._day(at, lead.p50),
            "earliest_on": self._day(at, lead.p10), "latest_on": self._day(at, lead.p90),
            "kind": line.kind, "species": WOOD[line.kind], "coat_area_m2": _AREA[line.kind],
            "schedule": line.kind,
        }  # fmt: skip
        allotted = {"pieces": tuple(pieces), "order": self.order.id, "line": self._number(line)}
        return [(PieceExpected, at, fields), (PieceAllotted, at, allotted)]

    def _number(self, line: _Line) -> str:
        return str(self.lines.index(line) + 1)

    def _day(self, at: int, minutes: float) -> date:
        return self._moment(at + round(minutes * MINUTE)).astimezone(self.zone).date()

    def _moment(self, at: int) -> datetime:
        return self.lived.world.shop.now + timedelta(microseconds=at)

    def _entry(self, line: _Line, entry: Entry, after: Entry | None) -> Iterator[Posted]:
        """Return what is recorded of one thing that happened; at the earliest after the last."""
        if entry.what == "began":
            line.begun = entry.at
            return
        if entry.what == "ended" and after and after.what == "back" and after.at == entry.at:
            entry_recorded = max(entry.recorded, after.recorded)
        else:
            after, entry_recorded = None, entry.recorded
        line.recorded = max(line.recorded, entry_recorded)
        facts = list(self._facts(line, entry, after))
        if facts:
            yield Posted(line.recorded, tuple(facts))

    def _facts(
        self, line: _Line, entry: Entry, back: Entry | None
    ) -> Iterator[tuple[type[Any], int, dict[str, Any]]]:
        pieces = tuple(line.left[entry.index]) if entry.index < len(line.left) else ()
        if entry.what == "supplied":
            yield from self._supplied(line, entry)
        elif entry.what == "dry":
            yield from self._dry(line, entry, pieces)
        elif entry.what == "ended":
            yield from self._done(line, entry, back, pieces)

    def _supplied(
        self, line: _Line, entry: Entry
    ) -> Iterator[tuple[type[Any], int, dict[str, Any]]]:
        new = tuple(line.left[0])
        yield PieceStarted, entry.at, {
            "pieces": new, "kind": line.kind, "species": WOOD[line.kind],
            "coat_area_m2": _AREA[line.kind], "use": USE[line.kind], "schedule": line.kind,
        }  # fmt: skip
        if line.batch.ready_in.p50 == 0.0 and not line.remade:
            allotted = {"pieces": new, "order": self.order.id, "line": self._number(line)}
            yield PieceAllotted, entry.at, allotted

    def _dry(
        self, line: _Line, entry: Entry, pieces: tuple[str, ...]
    ) -> Iterator[tuple[type[Any], int, dict[str, Any]]]:
        """A film found dry at night's end was ready before; in the day somebody tried just before.
        Not every film is tried."""
        if entry.number % 3:
            return
        last = entry.index == max(n for n, s in enumerate(line.batch.operations) if s.wait)
        check = {"pieces": pieces[:1], "stage": "cured" if last else "sandable"}
        before = entry.at - 10 * MINUTE
        if entry.recorded == entry.at and before > line.begun:
            yield DrynessChecked, before, {**check, "ready": False}
        yield DrynessChecked, entry.recorded, {**check, "ready": True}

    def _done(
        self, line: _Line, entry: Entry, back: Entry | None, pieces: tuple[str, ...]
    ) -> Iterator[tuple[type[Any], int, dict[str, Any]]]:
        step = line.batch.operations[entry.index]
        work = {
            "pieces": pieces, "hands_on_min": entry.minutes, "ended_at": self._moment(entry.at),
        }  # fmt: skip
        if step.needs == SPRAY:
            product = SHEET[line.kind]
            lot = lot_of(product, line.begun)
            coat = {"lot": lot, "gun": entry.gun, "room": "spray", "wet_film_um": FILM_UM}
            yield CoatApplied, line.begun, {**work, **coat}
            again = tuple(p for p in pieces if p in line.again)
            if again:
                line.again -= set(again)
                yield ReworkFinished, entry.at, {"pieces": again, "done": "recoat"}
        elif step.name == "sand":
            yield Sanded, line.begun, {**work, "stage": "bare", "grit": 150}
        elif step.name.startswith("scuff"):
            yield Sanded, line.begun, {**work, "stage": "between_coats", "grit": 320}
        elif step.name == "pack":
            yield Packed, line.begun, {**work, "touching": "paper"}
        else:
            yield from self._looked(line, entry, back, pieces)

    def _looked(
        self, line: _Line, entry: Entry, back: Entry | None, pieces: tuple[str, ...]
    ) -> Iterator[tuple[type[Any], int, dict[str, Any]]]:
        """Some pass, some are put right, some are lost and asked for again."""
        lost = pieces[: back.scrap] if back else ()
        sent = pieces[len(lost) : back.pieces] if back else ()
        passed = pieces[len(lost) + len(sent) :]
        each = entry.minutes / len(pieces)
        look = {"point": "final", "ended_at": self._moment(entry.at)}
        for some, good in ((passed, True), (lost + sent, False)):
            if some:
                minutes = round(each * len(some), 3)
                yield Inspected, line.begun, {
                    **look, "pieces": some, "passed": good, "hands_on_min": minutes,
                }  # fmt: skip
        if sent:
            yield DefectFound, entry.at, {"pieces": sent, "kind": "nib"}
            yield ReworkStarted, entry.at, {"pieces": sent, "remedy": "recoat", "because": "nib"}
            line.again |= set(sent)
        fresh = []
        if lost:
            yield Scrapped, entry.at, {"pieces": lost, "why": "finish"}
            line.remade += 1
            fresh = [f"{piece.partition('r')[0]}r{line.remade}" for piece in lost]
            line.pieces = [p for p in line.pieces if p not in lost] + fresh
            yield from self._expected(line, fresh, entry.at, self.lived.world.shop.joinery_lead)
        if back:
            target = back.index - line.batch.operations[back.index].back
            for index in range(len(line.left)):
                if index < target:
                    line.left[index] = fresh or line.left[index]
                elif index <= back.index:
                    line.left[index] = [*sent, *fresh]
                else:
                    kept = [p for p in line.left[index] if p not in lost]
                    line.left[index] = [*kept, *fresh]
