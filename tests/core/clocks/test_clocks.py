"""The clock of a piece: the sheet's hours at the sheet's climate, and whatever moves them."""

from datetime import timedelta

import pytest
from bench import Bench, on_day
from coatledger.clocks.answer import PieceClock
from coatledger.clocks.clocks import piece_clock, shop_clocks
from coatledger.computations.air import wet_bulb_depression_c
from coatledger.computations.drying import STAGES, spread
from coatledger.events.coating import CoatApplied, DrynessChecked, Moved
from coatledger.events.finish import LotMixed, Parent
from coatledger.events.preparing import Stained
from coatledger.ledger.record import micros

HOURS = (0.5, 1.0, 3.0, 12.0, 24.0, 168.0)


def shop() -> Bench:
    bench = Bench().open_shop().at("1 07:30")
    bench.pieces("T-1", "T-2", "T-3")
    bench.climate(21.0, 50.0, at="1 07:45")
    return bench.at("1 08:00")


def clock(bench: Bench, at: str, piece: str = "T-1") -> PieceClock:
    view = bench.view(at)
    return piece_clock(view, view.piece(piece), micros(on_day(at)))


def likely_hours(found: PieceClock, face: str = "show") -> list[float]:
    own = found.on(face)
    assert own is not None
    return [
        (t.likely - own.applied_at) / timedelta(hours=1) for t in own.stages if t.likely is not None
    ]


def test_at_the_sheets_climate_the_sheets_hours_come_out_exactly() -> None:
    bench = shop()
    bench.coat("T-1")
    for hour in range(9, 17):
        bench.climate(21.0, 50.0, at=f"1 {hour}:00")
    assert likely_hours(clock(bench, "1 17:00")) == list(HOURS)


def test_without_any_reading_the_sheets_climate_is_assumed_and_said() -> None:
    bench = Bench().open_shop()
    bench.pieces("T-1")
    bench.at("1 08:00").coat("T-1")
    found = clock(bench, "1 14:00")
    own = found.on("show")
    assert own is not None
    assert likely_hours(found) == list(HOURS)
    assert (
        "nobody read the air of room spray: the sheet's reference climate is taken" in own.assumed
    )
    assert [(s.start, s.end) for s in own.silences] == [(on_day("1 08:00"), on_day("1 14:00"))]


def test_the_last_reading_is_held_as_the_forecast_and_said() -> None:
    bench = shop()
    bench.coat("T-1")
    own = clock(bench, "1 09:00").on("show")
    assert own is not None
    assert "from now on the last reading is held: 21 C, 50 %" in own.assumed
    assert own.silences == ()


def test_damp_air_stretches_the_drying_as_the_wet_bulb_depressions_say() -> None:
    bench = shop()
    bench.climate(21.0, 80.0, at="1 07:59")
    bench.coat("T-1")
    slower = wet_bulb_depression_c(21.0, 50.0) / wet_bulb_depression_c(21.0, 80.0)
    assert likely_hours(clock(bench, "1 08:30"))[0] == pytest.approx(0.5 * slower, rel=1e-6)


def test_a_gap_in_the_readings_is_named() -> None:
    bench = shop()
    bench.coat("T-1")
    bench.climate(21.0, 50.0, at="1 14:00")
    own = clock(bench, "1 14:30").on("show")
    assert own is not None
    assert [(s.start, s.end) for s in own.silences] == [(on_day("1 08:00"), on_day("1 14:00"))]


def test_readiness_is_the_furthest_stage_surely_reached() -> None:
    bench = shop()
    bench.coat("T-1")
    assert clock(bench, "1 08:01").readiness == "wet"
    assert clock(bench, "1 12:00").readiness == "tack_free"
    assert clock(bench, "1 13:03").readiness == "sandable"
    assert clock(bench, "20 08:00").readiness == "cured"


def test_a_bare_piece_has_no_faces_and_says_bare() -> None:
    found = clock(shop(), "1 09:00")
    assert (found.readiness, found.faces, found.ready, found.next_ready) == ("bare", (), (), None)


def test_each_piece_of_a_batch_has_its_own_clock_by_its_turn() -> None:
    bench = shop()
    bench.coat("T-1", "T-2", "T-3", ended_at=on_day("1 08:30"))
    starts = [clock(bench, "1 09:00", p).faces[0].applied_at for p in ("T-1", "T-2", "T-3")]
    assert starts == [on_day("1 08:10"), on_day("1 08:20"), on_day("1 08:30")]


def test_faces_coated_at_different_times_have_clocks_of_their_own() -> None:
    bench = shop()
    bench.coat("T-1", faces=("underside",))
    bench.at("1 10:00").coat("T-1", faces=("show", "edges"))
    found = clock(bench, "1 10:01")
    show, under = found.on("show"), found.on("underside")
    assert show is not None
    assert under is not None
    assert show.readiness == "wet"
    assert under.readiness == "tack_free"
    assert found.on("inside") is None
    assert found.readiness == "wet"
    touch = found.ready_for("touch")
    assert touch is not None
    assert touch.face in show.faces


def test_a_coat_over_one_still_wet_takes_longer() -> None:
    bench = shop()
    bench.coat("T-1")
    bench.at("1 08:30").coat("T-1")
    bench.coat("T-2")
    wet, own = likely_hours(clock(bench, "1 09:00")), likely_hours(clock(bench, "1 09:00", "T-2"))
    assert wet[2] > own[2]
    assert "not yet dry" in clock(bench, "1 09:00").faces[0].reasons[1].says


def test_a_coat_over_a_dry_one_takes_the_sheets_hours() -> None:
    bench = shop()
    bench.coat("T-1")
    bench.at("1 11:00").coat("T-1")
    assert likely_hours(clock(bench, "1 11:30")) == list(HOURS)
    assert clock(bench, "1 11:30").faces[0].coat_number == 2


def test_the_recoat_window_closes_when_the_sheet_says() -> None:
    bench = shop()
    bench.coat("T-1")
    assert clock(bench, "1 09:00").faces[0].recoat.abrade_after == on_day("3 08:00")


def test_a_film_that_dried_too_cold_is_void_with_its_evidence() -> None:
    bench = shop()
    bench.climate(9.0, 60.0, at="1 07:59")
    bench.coat("T-1")
    found = clock(bench, "2 08:00")
    void = found.faces[0].void
    assert void is not None
    assert "it needs 8 C" in void.says
    pack = found.ready_for("pack")
    assert pack is not None
    assert not pack.ready
    assert pack.sure is None


def test_litres_are_shared_by_area_when_no_film_was_read() -> None:
    bench = shop()
    bench.pieces("T-9", coat_area_m2=1.5)
    bench.coat("T-1", "T-9", wet_film_um=None, amount_l=0.4)
    own = clock(bench, "1 09:00").faces[0]
    # 0.4 L over 2 m2 at 65 % is 130 um; the share does not depend on which piece is asked.
    assert own.wet_film_um == pytest.approx(130.0)
    assert clock(bench, "1 09:00", "T-9").faces[0].wet_film_um == pytest.approx(130.0)
    assert any("0.4 L over 2 piece(s)" in says for says in own.assumed)


def test_a_corrected_act_is_shared_by_the_pieces_that_stand() -> None:
    bench = shop()
    bench.pieces("T-9", coat_area_m2=1.5)
    act = bench.coat("T-1", "T-9", wet_film_um=None, amount_l=0.4)
    bench.amend(act, pieces=("T-1", "T-2"))
    assert clock(bench, "1 09:00").faces[0].wet_film_um == pytest.approx(260.0)


def test_without_film_or_litres_the_sheets_film_is_taken_and_said() -> None:
    bench = shop()
    bench.coat("T-1", wet_film_um=None)
    own = clock(bench, "1 09:00").faces[0]
    assert own.wet_film_um == 100.0
    assert "no wet film was read: the sheet's, 100 um" in own.assumed


def test_an_undescribed_can_is_taken_for_common_practice_and_said() -> None:
    bench = shop()
    bench.coat("T-1", lot="can-9")
    own = clock(bench, "1 09:00").faces[0]
    assert own.product is None
    assert any(says.startswith("nobody described what is in can-9") for says in own.assumed)


def test_a_moved_piece_dries_in_the_air_of_its_new_room() -> None:
    bench = shop()
    bench.climate(21.0, 80.0, room="store", at="1 07:50")
    bench.coat("T-1", "T-2")
    bench.record(Moved, pieces=("T-1",), room="store", at="1 08:30")
    assert (
        likely_hours(clock(bench, "1 09:00"))[2] > likely_hours(clock(bench, "1 09:00", "T-2"))[2]
    )
    assert clock(bench, "1 09:00").room == "store"


def test_a_move_into_a_room_nobody_reads_is_said() -> None:
    bench = shop()
    bench.coat("T-1")
    bench.record(Moved, pieces=("T-1",), room="attic", at="1 08:30")
    own = clock(bench, "1 10:00").faces[0]
    assert "nobody read the air of room attic" in own.assumed
    assert any(s.start == on_day("1 08:30") for s in own.silences)


def test_a_stain_has_a_clock_before_any_coat() -> None:
    bench = shop()
    bench.record(Stained, pieces=("T-1",), binder="oil_based", room="spray")
    own = clock(bench, "1 09:00").faces[0]
    assert own.coat_number == 0
    assert any("no sheet for the stain: taken for an oil-based" in says for says in own.assumed)


def test_extender_slows_the_clock() -> None:
    bench = shop()
    parents = (Parent(lot="can-1", amount_l=1.0), Parent(lot="ext", amount_l=0.1, part="extender"))
    bench.record(LotMixed, lot="mix-1", product="clear-w", parents=parents)
    bench.coat("T-1", lot="mix-1")
    bench.coat("T-2")
    # 10 % of extender at 4 % of time for each percent.
    assert likely_hours(clock(bench, "1 08:30"))[0] == pytest.approx(0.7)


def test_a_check_by_hand_beats_the_model_both_ways() -> None:
    bench = shop()
    bench.coat("T-1", "T-2", "T-3")
    bench.at("1 10:30").record(DrynessChecked, pieces=("T-1",), stage="sandable", ready=True)
    bench.record(DrynessChecked, pieces=("T-2",), stage="sandable", ready=False)
    assert clock(bench, "1 10:30").readiness == "sandable"
    told, untold = clock(bench, "1 10:31", "T-2"), clock(bench, "1 10:31", "T-3")
    late, plain = told.faces[0].at("sandable"), untold.faces[0].at("sandable")
    assert late.earliest is not None
    assert plain.earliest is not None
    assert late.earliest > on_day("1 10:30") > plain.earliest


def test_a_learned_factor_moves_every_time() -> None:
    bench = shop()
    bench.coat("T-1")
    view = bench.view("1 09:00")
    slow = piece_clock(
        view, view.piece("T-1"), micros(on_day("1 09:00")), {"clear-w": spread(1.5, 0.1)}
    )
    assert likely_hours(slow) == pytest.approx([1.5 * h for h in HOURS])


def test_the_shops_clocks_come_soonest_first_and_equal_one_by_one() -> None:
    bench = shop()
    bench.coat("T-2", ended_at=on_day("1 08:05"))
    bench.at("1 09:30").coat("T-1", "T-3", ended_at=on_day("1 09:40"))
    bench.at("1 11:00").coat("T-2")
    view, at_us = bench.view("1 11:01"), micros(on_day("1 11:01"))
    together = shop_clocks(view, [view.piece(p) for p in ("T-1", "T-2", "T-3")], at_us)
    soonest = [c.next_ready for c in together]
    assert soonest == sorted(soonest, key=lambda t: t or on_day("99 00:00"))
    assert set(together) == {piece_clock(view, view.piece(c.piece), at_us) for c in together}


def test_an_old_film_is_taken_for_cured_without_reading_its_air_again() -> None:
    bench = shop()
    bench.coat("T-1")
    found = clock(bench, "200 08:00")
    assert found.readiness == "cured"
    assert found.faces[0].assumed == ("older than 120 days: taken for cured",)
    use = found.ready_for("use")
    assert use is not None
    assert use.ready


def test_what_a_clock_rests_on_is_named_by_event() -> None:
    bench = shop()
    act = bench.coat("T-1")
    own = clock(bench, "1 09:00").faces[0]
    assert [r.event for r in own.reasons] == [act.id]
    assert own.coat == act.id
    assert isinstance(act, CoatApplied)
    assert [t.stage for t in own.stages] == list(STAGES)


def test_a_new_data_sheet_moves_only_what_goes_on_under_it() -> None:
    bench = shop()
    bench.coat("T-1")
    before = clock(bench, "1 08:30").faces[0].stages
    bench.at("1 08:31").clear("clear-w", recoat_h=6.0)
    assert clock(bench, "1 09:00").faces[0].stages == before
    bench.at("1 09:00").coat("T-2")
    sandable = clock(bench, "1 09:00", "T-2").faces[0].at("sandable")
    assert sandable.likely == on_day("1 15:00")
