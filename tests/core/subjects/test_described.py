"""Descriptions in force, and the shop's last words about itself."""

from datetime import date

from bench import on_day
from coatledger.events.about import RagsDealtWith
from coatledger.events.room_gun import (
    AirLineServiced,
    AirMoved,
    GunFlushed,
    GunSetUp,
    GunStripCleaned,
)
from coatledger.events.setup import ClosureAnnounced, GunDescribed, PersonAbsent, ProductDescribed
from coatledger.ledger.record import micros
from coatledger.subjects.described import (
    Named,
    Product,
    Room,
    Shop,
    evolve_named,
    evolve_product,
    evolve_room,
    evolve_shop,
    in_force,
)
from coatledger.subjects.gun import evolve as evolve_gun
from coatledger.subjects.gun import initial
from story import fact


def sheet(at: str, version: str) -> ProductDescribed:
    return fact(ProductDescribed, at, product="clear", kind="lacquer", sheet_version=version)


def test_the_description_in_force_is_the_last_one_before_and_else_the_first_there_is() -> None:
    product = Product(product="clear")
    for told in (sheet("2 08:00", "1"), sheet("4 08:00", "2")):
        product = evolve_product(product, told)
    in_force_at = {
        at: in_force(product.versions, micros(on_day(at)))
        for at in ("1 08:00", "2 08:00", "3 23:00", "4 08:00", "9 08:00")
    }
    assert [v.sheet_version for v in in_force_at.values() if v] == ["1", "1", "1", "2", "2"]
    assert in_force((), 0) is None


def test_of_two_descriptions_at_one_time_the_later_recorded_counts() -> None:
    versions = (sheet("2 08:00", "1"), sheet("2 08:00", "2"))
    found = in_force(versions, micros(on_day("2 08:00")))
    assert found is not None
    assert found.sheet_version == "2"


def test_a_room_keeps_the_last_word_about_each_device() -> None:
    room = Room(room="spray")
    for at, device, on in (
        ("1 08:00", "fan", True),
        ("1 09:00", "heater", True),
        ("1 10:00", "fan", False),
    ):
        room = evolve_room(room, fact(AirMoved, at, room="spray", device=device, on=on))
    assert [(d.device, d.on) for d in room.devices] == [("heater", True), ("fan", False)]


def test_the_shop_keeps_closures_absences_and_its_last_rags_and_air_line() -> None:
    shop = Shop()
    day = date(2026, 4, 3)
    for told in (
        fact(ClosureAnnounced, "1 08:00", first_day=day, last_day=day),
        fact(PersonAbsent, "1 09:00", person="p1", since=on_day("5 08:00")),
        fact(RagsDealtWith, "1 17:00", how="spread_outdoors"),
        fact(RagsDealtWith, "2 17:00", how="closed_metal_can_with_water"),
        fact(AirLineServiced, "2 18:00", drained=True),
    ):
        shop = evolve_shop(shop, told)
    assert (len(shop.closures), len(shop.absences)) == (1, 1)
    assert shop.rags is not None
    assert shop.rags.how == "closed_metal_can_with_water"
    assert shop.air_line is not None


def test_of_a_person_only_the_last_absence_matters() -> None:
    person = Named(word="p1")
    for at in ("1 09:00", "2 09:00"):
        person = evolve_named(person, fact(PersonAbsent, at, person="p1", since=on_day("5 08:00")))
    assert person.absence is not None
    assert person.absence.occurred_at == on_day("2 09:00")


def test_a_gun_is_its_descriptions_and_the_last_of_each_care() -> None:
    gun = initial("g1")
    for told in (
        fact(GunDescribed, "1 08:00", gun="g1"),
        fact(GunSetUp, "1 09:00", gun="g1", lot="can-1", nozzle_mm=1.3),
        fact(GunFlushed, "1 12:00", gun="g1"),
        fact(GunFlushed, "1 17:00", gun="g1", using="cleaner"),
        fact(GunStripCleaned, "2 17:00", gun="g1"),
    ):
        gun = evolve_gun(gun, told)
    assert gun.flushed is not None
    assert gun.flushed.using == "cleaner"
    assert gun.set_up is not None
    assert (gun.set_up.nozzle_mm, len(gun.versions)) == (1.3, 1)
    assert gun.strip_cleaned is not None
