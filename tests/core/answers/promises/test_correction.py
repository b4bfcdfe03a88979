"""A correction is shown: what was simulated, what is said instead, and of how many promises."""

from datetime import date

import numpy as np
from coatledger.answers.promises.correction import correction_of
from coatledger.computations.recalibration import (
    AS_SIMULATED,
    Recalibration,
    recalibrated,
    stated,
)

FIRST = date(2026, 3, 2).toordinal()
DAYS = FIRST + np.repeat([0, 2, 4, 7, 9], [500, 250, 150, 70, 30])


def test_what_was_not_corrected_says_nothing() -> None:
    assert correction_of(DAYS, 0.8, AS_SIMULATED) is None


def test_a_bold_model_is_put_off_by_as_many_days_as_it_says() -> None:
    by = Recalibration(-0.7, 0.8, 31)
    found = correction_of(recalibrated(DAYS, by), 0.8, by)
    assert found is not None
    assert found.simulated == date.fromordinal(FIRST + 4)
    assert found.days == 3
    assert found.promises == 31
    assert f"80% is taken for {stated(0.8, by):.0%}" in found.says
    assert "31 earlier" in found.says


def test_a_timid_model_is_brought_forward_and_a_belief_is_called_one() -> None:
    by = Recalibration(0.6, 1.0)
    found = correction_of(recalibrated(DAYS, by), 0.8, by)
    assert found is not None
    assert found.days <= 0
    assert "what is believed before" in found.says
