"""The list of guns: what is in each, and what cleaning is due."""

from bench import Bench
from coatledger.answers.guns.listing import gun_list
from coatledger.events.room_gun import GunFlushed, GunSetUp
from coatledger.events.setup import GunDescribed
from coatledger.subjects.asked import ask
from gun_bench import tried_gun


def test_each_gun_is_listed_with_what_stands_in_it() -> None:
    bench = tried_gun()
    bench.record(GunDescribed, gun="g2", name="the small one", method="conventional")
    bench.record(GunSetUp, gun="g3", lot="can-1")
    with bench.store.reading() as reader:
        listed = gun_list(reader, ask(reader, bench.now)).guns
    assert [(gun.gun, gun.lot, gun.flush_due) for gun in listed] == [
        ("g1", "can-1", True), ("g2", None, False), ("g3", "can-1", True),
    ]  # fmt: skip
    assert listed[1].name == "the small one"
    assert listed[0].product == listed[2].product is not None


def test_a_gun_that_was_flushed_is_clean_from_then_on() -> None:
    bench = tried_gun().later(1)
    before = bench.now
    bench.later(1).record(GunFlushed, gun="g1")
    with bench.store.reading() as reader:
        now = gun_list(reader, ask(reader, bench.now)).guns
        then = gun_list(reader, ask(reader, bench.now, as_of=before)).guns
    assert [gun.flush_due for gun in (*then, *now)] == [True, False]


def test_a_shop_without_guns_lists_none() -> None:
    bench = Bench()
    with bench.store.reading() as reader:
        assert gun_list(reader, ask(reader, bench.now)).guns == ()
