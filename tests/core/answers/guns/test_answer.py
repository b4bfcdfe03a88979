"""A gun now: its set-up, its limits, its cleaning, and what to be careful of."""

import pytest
from bench import Bench, on_day
from coatledger.answers.guns.answer import gun_answer
from coatledger.events.finish import ViscosityMeasured
from coatledger.events.room_gun import GunFlushed, GunSetUp, GunStripCleaned
from coatledger.events.setup import GunDescribed
from coatledger.subjects.asked import ask
from gun_bench import gun_told, tried_gun


def test_the_guns_own_limit_comes_before_the_rule_for_hvlp() -> None:
    bench = Bench().open_shop()
    assert gun_told(bench).pressure.cap_max_kpa == pytest.approx(68.95, abs=0.01)
    bench.record(GunDescribed, gun="g1", method="hvlp", cap_pressure_max_kpa=55.0)
    assert gun_told(bench).pressure.source == "the gun's own limit"
    bench.record(GunSetUp, gun="g1", lot="can-1", cap_pressure_kpa=60.0)
    set_up = gun_told(bench).set_up
    assert set_up is not None
    assert "let the pressure off" in " ".join(set_up.notes)
    bench.record(GunDescribed, gun="g2", method="conventional")
    assert gun_told(bench, "g2").pressure.cap_max_kpa is None


def test_the_cup_says_which_nozzle_suits_what_is_in_the_gun() -> None:
    bench = tried_gun()
    bench.record(ViscosityMeasured, lot="can-1", cup="ford_4", efflux_s=30.0)
    set_up = gun_told(bench).set_up
    assert set_up is not None
    assert set_up.viscosity_mm2_s == pytest.approx(98.2, abs=0.1)
    assert 1.3 in [nozzle.nozzle_mm for nozzle in set_up.nozzles]


def test_flush_and_strip_clean_are_due_by_the_facts() -> None:
    bench = tried_gun()
    assert gun_told(bench).cleaning.flush_due
    bench.later(1).record(GunFlushed, gun="g1")
    cleaning = gun_told(bench).cleaning
    assert not cleaning.flush_due
    assert cleaning.strip_clean_by == on_day("31 07:00")
    assert gun_told(bench.at("31 08:00")).cleaning.strip_clean_overdue
    bench.record(GunStripCleaned, gun="g1")
    assert not gun_told(bench).cleaning.strip_clean_overdue


def test_cautions_are_of_the_gun_and_what_goes_through_it() -> None:
    codes = {caution.code for caution in gun_told(tried_gun()).cautions}
    assert codes == {"spray_mist", "spray_residue", "chlorinated_in_aluminium"}


def test_a_gun_nobody_knows_has_no_answer() -> None:
    bench = Bench().open_shop()
    with bench.store.reading() as reader:
        assert gun_answer(reader, "g9", ask(reader, bench.now)) is None
