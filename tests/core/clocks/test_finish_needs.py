"""What the work ahead takes: coats, stains and fillers, by product and with what it rests on."""

import pytest
from bench import Bench
from coatledger.clocks.finish_needs import Wants, recipe_of, wants
from coatledger.clocks.runs import NO_FACTORS
from coatledger.events.finish import LotMixed, Parent
from coatledger.events.setup import ScheduleDescribed, Step
from coatledger.subjects.asked import ask


def wanted(bench: Bench) -> Wants:
    with bench.store.reading() as reader:
        asked = ask(reader, bench.now)
        return wants(asked.view(reader), asked, (), NO_FACTORS)


def test_a_stain_takes_what_a_rag_leaves_and_a_coat_what_the_gun_does() -> None:
    """50 um over 1 m2 at 90 % wiped, 100 um over 1 m2 at 65 % sprayed."""
    bench = Bench().open_shop()
    bench.climate()
    bench.clear("colour", use="stain")
    steps = (Step(act="stain", product="colour"), Step(act="coat", product="clear-w"))
    bench.record(ScheduleDescribed, schedule="s", steps=steps, faces=("all",))
    bench.pieces("a", coat_area_m2=1.0, schedule="s")
    found = wanted(bench).open_work
    assert found["colour"][0].litres.likely == pytest.approx(0.05 / 0.9)
    assert found["clear-w"][0].litres.likely == pytest.approx(0.1 / 0.65)
    assert found["colour"][0].at < found["clear-w"][0].at


def test_a_coat_that_is_done_takes_nothing_more() -> None:
    bench = Bench().open_shop()
    bench.climate()
    steps = (Step(act="coat", product="clear-w"), Step(act="coat", product="clear-w"))
    bench.record(ScheduleDescribed, schedule="s", steps=steps)
    bench.pieces("a", schedule="s")
    assert len(wanted(bench).open_work["clear-w"]) == 2
    bench.coat("a")
    assert len(wanted(bench).open_work["clear-w"]) == 1


def test_only_a_mix_with_a_crosslinker_is_a_recipe() -> None:
    bench = Bench().open_shop()
    bench.can("h-1", "hardener")
    thinned = (Parent(lot="can-1", amount_l=1.0), Parent(lot="w", amount_l=0.1, part="water"))
    bench.record(LotMixed, lot="m-1", product="clear-w", parents=thinned)
    assert recipe_of(bench.view(), "clear-w") is None
    parts = (
        Parent(lot="can-1", amount_l=1.0),
        Parent(lot="h-1", amount_l=0.25, part="crosslinker"),
    )
    bench.record(LotMixed, lot="m-2", product="clear-w", parents=parts, pot_life_h=3.0)
    found = recipe_of(bench.view(), "clear-w")
    assert found is not None
    assert (found.lot, found.pot_life_h) == ("m-2", 3.0)
    assert [(p.product, p.share) for p in found.parts] == [("clear-w", 0.8), ("hardener", 0.2)]
