"""What the invented shop tells of itself on its first morning, and what it changes later."""

from collections.abc import Mapping
from datetime import timedelta

from coatledger.events.setup import (
    ClosureAnnounced,
    GunDescribed,
    InstrumentChecked,
    OfferingDescribed,
    PersonAbsent,
    ProductDescribed,
    RoomDescribed,
    ScheduleDescribed,
    ShopDescribed,
)

from coatledger_api.demo.finishes import CANS, PRODUCTS
from coatledger_api.demo.goods import OFFERINGS, SCHEDULES
from coatledger_api.demo.log import Log
from coatledger_api.demo.orders import CUTOFF, PICKUP
from coatledger_api.demo.shop import Shop
from coatledger_api.demo.workdays import SECOND, ZONE_NAME, Workdays, at, open_hours


def described(log: Log, days: Workdays) -> Mapping[str, ProductDescribed]:
    """Describe shop, rooms, guns, finishes, schedules and offerings; return the data sheets."""
    first = days.at(0, "07:05")
    log.note(
        ShopDescribed, first, source="office", zone=ZONE_NAME, hours=open_hours(), people=2,
        rack_places=48, pickup_days=PICKUP, pickup_cutoff=CUTOFF, service_level_pct=80.0,
        fallback_lead_days=21,
    )  # fmt: skip
    for room, name, volume_m3, places in (
        ("spray", "spray room", 62.0, 12), ("rack", "drying room", 38.0, 48),
    ):  # fmt: skip
        log.note(
            RoomDescribed, first, source="office", room=room, name=name, volume_m3=volume_m3,
            air_min_c=16.0, air_max_c=26.0, rh_min_pct=30.0, rh_max_pct=68.0, rack_places=places,
        )  # fmt: skip
    for gun, method, body in (
        ("gun-1", "hvlp", "aluminium"), ("gun-2", "hvlp", "steel"), ("gun-3", "hvlp", "aluminium"),
    ):  # fmt: skip
        log.note(
            GunDescribed, first, source="office", gun=gun, method=method, body=body,
            strip_clean_every_days=28, cap_pressure_max_kpa=69.0,
        )  # fmt: skip
    sheets = {
        product: log.note(
            ProductDescribed, first, source="office", product=product, sheet_version="1", **sheet
        )
        for product, sheet in PRODUCTS.items()
    }
    for schedule, what in SCHEDULES.items():
        log.note(ScheduleDescribed, first, source="office", schedule=schedule, **what)
    for offering, what in OFFERINGS.items():
        log.note(OfferingDescribed, first, source="office", offering=offering, **what)
    return sheets


def stocked(shop: Shop) -> None:
    """Put the first cans on the shelf, and hold the instruments against their references."""
    morning = shop.days.at(0, "07:10")
    for product, (_, count, _) in CANS.items():
        for _ in range(count):
            shop.cans.receive(product, morning)
    old = shop.cans.receive("sealer-w", morning + timedelta(minutes=1), use_by_days=11)
    shop.marked["sealer-w"] = old
    shop.cans.cans.remove(old)  # it stands at the back, and nobody takes it before its day
    for instrument, kind, error, unit in (
        ("th-1", "thermo_hygrometer", 0.2, "c"), ("th-2", "thermo_hygrometer", -1.5, "pct"),
        ("gauge-1", "film_gauge", 1.0, "um"), ("pin-1", "moisture_meter", 0.3, "pct"),
        ("gloss-1", "gloss_meter", 0.4, "gu"),
    ):  # fmt: skip
        shop.log.note(
            InstrumentChecked, morning, source="office", instrument=instrument, kind=kind,
            error=error, unit=unit, passed=True, reference="the shop's own reference",
        )  # fmt: skip


def times_away(shop: Shop) -> None:
    """Tell of the closed day, of a closure taken back, of leave to come and of an absence."""
    log, days = shop.log, shop.days
    for closed, told, cancelled in (
        (days.closed, days.at(4, "09:30"), False),
        (days.day(7), days.at(4, "09:31"), False),
        (days.day(7), days.at(6, "16:10"), True),
        (days.ahead[8], days.at(-5, "10:00"), False),
    ):
        log.note(
            ClosureAnnounced, told, source="office", first_day=closed, last_day=closed,
            why="leave" if closed != days.closed else "repair", cancelled=cancelled,
        )  # fmt: skip
    log.note(
        PersonAbsent, at(days.away, "07:20"), source="office", person=SECOND,
        since=at(days.away, "07:30"), until=at(days.away, "17:00"),
    )  # fmt: skip
