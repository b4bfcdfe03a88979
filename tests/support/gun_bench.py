"""A gun on the bench: filled and set, tried on paper, and asked about."""

from typing import Any

from bench import Bench
from coatledger.answers.guns.answer import GunAnswer, gun_answer
from coatledger.answers.guns.trial import NO_BATCH, Batched
from coatledger.events.room_gun import GunSetUp, TestSprayed
from coatledger.subjects.asked import ask


def gun_told(bench: Bench, word: str = "g1", batch: Batched = NO_BATCH) -> GunAnswer:
    with bench.store.reading() as reader:
        found = gun_answer(reader, word, ask(reader, bench.now), batch)
    assert found is not None
    return found


def tried_gun(**trial: Any) -> Bench:
    """Filled and set, then two passes on paper, the gauge read."""
    bench = Bench().open_shop()
    bench.record(
        GunSetUp, gun="g1", lot="can-1", nozzle_mm=1.3, cap_pressure_kpa=60.0, fan_width_mm=200.0,
        distance_mm=180.0, overlap_pct=50.0,
    )  # fmt: skip
    given = {"gun": "g1", "lot": "can-1", "passes": 2, "wet_film_um": 100.0}
    bench.record(TestSprayed, **{**given, **trial})
    return bench
