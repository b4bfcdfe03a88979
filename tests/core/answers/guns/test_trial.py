"""A trial of a gun: the film of a pass, how even it lies, passes and litres for a batch."""

from typing import Any

import pytest
from bench import Bench
from coatledger.answers.guns.trial import Batched, TrialFound
from coatledger.computations import gun
from coatledger.refusal import Refused
from gun_bench import gun_told, tried_gun


def trial_of(bench: Bench, **batch: Any) -> TrialFound:
    found = gun_told(bench, batch=Batched(**batch)).trial
    assert found is not None
    return found


def test_a_trial_gives_the_film_of_a_pass_and_the_passes_for_the_sheets_film() -> None:
    """100 um in two passes; the sheet wants 75 to 125, so two passes are its middle."""
    found = trial_of(tried_gun())
    assert (found.per_pass_um, found.wanted_um) == (50.0, 100.0)
    assert found.passes == gun.Passes(2, 100.0, 1)
    assert trial_of(tried_gun(wet_film_um=60.0)).passes == gun.Passes(3, 90.0, 1)
    assert trial_of(tried_gun(), target_wet_film_um=140.0).passes == gun.Passes(3, 150.0, 2)


def test_overlaps_are_laid_side_by_side_with_the_trials_own() -> None:
    """A fan heaped in the middle is most even at 60 % of the three (superposed parabolas)."""
    rows = {row.overlap_pct: row for row in trial_of(tried_gun(overlap_pct=45.0)).overlaps}
    assert set(rows) == {40.0, 45.0, 50.0, 60.0}
    assert rows[60.0].ripple_pct < rows[40.0].ripple_pct < rows[50.0].ripple_pct
    assert rows[50.0].thinnest_um == pytest.approx(100 * gun.ripple(50).thinnest)


def test_a_batch_takes_film_times_area_over_what_stays() -> None:
    """100 um on 2 m2 is 0.2 L on the wood; at 65 % that is 0.308 L through the gun."""
    batch = trial_of(tried_gun(), area_m2=2.0).batch
    assert batch is not None
    assert batch.stays_l == pytest.approx(0.2)
    assert batch.sprayed_l == pytest.approx(0.2 / 0.65)
    assert batch.trigger_min is None
    timed = trial_of(tried_gun(), area_m2=2.0, speed_mm_s=500.0).batch
    assert timed is not None
    assert timed.trigger_min is not None
    # 2 m2 at a step of 100 mm are 20 m of stroke a pass, 40 m in two; a stroke of 600 mm runs over
    # by 100 mm; at half a metre a second.
    assert timed.trigger_min == pytest.approx(40 * (1 + 100 / 600) / 0.5 / 60)
    assert timed.sprayed_l > batch.sprayed_l  # what runs over the edges is sprayed too


def test_without_a_gauge_reading_the_trial_says_so() -> None:
    found = trial_of(tried_gun(wet_film_um=None))
    assert (found.passes, found.batch) == (None, None)
    assert "gauge" in found.notes[0]


def test_a_film_nobody_can_spray_is_refused_with_its_range() -> None:
    with pytest.raises(Refused, match="2000"):
        trial_of(tried_gun(), target_wet_film_um=2500.0)
