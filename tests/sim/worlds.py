"""Invented shops over half a year for judging promises: what they are and what befalls them.

A world has two sides. The *plan* is what the shop believes (`Shop`, the planned operations); the
*nature* is what is so: slower or faster hands, another finish, weather, weeks in which much comes
back, sickness, closures told late. None of its numbers is a default of the product.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from math import exp
from zoneinfo import ZoneInfo

import numpy as np
from shop_spec import (
    AT_ONCE,
    CURING,
    PERSON,
    RACK,
    SPRAY,
    Batch,
    Gun,
    Opening,
    Operation,
    Person,
    Range,
    Shop,
    Stretch,
)

WEEKS, AFTER_WEEKS = 26, 10
KINDS = ("bedside", "shelf", "box", "table")
_SHARES = (0.3, 0.35, 0.27, 0.08)
_PIECES = {"bedside": 4, "shelf": 8, "box": 10, "table": 2}  # below so many
_AREA = {"bedside": 1.3, "shelf": 0.55, "box": 0.22, "table": 3.4}
_DAYS_DUE = {"bedside": 10, "shelf": 8, "box": 8, "table": 15}
_ZONES = ("Europe/Dublin", "America/Halifax", "Pacific/Auckland", "Europe/Oslo", "Asia/Kolkata")
_HOURS = (
    (("12345", "08:00", "12:00"), ("12345", "12:45", "17:00")),
    (("1234", "07:15", "17:30"),),
    (("12345", "09:00", "16:30"), ("6", "09:00", "12:00")),
)
_PICK_UPS = ((1, 2, 3, 4, 5), (2, 4), (1, 3, 5), (2, 5), (1, 2, 3, 4, 5))
DRY_SPREAD, WEATHER_SPREAD = 0.16, 0.22
# How nature goes on from one day to the next.
WEATHER_KEEPS = 0.85
BAD_STAYS, BAD_COMES, BAD, GOOD = 0.87, 0.012, 4.0, 0.9
SICK_EVERY_DAYS = 45.0


@dataclass(frozen=True)
class Told:
    """A stretch and when the shop was told of it; of one `spell` the last told counts."""

    told_at: datetime
    stretch: Stretch
    spell: int
    person: str = ""


@dataclass(frozen=True)
class Order:
    id: str
    ordered_at: datetime
    batches: tuple[Batch, ...]


@dataclass(frozen=True)
class Nature:
    """What is so, and known to nobody in the shop."""

    hands: Mapping[tuple[str, str], float]
    finish: Mapping[str, float]
    weather: tuple[float, ...]
    burst: tuple[float, ...]
    rework: Mapping[str, float]
    scrap: float
    supply: float
    late_share: float


@dataclass(frozen=True)
class World:
    """One shop, its half year of orders and its nature; `shop` knows every closure and absence."""

    seed: int
    shop: Shop
    orders: tuple[Order, ...]
    nature: Nature
    kinds: Mapping[str, str]
    closures: tuple[Told, ...]
    absences: tuple[Told, ...]

    @property
    def judged_until(self) -> datetime:
        return self.shop.now + timedelta(weeks=WEEKS)


@cache
def planned(kind: str, seed: int) -> tuple[Operation, ...]:
    """Return how a shop believes that a kind of piece goes through it."""
    area = _AREA[kind]
    slow = (0.7, 1.0, 1.4)[seed % 3]
    product = "satin" if kind in ("shelf", "table") else "clear"

    def lasting(minutes: float) -> Range:
        spread = exp(1.2815515655446004 * (DRY_SPREAD**2 + WEATHER_SPREAD**2) ** 0.5)
        return Range(minutes / spread, minutes, minutes * spread)

    def coat(number: int, minutes: float, place: str) -> Operation:
        hands = (5.0, 2.5 + 4.5 * area, 0.2)
        return Operation(f"coat {number}", SPRAY, *hands, product, lasting(minutes), place)

    last = 4 if kind == "table" else 3
    steps = [Operation("sand", PERSON, 10.0, 4.0 + 11.0 * area, 0.3)]
    for number in range(1, last):
        steps.append(coat(number, 170.0 * slow, RACK))
        steps.append(Operation(f"scuff {number}", PERSON, 4.0, 1.5 + 3.0 * area, 0.25))
    steps.append(coat(last, (3200.0 if kind == "table" else 1100.0) * slow, CURING))
    look = Operation("look", PERSON, 3.0, 2.5, 0.2, back=2, rounds=3)
    steps.append(replace(look, rework_chance=0.06, scrap_chance=0.004))
    steps.append(Operation("pack", PERSON, 6.0, 4.0 + 4.0 * area, 0.25))
    return tuple(steps)


def world(seed: int) -> World:
    """Return the world of a seed, the same each time."""
    rng = np.random.Generator(np.random.PCG64((77, seed)))
    zone = _ZONES[seed % len(_ZONES)]
    first = date(2026, 1, 5) + timedelta(days=int(rng.integers(0, 800)))
    start = datetime.combine(first, time(6), tzinfo=ZoneInfo(zone)).astimezone(UTC)
    people = tuple(Person(f"p{n}") for n in range(1 + seed % 3))
    plain = Shop(
        zone=zone,
        now=start,
        openings=tuple(
            Opening(int(day), time.fromisoformat(opens), time.fromisoformat(closes))
            for days, opens, closes in _HOURS[seed % len(_HOURS)]
            for day in days
        ),
        people=people,
        batches=(),
        pick_up_weekdays=_PICK_UPS[(seed // 2) % len(_PICK_UPS)],
        cut_off=time(int(rng.integers(11, 17))),
        guns=tuple(Gun(f"g{n}") for n in range(1 + int(rng.random() < 0.5))),
        changeover_min=float(rng.integers(8, 26)),
        rack_places=int(rng.integers(30, 60)),
        curing_places=int(rng.integers(40, 80)),
        shop_share=0.3,
        joinery_lead=Range(2 * 1440.0, 3.5 * 1440.0, 7 * 1440.0),
    )
    nature = _nature(rng)
    closures, absences = _closures(plain, rng), _absences(plain, rng)
    truth = replace(
        plain,
        closures=_last_told(closures),
        people=tuple(Person(p.id, _last_told(absences, p.id)) for p in people),
    )
    orders, kinds = _orders(plain, nature, seed, rng)
    return World(seed, truth, orders, nature, kinds, closures, absences)


def _last_told(told: tuple[Told, ...], person: str = "") -> tuple[Stretch, ...]:
    last = {item.spell: item.stretch for item in told if item.person == person}
    return tuple(last.values())


def known_stretches(told: tuple[Told, ...], at: datetime, person: str = "") -> tuple[Stretch, ...]:
    """Return the stretches as they had been told by a moment."""
    return _last_told(tuple(item for item in told if item.told_at <= at), person)


def _nature(rng: np.random.Generator) -> Nature:
    """Draw what is so: slower hands than planned rather than faster, and bad weeks in a row."""
    days = (WEEKS + AFTER_WEEKS + 30) * 7
    whole = exp(0.08 + 0.15 * rng.standard_normal())
    hands = {
        (kind, step.name): whole * exp(0.12 * float(rng.standard_normal()))
        for kind in KINDS
        for step in planned(kind, 0)
    }
    weather = weather_from(0.0, days, rng)
    burst = bursts_from(GOOD, days, rng)
    return Nature(
        hands=hands,
        finish={p: exp(0.2 * float(rng.standard_normal())) for p in ("clear", "satin")},
        weather=weather,
        burst=burst,
        rework={kind: float(rng.uniform(0.015, 0.11)) for kind in KINDS},
        scrap=float(rng.uniform(0.0, 0.008)),
        supply=exp(0.06 + 0.08 * float(rng.standard_normal())),
        late_share=float(rng.uniform(0.03, 0.2)),
    )


def weather_from(today: float, days: int, rng: np.random.Generator) -> tuple[float, ...]:
    """Return today's weather and that of so many days after it: each is like the day before."""
    weather = [today]
    for draw in rng.standard_normal(days):
        step = WEATHER_SPREAD * (1.0 - WEATHER_KEEPS**2) ** 0.5 * float(draw)
        weather.append(WEATHER_KEEPS * weather[-1] + step)
    return tuple(weather)


def bursts_from(today: float, days: int, rng: np.random.Generator) -> tuple[float, ...]:
    """Return by what today's chance of rework is multiplied, and that of the days after it."""
    burst = [today]
    for draw in rng.random(days):
        burst.append(BAD if draw < (BAD_STAYS if burst[-1] == BAD else BAD_COMES) else GOOD)
    return tuple(burst)


def _local(shop: Shop, day: int, at: time) -> datetime:
    zone = ZoneInfo(shop.zone)
    local = shop.now.astimezone(zone).date() + timedelta(days=day)
    return datetime.combine(local, at, tzinfo=zone).astimezone(UTC)


def _closures(shop: Shop, rng: np.random.Generator) -> tuple[Told, ...]:
    """Return days on which the shop is closed, some known from the start and some told late."""
    told = []
    for spell in range(5):
        day = int(rng.integers(10, (WEEKS + 4) * 7))
        length = 1 if spell < 3 else int(rng.integers(2, 7))
        notice = 400 if spell < 2 else int(rng.integers(0, 15))
        stretch = Stretch(_local(shop, day, time(0)), _local(shop, day + length, time(0)))
        told.append(Told(_local(shop, day - notice, time(7)), stretch, spell))
    return tuple(told)


def _absences(shop: Shop, rng: np.random.Generator) -> tuple[Told, ...]:
    """Return sick days, told on the morning; the day of coming back is now and then put off."""
    told = []
    for person in shop.people:
        for starts, length, more in sick_spells(0, (WEEKS + AFTER_WEEKS) * 7, rng):
            said = [(starts, length)] + [(starts + length, length + more)] * bool(more)
            for on, days in said:
                ends = _local(shop, starts + days, time(0))
                stretch = Stretch(_local(shop, starts, time(0)), ends)
                told.append(Told(_local(shop, on, time(7)), stretch, starts, person.id))
    return tuple(told)


def sick_spells(first: int, last: int, rng: np.random.Generator) -> Iterator[tuple[int, int, int]]:
    """Yield on which day a person falls ill, for how many days, and how many are added later."""
    day = first + int(rng.exponential(SICK_EVERY_DAYS))
    while day < last:
        length, more = int(rng.integers(1, 4)), int(rng.random() < 0.3) * 2
        yield day, length, more
        day += length + more + 1 + int(rng.exponential(SICK_EVERY_DAYS))


def _orders(
    shop: Shop, nature: Nature, seed: int, rng: np.random.Generator
) -> tuple[tuple[Order, ...], dict[str, str]]:
    """Return what customers order, a little more or less than the shop can bear by season."""
    load = float(rng.uniform(0.68, 0.84))
    phase = float(rng.uniform(0.0, 6.28))
    minutes_a_day = _open_min_a_week(shop) * len(shop.people) * 0.94 / 7.0
    gap = _mean_order_min(shop, nature, seed) / (minutes_a_day * load)
    orders: list[Order] = []
    kinds: dict[str, str] = {}
    day = 0.0
    while day < (WEEKS + AFTER_WEEKS) * 7:
        season = 1.0 + 0.22 * float(np.sin(phase + day / 22.0))
        day += float(rng.exponential(gap / season))
        ordered = shop.now + timedelta(minutes=round(day * 1440.0))
        name = f"o{len(orders):04d}"
        lines = []
        for line in range(1 + int(rng.random() < 0.2)):
            kind = KINDS[int(rng.choice(len(KINDS), p=_SHARES))]
            lines.append(_line(f"{name}.{line}", name, kind, ordered, seed, rng))
            kinds[lines[-1].id] = kind
        due = max(line.due for line in lines)
        orders.append(Order(name, ordered, tuple(replace(line, due=due) for line in lines)))
    return tuple(orders), kinds


def _line(
    name: str, order: str, kind: str, ordered: datetime, seed: int, rng: np.random.Generator
) -> Batch:
    days = _DAYS_DUE[kind] + seed % 4
    supply = AT_ONCE
    if rng.random() < 0.6:  # the others are made already, and wait for a buyer
        middle = float(rng.uniform(1.5, 9.0)) * 1440.0
        supply = Range(0.75 * middle, middle, 1.4 * middle)
    # The house rule by which the shop works: so many days after the pieces should be there.
    due = ordered + timedelta(days=days, minutes=supply.p50)
    return Batch(
        id=name,
        order=order,
        pieces=int(rng.integers(1, _PIECES[kind])),
        ordered_at=ordered,
        due=due.date(),
        operations=planned(kind, seed),
        ready_in=supply,
    )


def _open_min_a_week(shop: Shop) -> float:
    return sum(
        (opening.closes.hour - opening.opens.hour) * 60.0
        + (opening.closes.minute - opening.opens.minute)
        for opening in shop.openings
    )


def _mean_order_min(shop: Shop, nature: Nature, seed: int) -> float:
    """Return about how many hands-on minutes an order takes: 1.2 lines, some of it done again."""
    total = 0.0
    for kind, share in zip(KINDS, _SHARES, strict=True):
        pieces = _PIECES[kind] / 2.0
        for step in planned(kind, seed):
            changes = 0.4 * shop.changeover_min if step.product else 0.0
            planned_min = step.setup_min + step.piece_min * pieces
            total += share * (planned_min * nature.hands[kind, step.name] * 1.05 + changes)
    return 1.2 * 1.08 * total
