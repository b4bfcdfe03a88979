"""What the events of a pack tell of the film: coats, cans and sheets, guns, air, instruments."""

import pytest
from bench import Bench
from coatledger.events.bare import WoodMoistureRead
from coatledger.events.finish import LotMixed, Parent
from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.record import recorded
from coatledger.subjects.dossier import Evidence, Told, told_of
from coatledger.subjects.dossier_film import AirRead, air_of
from proof_shop import lived

STORE = MemoryStore("dune-end", "first")
lived(STORE)
EVENTS = [recorded(row) for row in STORE.rows(0, 1000)]
TOLD = told_of("T-1", EVENTS)


def told(bench: Bench, piece: str = "A") -> Told:
    with bench.store.reading() as reader:
        return told_of(piece, [recorded(row) for row in reader.rows(0, 1000)])


def test_coats_are_told_as_they_stand_with_the_dry_film_of_the_sheet() -> None:
    # 33 % solids by volume leave 33 um of 100 um wet.
    assert [(c.wet_film_um, c.dry_film_um, c.shared_by) for c in TOLD.coats] == [
        (100.0, 33.0, 2), (100.0, 33.0, 2),
    ]  # fmt: skip


def test_a_can_is_told_with_the_sheet_in_force_when_it_was_used() -> None:
    bench = Bench()
    first = bench.clear("clear-w", sheet_version="1", volume_solids_pct=33.0)
    bench.can("can-1", "clear-w")
    bench.pieces("A", "B")
    bench.at("2 08:00").coat("A", gun=None)
    bench.at("3 08:00").clear("clear-w", sheet_version="2", volume_solids_pct=40.0)
    bench.at("4 08:00").coat("B", gun=None)
    assert [(lot.sheet, lot.sheet_version) for lot in told(bench, "A").lots] == [(1, "1")]
    (second,) = told(bench, "B").lots
    assert (second.sheet_version, second.described_late) == ("2", False)
    bench.amend(first, sheet_version="1a")
    (lot,) = told(bench, "A").lots
    assert (lot.sheet_version, lot.sheet) == ("1a", 8)


def test_a_sheet_described_after_the_coat_is_told_as_late() -> None:
    bench = Bench()
    bench.pieces("A")
    bench.can("can-1", "clear-w")
    bench.coat("A", gun=None)
    assert [(lot.product, lot.sheet) for lot in told(bench).lots] == [("clear-w", None)]
    bench.at("2 08:00").clear("clear-w")
    assert [lot.described_late for lot in told(bench).lots] == [True]


def test_a_mix_is_told_with_the_cans_it_was_made_of() -> None:
    bench = Bench().open_shop()
    bench.clear("hard-w", use="crosslinker")
    bench.can("can-9", "hard-w")
    parents = (Parent(lot="can-1", amount_l=1.0), Parent(lot="can-9", amount_l=0.1))
    bench.record(LotMixed, lot="mix-1", product="clear-w", parents=parents)
    bench.pieces("A")
    bench.coat("A", lot="mix-1")
    assert [lot.lot for lot in told(bench).lots] == ["can-1", "can-9", "mix-1"]
    assert told(bench).lots[2].parents == parents


def test_an_unknown_can_is_told_as_such() -> None:
    bench = Bench()
    bench.pieces("A")
    bench.coat("A", lot="can-7", gun=None)
    (lot,) = told(bench).lots
    assert (lot.product, lot.sheet, told(bench).coats[0].dry_film_um) == (None, None, None)


def test_a_gun_is_told_as_it_was_set_for_each_coat() -> None:
    assert [(g.coat, g.set_up, g.nozzle_mm, g.flushed) for g in TOLD.guns] == [
        (TOLD.coats[0].position, 16, 1.3, None), (TOLD.coats[1].position, 16, 1.3, None),
    ]  # fmt: skip


def test_the_air_of_each_room_is_summed_up() -> None:
    spray, store = TOLD.air
    assert (spray.room, spray.readings, spray.air_min_c, spray.air_max_c) == ("spray", 30, 20, 22)
    assert (spray.rh_min_pct, spray.rh_max_pct, spray.longest_gap_s) == (45, 47, 1800)
    assert (store.room, store.readings, store.longest_gap_s) == ("store", 1, 0)


def test_readings_are_listed_by_their_own_times() -> None:
    reads = air_of(Evidence(EVENTS).facts("room:spray"))
    assert len(reads) == 30
    assert reads == tuple(sorted(reads))
    assert reads[0] == AirRead(reads[0].at_us, 20.0, 45.0)


def test_an_instrument_is_told_with_its_last_check() -> None:
    (tool,) = TOLD.instruments
    assert (tool.instrument, tool.uses, tool.checked, tool.passed) == ("meter-2", 30, 7, True)
    assert tool.error == pytest.approx(0.4)


def test_an_instrument_never_checked_says_so() -> None:
    bench = Bench()
    bench.pieces("A")
    bench.record(WoodMoistureRead, pieces=("A",), moisture_pct=8.0, instrument="meter-9")
    (tool,) = told(bench).instruments
    assert (tool.uses, tool.checked, tool.checked_at) == (1, None, None)
