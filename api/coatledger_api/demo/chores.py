"""The invented shop's daily round: readings, guns, air line, rags, cans, deliveries."""

from datetime import date, datetime, timedelta
from typing import Final

from coatledger.events.about import RagsDealtWith
from coatledger.events.finish import LotFrozen, LotMeasured
from coatledger.events.room_gun import (
    AirLineServiced,
    AirMoved,
    ClimateRead,
    GunFlushed,
    GunStripCleaned,
    Reading,
)

from coatledger_api.demo.finishes import CANS
from coatledger_api.demo.floor import Ask, Script, minutes
from coatledger_api.demo.shop import Shop
from coatledger_api.demo.weather import COLD_DAY, DAMP_DAYS, ROOMS, STEP_MIN
from coatledger_api.demo.workdays import at

FROZEN_DAY: Final = 10
RAGS_FORGOTTEN: Final = 1  # the second evening with oily rags is the one nobody thinks of them


def mornings(shop: Shop) -> Script:
    """Read the air by hand with a probe on the wood, switch on what the day needs."""
    for index, day in enumerate(shop.days.days):
        slot = yield Ask(4, at(day, "07:30"), chore=True)
        now = shop.air.around("spray", slot.start)
        surface_c = round(now.air_c - (3.2 if index == DAMP_DAYS[1] else 0.4), 1)
        reading = Reading(air_c=now.air_c, rh_pct=now.rh_pct, surface_c=surface_c)
        fact = shop.log.note(
            ClimateRead, slot.start, actor=slot.who, room="spray", readings=(reading,),
            instrument="th-1",
        )  # fmt: skip
        shop.told[f"morning-{index}"] = fact
        for first, device, on in (
            (0, "heater", True), (DAMP_DAYS[0] + 1, "dehumidifier", True),
            (DAMP_DAYS[-1] + 1, "dehumidifier", False),
        ):  # fmt: skip
            if index == first:
                shop.log.note(AirMoved, slot.end, actor=slot.who, room="rack", device=device, on=on)
        if index == COLD_DAY:
            shop.log.note(
                AirMoved, slot.end, actor=slot.who, room="spray", device="heater", on=False,
                note="the heater had gone out in the night; relit at half past ten",
            )  # fmt: skip
            relit = at(day, "10:35")
            shop.log.note(AirMoved, relit, actor=slot.who, room="spray", device="heater")


def evenings(shop: Shop) -> Script:
    """Flush what was sprayed with, see to the rags, look into the cans, drain the air line."""
    oily = 0
    for index, day in enumerate(shop.days.days):
        friday = day.weekday() == 4
        slot = yield Ask(14, at(day, "15:14" if friday else "16:44"), chore=True)
        for place, (gun, using) in enumerate(sorted(shop.guns_dirty.items())):
            when = slot.start + minutes(place * 3)
            shop.log.note(
                GunFlushed, when, actor=slot.who, gun=gun, using=using, hands_on_min=3
            )  # fmt: skip
        shop.guns_dirty.clear()
        if shop.oily_rags:
            if oily != RAGS_FORGOTTEN:
                shop.log.note(
                    RagsDealtWith, slot.end, actor=slot.who, how="closed_metal_can_with_water",
                    room="spray",
                )  # fmt: skip
            oily, shop.oily_rags = oily + 1, False
        if friday:
            _end_of_week(shop, slot.start, slot.who)
        if index in (0, 13):
            guns = ("gun-1", "gun-2", "gun-3") if index == 0 else ("gun-1", "gun-2")
            for gun in guns:
                shop.log.note(
                    GunStripCleaned, slot.end, actor=slot.who, gun=gun, using="cleaner",
                    hands_on_min=6,
                )  # fmt: skip


def _end_of_week(shop: Shop, when: datetime, who: str) -> None:
    shop.log.note(
        AirLineServiced, when + minutes(10), actor=who, room="spray", drained=True,
        filter_changed=shop.chance(0.4), hands_on_min=4,
    )  # fmt: skip
    for can in shop.cans.cans:
        if can.opened and can.mixed is None and can.left_l > 0.15:
            # A stick tells tenths of a litre, and what was sprayed was only reckoned.
            can.left_l = round(can.left_l, 1)
            fact = shop.log.note(
                LotMeasured, when + minutes(11), actor=who, lot=can.lot, left_l=can.left_l,
                by="stick",
            )  # fmt: skip
            shop.told.setdefault("stick", fact)
        elif can.opened and can.mixed is None and 0 < can.left_l <= 0.15:
            shop.cans.discard(can, when + minutes(12), "empty", who)


def deliveries(shop: Shop) -> Script:
    """Twice a week what has run low comes in; one can has stood in a cold van."""
    for index, day in enumerate(shop.days.days):
        if day.weekday() not in (1, 3):
            continue
        slot = yield Ask(5, at(day, "10:40"), chore=True)
        for product, (_, _, least_l) in CANS.items():
            if shop.cans.stock_l(product) < least_l:
                shop.cans.receive(product, slot.end)
        if index >= FROZEN_DAY and "frozen" not in shop.marked:
            can = shop.cans.receive("clear-w", slot.end)
            shop.marked["frozen"] = can
            shop.log.note(
                LotFrozen, slot.end + minutes(4), actor=slot.who, lot=can.lot,
                note="it stood in the van over a night of frost",
            )  # fmt: skip
            shop.cans.discard(can, slot.end + minutes(30), "frozen", slot.who)


def logger(shop: Shop, until: datetime) -> None:
    """Send what the two loggers read, an hour at a time; over one weekend they had no network."""
    silent = _silent_weekend(shop)
    for room, instrument in zip(ROOMS, ("th-1", "th-2"), strict=True):
        hour: list[Reading] = []
        for reading in shop.air.readings[room]:
            assert reading.at is not None
            if not shop.days.at(0, "06:00") <= reading.at <= until:
                continue
            hour.append(reading)
            full = len(hour) >= 60 // STEP_MIN
            if full and not silent[0] <= reading.at < silent[1]:
                _send(shop, room, instrument, tuple(hour))
                hour.clear()
        if hour:
            _send(shop, room, instrument, tuple(hour))


def _send(shop: Shop, room: str, instrument: str, readings: tuple[Reading, ...]) -> None:
    start, end = readings[0].at, readings[-1].at
    assert start is not None
    assert end is not None
    shop.log.note(
        ClimateRead, start, ended_at=end, post_at=end, sent_by=f"logger-{room}", source="sensor",
        room=room, readings=readings, instrument=instrument,
    )  # fmt: skip


def _silent_weekend(shop: Shop) -> tuple[datetime, datetime]:
    """Return the second weekend: its readings were kept by the loggers and came in on Monday."""
    monday: date = next(d for d in shop.days.days[6:] if d.weekday() == 0)
    return at(monday - timedelta(days=3), "16:00"), at(monday, "07:40")
