"""What is read from a sheet, what is assumed, and that both are said."""

from bench import Bench
from coatledger.clocks.sheets import sheet_of, sheet_unknown
from coatledger.computations.drying import STAGES


def test_a_whole_sheet_gives_its_own_hours_and_assumes_nothing() -> None:
    read = sheet_of(Bench().clear("clear-w"))
    assert read.sheet.stage_hours == {
        "touch_dry": 0.5, "tack_free": 1.0, "sandable": 3.0, "stackable": 12.0, "wrap_safe": 24.0,
        "cured": 168.0,
    }  # fmt: skip
    assert read.sheet.recoat_window_h == 48.0
    assert read.sheet.mfft_c == 8.0
    assert read.assumed == ()
    assert not any(read.assumed_stages)


def test_a_silent_stage_is_assumed_and_named_with_its_hours() -> None:
    read = sheet_of(Bench().clear("clear-w", stack_h=None, wrap_h=None))
    assert [s for s, a in zip(STAGES, read.assumed_stages, strict=True) if a] == [
        "stackable",
        "wrap_safe",
    ]
    assert any("silent on stackable" in says for says in read.assumed)
    assert any("common practice" in says for says in read.assumed)


def test_an_hour_that_comes_after_a_later_stage_is_left_out_and_named() -> None:
    read = sheet_of(Bench().clear("clear-w", tack_free_h=5.0))
    assert "tack_free" not in read.sheet.stage_hours
    assert read.sheet.stage_hours["sandable"] == 3.0
    assert any(says.startswith("tack_free after 5 h") for says in read.assumed)


def test_a_sheet_without_a_reference_film_takes_the_middle_of_its_range_or_practice() -> None:
    bench = Bench()
    middle = sheet_of(bench.clear("a", reference_wet_film_um=None))
    assert middle.sheet.reference_wet_film_um == 100.0
    assert any("middle of its wet film" in says for says in middle.assumed)
    silent = sheet_of(bench.clear("b", reference_wet_film_um=None, wet_film_min_um=None))
    assert any("common practice" in says for says in silent.assumed)


def test_an_impossible_reference_climate_is_not_used() -> None:
    read = sheet_of(Bench().clear("clear-w", reference_rh_pct=100.0))
    assert (read.sheet.reference_air_c, read.sheet.reference_rh_pct) == (21.0, 50.0)
    assert any("no room" in says for says in read.assumed)


def test_an_unknown_product_is_common_practice_and_says_why() -> None:
    read = sheet_unknown("oil_based", "nobody described what is in can-9")
    assert read.product is None
    assert all(read.assumed_stages)
    assert read.assumed[0].startswith("nobody described what is in can-9: taken for an oil-based")


def test_a_window_too_short_to_be_one_is_not_used_and_named() -> None:
    read = sheet_of(Bench().clear("clear-w", recoat_max_h=0.001))
    assert read.sheet.recoat_window_h is None
    assert "a recoat window of 0.001 h is none; not used" in read.assumed
