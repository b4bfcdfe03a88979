"""What stands open in the shop: now, and at a time that has passed."""

from bench import Bench, on_day
from coatledger.answers.open_findings import FindingsAnswer, open_findings
from coatledger.events.about import RagsDealtWith
from coatledger.subjects.asked import ask


def told(bench: Bench, as_of: str | None = None) -> FindingsAnswer:
    with bench.store.reading() as reader:
        place = ask(reader, bench.now, on_day(as_of) if as_of else None)
        return open_findings(reader, place)


def oiled() -> Bench:
    bench = Bench().open_shop()
    bench.clear("oil", kind="oil_based", mfft_c=None, cautions=("self_heating_rags",))
    bench.can("can-o", "oil")
    bench.climate()
    bench.pieces("a")
    bench.at("1 15:00").coat("a", lot="can-o", method="wipe", gun=None)
    return bench


def test_rags_stand_open_until_they_are_dealt_with_most_severe_first() -> None:
    bench = oiled().at("1 20:00")
    first = told(bench).findings[0]
    assert (first.code, first.severity) == ("rags_not_dealt_with", "critical")
    bench.record(RagsDealtWith, how="closed_metal_can_with_water")
    assert "rags_not_dealt_with" not in {finding.code for finding in told(bench).findings}
    then = {finding.code for finding in told(bench, as_of="1 19:00").findings}
    assert "rags_not_dealt_with" in then


def test_coats_that_a_cold_room_spoiled_can_be_asked_of_the_past() -> None:
    bench = Bench().open_shop()
    bench.pieces("a")
    bench.climate(air_c=5.0, rh_pct=60.0)
    bench.coat("a")
    bench.later(3).climate(air_c=5.0, rh_pct=60.0)
    spoiled = [f for f in told(bench).findings if f.code == "film_void"]
    assert [f.pieces for f in spoiled] == [("a",)]
    bench.later(24 * 9).climate()
    assert "film_void" in {f.code for f in told(bench, as_of="1 12:00").findings}


def test_an_empty_shop_has_nothing_open() -> None:
    assert told(Bench()).findings == ()
