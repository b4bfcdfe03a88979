"""What stands open for the whole shop at a moment."""

from bench import Bench, on_day
from coatledger.events.about import FindingSettled, RagsDealtWith
from coatledger.events.finish import LotDiscarded, LotMixed, LotReceived, Parent
from coatledger.events.leaving import Shipped
from coatledger.events.preparing import Stained
from coatledger.events.room_gun import GunStripCleaned, Reading
from coatledger.events.setup import ProductDescribed
from coatledger.findings.finding import Finding
from coatledger.findings.shop import open_findings_of_shop
from coatledger.ledger.record import micros
from judged import ready


def open_at(bench: Bench, at: str) -> dict[str, Finding]:
    found = open_findings_of_shop(bench.view(at), micros(on_day(at)))
    return {finding.code: finding for finding in found}


def oiled() -> Bench:
    bench = ready()
    bench.record(ProductDescribed, product="oil", kind="oil_based")
    bench.can("can-oil", "oil")
    bench.coat("T-1", lot="can-oil", method="wipe", gun=None)
    return bench


def test_a_shop_in_order_has_nothing_open() -> None:
    bench = ready()
    bench.coat("T-1")
    assert open_at(bench, "1 12:00") == {}


def test_rags_stand_open_from_the_act_and_are_critical_at_days_end() -> None:
    bench = oiled()
    assert open_at(bench, "1 12:00")["rags_not_dealt_with"].severity == "caution"
    late = open_at(bench, "1 17:00")["rags_not_dealt_with"]
    assert (late.severity, late.pieces) == ("critical", ("T-1",))
    assert late.seen[0].says == "oil, an oil-based finish, 9 h ago; no rags_dealt_with since"
    assert open_at(bench, "2 08:00")["rags_not_dealt_with"].severity == "critical"


def test_rags_put_away_close_it_until_the_next_oily_act() -> None:
    bench = oiled()
    bench.at("1 16:00").record(RagsDealtWith, how="closed_metal_can_with_water")
    assert "rags_not_dealt_with" not in open_at(bench, "2 08:00")
    bench.at("2 09:00").record(Stained, pieces=("T-2",), lot="can-oil", binder="oil_based")
    assert "rags_not_dealt_with" in open_at(bench, "2 18:00")


def test_a_void_film_is_told_for_all_its_pieces_while_it_is_here() -> None:
    bench = ready()
    coat = bench.coat("T-1", "T-2")
    bench.climate(7.0, 90.0, at="1 08:10")
    found = open_at(bench, "2 08:00")["film_void"]
    assert (found.about, found.pieces, found.severity) == (coat.id, ("T-1", "T-2"), "critical")


def test_a_mix_nearing_its_end_is_told_until_it_is_gone() -> None:
    bench = ready()
    parents = (Parent(lot="can-1", amount_l=1.0),)
    bench.record(LotMixed, lot="m-1", product="clear-w", parents=parents, pot_life_h=4.0)
    assert "pot_life_running_out" not in open_at(bench, "1 10:30")
    near = open_at(bench, "1 11:30")["pot_life_running_out"]
    assert near.seen[0].says == "1 L of m-1: pot life ends in 30 min"
    assert "ended 60 min ago" in open_at(bench, "1 13:00")["pot_life_running_out"].seen[0].says
    bench.at("1 13:00").record(LotDiscarded, lot="m-1", why="past_pot_life")
    assert "pot_life_running_out" not in open_at(bench, "1 13:01")


def test_a_gun_in_use_overdue_for_stripping_is_told() -> None:
    bench = ready().at("33 08:00")
    bench.climate()
    bench.coat("T-1")
    found = open_at(bench, "33 09:00")["strip_clean_overdue"]
    assert found.seen[0].says == "g1: 32 days, every 30 days is wanted"
    bench.record(GunStripCleaned, gun="g1")
    assert "strip_clean_overdue" not in open_at(bench, "33 09:00")


def test_a_gun_on_the_wall_is_left_alone() -> None:
    assert "strip_clean_overdue" not in open_at(ready(), "60 09:00")


def test_a_room_coated_in_and_not_read_today_is_told() -> None:
    bench = ready().at("2 08:00")
    bench.coat("T-1")
    found = open_at(bench, "2 09:00")["air_not_read_today"]
    assert found.seen[0].says == "the air of spray was last read 25 h ago"
    bench.climate()
    assert "air_not_read_today" not in open_at(bench, "2 09:00")


def test_a_settled_finding_stands_open_no_longer() -> None:
    bench = oiled()
    act = open_at(bench, "1 18:00")["rags_not_dealt_with"].about
    bench.at("1 19:00").record(
        FindingSettled, about=act, code="rags_not_dealt_with", how="accepted"
    )
    assert "rags_not_dealt_with" not in open_at(bench, "2 08:00")


def test_which_coats_a_wrong_climate_spoiled_can_be_asked_of_the_past() -> None:
    bench = ready()
    coat = bench.coat("T-1")
    cold = bench.climate(7.0, 90.0, at="1 08:10")
    bench.at("4 08:00").record(Shipped, pieces=("T-1",))
    known = bench.view().reader.head().size
    bench.amend(cold, readings=(Reading(air_c=17.0, rh_pct=50.0),))
    at_us = micros(on_day("2 08:00"))
    before = bench.view("2 08:00", known=known)
    found = {f.code: f for f in open_findings_of_shop(before, at_us, present=False)}
    assert found["film_void"].about == coat.id
    after = open_findings_of_shop(bench.view("2 08:00"), at_us, present=False)
    assert "film_void" not in {f.code for f in after}


def test_an_impossible_birth_of_a_can_or_a_late_promise_is_disputed() -> None:
    bench = ready()
    bench.at("2 08:00").record(LotReceived, lot="can-5", product="clear-w", amount_l=1.0)
    late = bench.fact(LotReceived, at="1 09:00", lot="can-5", product="clear-w", amount_l=1.0)
    bench.take(late)
    found = open_at(bench, "2 09:00")["order_disputed"]
    assert found.cause == "lot:can-5"
    assert found.seen[0].says == "lot_received cannot have happened to can-5 there"
