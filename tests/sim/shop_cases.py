"""Shops to feed a model with: ten that differ in everything, one of 200 pieces. All invented."""

from dataclasses import dataclass, replace
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from shop_spec import (
    AT_ONCE,
    CURING,
    NOBODY,
    PERSON,
    RACK,
    SPRAY,
    Batch,
    Gun,
    InHand,
    Opening,
    Operation,
    Person,
    Range,
    Shop,
    Stretch,
)

KINDS = ("bedside", "shelf", "box", "table")
# What comes off one day's bench, in pieces, and the area of one in square metres.
PIECES = {"bedside": (2, 5), "shelf": (3, 9), "box": (4, 13), "table": (1, 2)}
AREA = {"bedside": 1.4, "shelf": 0.6, "box": 0.25, "table": 3.6}
DAYS_DUE = {"bedside": 14, "shelf": 9, "box": 10, "table": 24}


@dataclass(frozen=True)
class Trait:
    """What makes one of the ten shops: every field differs between at least two of them."""

    zone: str
    now: str
    hours: tuple[tuple[str, str, str], ...]
    people: int
    guns: tuple[str, ...]
    booth: int
    rack: int
    curing: int
    pieces: int
    pick_ups: tuple[int, ...]
    cut_off: time
    drying: float
    rework: float
    scrap: float
    share: float
    changeover: float
    closed: tuple[tuple[str, str], ...] = ()
    absent: tuple[tuple[int, str, str], ...] = ()


_WEEK = (("12345", "08:00", "12:00"), ("12345", "13:00", "17:00"))
_LONG = (("1234", "07:00", "18:30"), ("5", "07:00", "12:00"))
_NIGHT = (("12345", "14:00", "00:00"), ("23456", "00:00", "01:30"))
_PART = (("2", "16:00", "21:00"), ("4", "16:00", "21:00"), ("6", "09:00", "18:00"))

TRAITS = (
    Trait(
        *("Europe/Dublin", "2026-03-05T11:20", _WEEK, 2, ("clear", ""), 1, 60, 40, 36),
        *((1, 2, 3, 4, 5), time(15), 1.0, 0.05, 0.005, 0.3, 12.0),
    ),
    Trait(  # the clock springs forward under it, and one person is away for days
        *("Europe/Lisbon", "2026-03-27T16:40", _WEEK, 2, ("clear",), 1, 30, 16, 48),
        *((2, 4), time(12), 1.5, 0.08, 0.01, 0.5, 20.0),
        absent=((1, "2026-03-30", "2026-04-02"),),
    ),
    Trait(  # it works past midnight while the clock falls back
        *("America/Halifax", "2026-10-29T20:05", _NIGHT, 1, ("satin", "clear"), 1, 24, 24, 30),
        *((1, 3, 5), time(10, 30), 0.8, 0.03, 0.0, 0.2, 15.0),
    ),
    Trait(  # two weeks closed, and a pick-up day that is a holiday
        *("Europe/Oslo", "2026-12-16T09:00", _LONG, 3, ("clear", "satin"), 2, 80, 60, 70),
        *((3, 5), time(14), 1.2, 0.06, 0.01, 0.4, 10.0),
        closed=(("2026-12-21", "2027-01-04"), ("2027-01-06", "2027-01-07")),
    ),
    Trait(  # three evenings a week beside another living
        *("America/St_Johns", "2026-06-02T17:10", _PART, 1, ("",), 1, 14, 14, 16),
        *((6,), time(16), 1.0, 0.04, 0.02, 0.6, 25.0),
    ),
    Trait(  # no places to speak of: the rack is what holds it up
        *("Pacific/Auckland", "2026-04-01T08:00", _WEEK, 2, ("clear", "clear"), 2, 12, 12, 40),
        *((1, 2, 3, 4, 5), time(16, 30), 1.0, 0.05, 0.0, 0.3, 8.0),
        closed=(("2026-04-03", "2026-04-07"),),
    ),
    Trait(  # a bad month: much comes back
        *("Asia/Kolkata", "2026-07-14T10:30", _LONG, 2, ("satin",), 1, 40, 30, 44),
        *((1, 4), time(17), 2.0, 0.30, 0.03, 0.7, 18.0),
    ),
    Trait(  # leap day, month end
        *("Europe/Dublin", "2028-02-25T13:15", _WEEK, 1, ("",), 1, 50, 50, 26),
        *((2, 5), time(9), 1.3, 0.05, 0.01, 0.0, 30.0),
        closed=(("2028-02-29", "2028-03-01"),),
    ),
    Trait(  # many hands, one gun
        *("Australia/Lord_Howe", "2026-10-01T09:45", _LONG, 4, ("clear",), 1, 90, 70, 90),
        *((1, 2, 3, 4, 5), time(13), 0.6, 0.06, 0.005, 0.3, 22.0),
        absent=((0, "2026-10-02", "2026-10-07"), (2, "2026-10-05", "2026-10-06")),
    ),
    Trait(  # quick finish, never a change
        *("UTC", "2026-08-31T07:30", _WEEK, 2, ("clear", "satin"), 1, 60, 60, 60),
        *((1, 2, 3, 4, 5, 6), time(18), 0.4, 0.02, 0.0, 0.3, 0.0),
    ),
)


def operations(kind: str, trait: Trait) -> tuple[Operation, ...]:
    """Return how a kind of piece goes through a shop: prepare, coats, inspection, cure, pack."""
    area, slow = AREA[kind], trait.drying
    product = "satin" if kind in ("shelf", "table") else "clear"
    dry, cure = (
        Range(105 * slow, 160 * slow, 300 * slow),
        Range(600 * slow, 900 * slow, 1600 * slow),
    )

    def coat(number: int, after: Range, place: str) -> Operation:
        minutes = (6.0, 3.0 + 5.0 * area)
        return Operation(f"coat {number}", SPRAY, *minutes, 0.2, product, after, place)

    scuff = Operation("scuff", PERSON, 4.0, 2.0 + 3.0 * area, 0.25)
    steps = [Operation("sand", PERSON, 8.0, 4.0 + 10.0 * area, 0.3), coat(1, dry, RACK)]
    for number in range(2, 5 if kind == "table" else 3):
        steps += [scuff, coat(number, dry, RACK)]
    steps += [scuff, coat(9, cure, CURING)]
    look = Operation("look over", PERSON, 3.0, 2.0, 0.2, back=2, rounds=3)
    steps.append(replace(look, rework_chance=trait.rework, scrap_chance=trait.scrap))
    if kind == "box":
        steps.append(Operation("lids away", NOBODY, 1400.0, 10.0, 0.2))
    steps.append(Operation("pack", PERSON, 5.0, 3.0 + 4.0 * area, 0.25))
    return tuple(steps)


def shop_of(trait: Trait, seed: int) -> Shop:
    """Return the shop of a trait with its orders half done, as any morning finds them."""
    zone = ZoneInfo(trait.zone)
    now = datetime.fromisoformat(trait.now).replace(tzinfo=zone).astimezone(UTC)
    rng = np.random.default_rng((20260301, seed))

    def stretch(start: str, end: str) -> Stretch:
        ends = (datetime.fromisoformat(day).replace(tzinfo=zone) for day in (start, end))
        return Stretch(*(moment.astimezone(UTC) for moment in ends))

    people = tuple(
        Person(f"p{n}", tuple(stretch(a, b) for who, a, b in trait.absent if who == n))
        for n in range(trait.people)
    )
    shop = Shop(
        zone=trait.zone,
        now=now,
        openings=tuple(
            Opening(int(day), time.fromisoformat(opens), time.fromisoformat(closes))
            for days, opens, closes in trait.hours
            for day in days
        ),
        people=people,
        batches=(),
        pick_up_weekdays=trait.pick_ups,
        cut_off=trait.cut_off,
        closures=tuple(stretch(start, end) for start, end in trait.closed),
        guns=tuple(Gun(f"g{n}", holds) for n, holds in enumerate(trait.guns)),
        changeover_min=trait.changeover,
        booth_places=trait.booth,
        rack_places=trait.rack,
        curing_places=trait.curing,
        shop_share=trait.share,
        joinery_lead=Range(2 * 1440.0, 4 * 1440.0, 9 * 1440.0),
    )
    return replace(shop, batches=_batches(shop, trait, rng))


def _batches(shop: Shop, trait: Trait, rng: np.random.Generator) -> tuple[Batch, ...]:
    batches: list[Batch] = []
    free = {RACK: shop.rack_places // 2, CURING: shop.curing_places // 2}
    held = {gun.holds: gun.id for gun in shop.guns if gun.holds}
    pieces = 0
    while pieces < trait.pieces:
        kind = KINDS[int(rng.choice(4, p=(0.35, 0.3, 0.25, 0.1)))]
        count = min(int(rng.integers(*PIECES[kind])), trait.pieces - pieces)
        pieces += count
        # Two batches in five belong to the order before: a cart of several lines.
        joins = bool(batches) and rng.random() < 0.4
        days_ago = float(rng.uniform(0.0, 10.0))
        ordered = batches[-1].ordered_at if joins else shop.now - timedelta(days=days_ago)
        due = (ordered + timedelta(days=DAYS_DUE[kind])).date()
        number = len(batches)
        order = batches[-1].order if joins else f"o{number:02d}"
        batch = Batch(f"b{number:02d}", order, count, ordered, due, operations(kind, trait))
        batches.append(_somewhere(batch, number, free, held, rng))
    return tuple(batches)


def _somewhere(
    batch: Batch, number: int, free: dict[str, int], held: dict[str, str], rng: np.random.Generator
) -> Batch:
    """Put a batch somewhere on its way: expected, ready, drying or in hand."""
    steps = batch.operations
    position = int(rng.integers(0, len(steps)))
    before = steps[position - 1] if position else None
    if number == 0:
        # The first batch is under the hands of the first person, sprayed where the gun allows.
        sprayed = [i for i, step in enumerate(steps) if step.product in held and step.product]
        position = sprayed[0] if sprayed else 0
        gun = held[steps[position].product] if sprayed else ""
        if not sprayed or free[steps[position].place] >= batch.pieces:
            if sprayed:
                free[steps[position].place] -= batch.pieces
            return replace(batch, position=position, in_hand=InHand("p0", 25.0, 0.3, gun))
        return batch
    if position == 0 and rng.random() < 0.6:
        days = float(rng.uniform(0.5, 5.0)) * 1440.0
        return replace(batch, ready_in=Range(0.6 * days, days, 2.2 * days))
    if before and before.wait and before.place and free[before.place] >= batch.pieces:
        free[before.place] -= batch.pieces
        passed = float(rng.uniform(0.0, before.wait.p50))
        ready = Range(
            max(0.0, before.wait.p10 - passed),
            before.wait.p50 - passed,
            before.wait.p90 - passed,
        )
        place = before.place
        return replace(
            batch, position=position, ready_in=ready, ready_is_wait=True, place_held=place
        )
    return replace(batch, position=position, ready_in=AT_ONCE)


TEN_SHOPS = tuple(shop_of(trait, seed) for seed, trait in enumerate(TRAITS))
# The shop whose replications are timed: 200 open pieces, two people, two guns; as they come off the
# bench, and each piece on its own.
TWO_HUNDRED = shop_of(replace(TRAITS[0], pieces=200, rack=120, curing=120), 200)
TWO_HUNDRED_SINGLY = replace(
    TWO_HUNDRED,
    batches=tuple(
        replace(batch, id=f"{batch.id}.{n:02d}", pieces=1, in_hand=None if n else batch.in_hand)
        for batch in TWO_HUNDRED.batches
        for n in range(batch.pieces)
    ),
)


def certain(shop: Shop) -> Shop:
    """Return a shop without chance, in which two models must agree to the minute.

    Every duration is its middle one; where much comes back, everything does, once.
    """

    def middle(span: Range) -> Range:
        return Range(span.p50, span.p50, span.p50)

    def step(one: Operation) -> Operation:
        comes_back = float(one.rework_chance >= 0.06)
        wait = middle(one.wait) if one.wait else None
        return replace(
            one, spread=0.0, wait=wait, rework_chance=comes_back, scrap_chance=0.0, rounds=1
        )

    def batch(one: Batch) -> Batch:
        job = replace(one.in_hand, spread=0.0) if one.in_hand else None
        steps = tuple(step(operation) for operation in one.operations)
        return replace(one, operations=steps, ready_in=middle(one.ready_in), in_hand=job)

    lead = middle(shop.joinery_lead)
    return replace(shop, batches=tuple(batch(one) for one in shop.batches), joinery_lead=lead)
