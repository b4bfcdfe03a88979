"""Finish on hand against finish needed: when and at which piece it runs out, what goes to waste.

One product at a time. Lots are used the soonest-ending first; a lot past its use-by or pot life
counts as waste from that moment on. Needs come with a range, so the day it runs out has one too.
"""

import math
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from typing import Literal

import pendulum
from msgspec import Struct

from coatledger.computations.ranges import require
from coatledger.computations.viscosity import Range

LITRES = "litres of one product in a small shop"
Guess = Literal["low", "likely", "high"]


class Lot(Struct, frozen=True):
    """A can or mix on hand; `usable_until` is None where neither use-by nor pot life ends it."""

    lot: str
    left_l: float
    usable_until: datetime | None = None


class Need(Struct, frozen=True):
    """Litres one act on one piece will take, and when it is planned."""

    piece: str
    at: datetime
    litres: Range


class Short(Struct, frozen=True):
    """Where the finish runs out: at this piece, then, with so much missing for all that follows."""

    piece: str
    at: datetime
    missing_l: float


class Spoilt(Struct, frozen=True):
    """What will be left in a lot when it may no longer be used."""

    lot: str
    at: datetime
    litres: float


class Outlook(Struct, frozen=True):
    """One product's stock against its needs.

    `earliest` is where it runs out should every need come out high, `latest` should every one come
    out low; None means it lasts. `waste` and `left_l` belong to the likely course.
    """

    usable_l: float
    needed_l: Range
    earliest: Short | None
    likely: Short | None
    latest: Short | None
    to_buy_l: Range
    waste: tuple[Spoilt, ...]
    left_l: float


def usable_until(
    use_by: date | None, mixed_at: datetime | None, pot_life_h: float | None, zone: str
) -> datetime | None:
    """The moment a lot ends: the end of its use-by day in the shop's zone, or its pot life.

    *Reference:* the data sheet's pot life and the label's date; the sooner ends it. *Valid:* a pot
    life is elapsed time, a use-by day the shop's calendar day.
    """
    ends = []
    if use_by is not None:
        day_after = use_by + timedelta(days=1)
        midnight = pendulum.datetime(day_after.year, day_after.month, day_after.day, tz=zone)
        ends.append(datetime.fromtimestamp(midnight.timestamp(), UTC))
    if pot_life_h is not None and mixed_at is not None:
        require("pot_life_h", pot_life_h, 0.05, 10_000, "the data sheet's pot life")
        ends.append(_utc(mixed_at) + timedelta(hours=pot_life_h))
    return min(ends) if ends else None


def outlook(lots: Sequence[Lot], needs: Sequence[Need], now: datetime) -> Outlook:
    """Run the needs through the lots in time order: three courses, low, likely and high.

    *Reference:* bookkeeping; first to end is first used. *Valid:* each need takes what it takes
    whether or not the finish is there, so that `to_buy_l` covers all of them.
    """
    _checked(lots, needs)
    usable = math.fsum(lot.left_l for lot in lots if _lives(lot, now))
    low, _, _ = _course(lots, needs, "low")
    likely, waste, left = _course(lots, needs, "likely")
    high, _, _ = _course(lots, needs, "high")
    needed = Range(*(_total(needs, guess) for guess in ("low", "likely", "high")))
    to_buy = Range(*(short.missing_l if short else 0.0 for short in (low, likely, high)))
    return Outlook(usable, needed, high, likely, low, to_buy, waste, left)


class Pot(Struct, frozen=True):
    """One mix: litres of each part in the order of the recipe, and when its pot life ends."""

    litres: float
    parts: tuple[tuple[str, float], ...]
    use_until: datetime | None


class Mix(Struct, frozen=True):
    """What to mix for a batch: pots one after another, and what will stay in guns and cups."""

    pots: tuple[Pot, ...]
    mixed_l: float
    lost_l: float


def next_mix(
    needed_l: float,
    parts: Sequence[tuple[str, float]],
    spray_l_per_h: float,
    pot_life_h: float | None,
    start: datetime,
    loss_per_pot_l: float = 0.05,
) -> Mix:
    """Split a batch into pots that are sprayed out within their pot life.

    *Reference:* the sheet's parts by volume and pot life; a pot plans on four fifths of it, and the
    loss in cup and strainer, both common practice, no published source. *Valid:* pots mixed one
    after another, each when the one before is empty.
    """
    require("needed_l", needed_l, 0.001, 1000, LITRES)
    require("spray_l_per_h", spray_l_per_h, 0.1, 200, "a hand-held gun")
    require("loss_per_pot_l", loss_per_pot_l, 0, 5, "what stays in a cup and strainer")
    if not parts:
        raise ValueError("a mix has at least one part")
    for name, volume in parts:
        require(f"parts of {name}", volume, 0.001, 10_000, "the data sheet's parts by volume")
    count = 1
    if pot_life_h is not None:
        require("pot_life_h", pot_life_h, 0.05, 10_000, "the data sheet's pot life")
        count = math.ceil(round(needed_l / (0.8 * pot_life_h * spray_l_per_h), 9))
        require("pots", count, 1, 100, "pots mixed for one batch")
    each_l = needed_l / count
    whole = math.fsum(volume for _, volume in parts)
    pot_l = each_l + loss_per_pot_l
    shares = tuple((name, pot_l * volume / whole) for name, volume in parts)
    pots = []
    for number in range(count):
        mixed_at = _utc(start) + timedelta(hours=number * each_l / spray_l_per_h)
        until = None if pot_life_h is None else mixed_at + timedelta(hours=pot_life_h)
        pots.append(Pot(pot_l, shares, until))
    return Mix(tuple(pots), pot_l * count, loss_per_pot_l * count)


def _course(
    lots: Sequence[Lot], needs: Sequence[Need], guess: Guess
) -> tuple[Short | None, tuple[Spoilt, ...], float]:
    far = datetime.max.replace(tzinfo=UTC)
    queue = sorted(lots, key=lambda lot: (_end(lot) or far, lot.lot))
    left = {lot.lot: lot.left_l for lot in queue}
    first: Need | None = None
    missing = 0.0
    for need in sorted(needs, key=lambda need: (_utc(need.at), need.piece)):
        wanted: float = getattr(need.litres, guess)
        for lot in queue:
            if wanted > 0 and _lives(lot, need.at):
                taken = min(left[lot.lot], wanted)
                left[lot.lot] -= taken
                wanted -= taken
        if wanted > 1e-9:
            first = first or need
            missing += wanted
    waste = tuple(
        Spoilt(lot.lot, end, left[lot.lot])
        for lot in queue
        if (end := _end(lot)) is not None and left[lot.lot] > 0
    )
    kept = math.fsum(left[lot.lot] for lot in queue if lot.usable_until is None)
    return (Short(first.piece, first.at, missing) if first else None), waste, kept


def _checked(lots: Sequence[Lot], needs: Sequence[Need]) -> None:
    names = [lot.lot for lot in lots]
    if len(set(names)) != len(names):
        raise ValueError("a lot is listed twice")
    for lot in lots:
        require(f"left_l of {lot.lot}", lot.left_l, 0, 1000, LITRES)
    for need in needs:
        place = f"litres for {need.piece}"
        require(f"low {place}", need.litres.low, 0, 1000, LITRES)
        require(f"likely {place}", need.litres.likely, need.litres.low, 1000, LITRES)
        require(f"high {place}", need.litres.high, need.litres.likely, 1000, LITRES)


def _total(needs: Sequence[Need], guess: Guess) -> float:
    amounts: list[float] = [getattr(need.litres, guess) for need in needs]
    return math.fsum(amounts)


def _lives(lot: Lot, at: datetime) -> bool:
    end = _end(lot)
    return end is None or _utc(at) < end


def _end(lot: Lot) -> datetime | None:
    return None if lot.usable_until is None else _utc(lot.usable_until)


def _utc(moment: datetime) -> datetime:
    if moment.tzinfo is None:
        raise ValueError(f"{moment.isoformat()} has no offset")
    return moment.astimezone(UTC)
