"""By how much a quote is moved because of what earlier promises came to: shown, never hidden."""

from datetime import date

from msgspec import Struct

from coatledger.answers.promises.ahead import Days
from coatledger.computations.recalibration import AS_SIMULATED, Recalibration, stated
from coatledger.computations.simulate.forward import quantile_day


class Correction(Struct, frozen=True, kw_only=True):
    """What was simulated and what is said instead. A simulated chance has its log-odds stretched
    and shifted; `promises` says of how many earlier ones something is known, `days` how many days
    later (or sooner, below 0) the promised day is than the simulated one."""

    odds_shift: float
    odds_stretch: float
    promises: int
    simulated: date
    days: int
    says: str


def correction_of(ships: Days, level: float, by: Recalibration) -> Correction | None:
    """Return how a day at a level was corrected; None where it was not.

    *Reference:* `computations.recalibration`: days keep their order, so that the simulated day at a
    level is the corrected one at the chance that is said for that level.
    """
    if by == AS_SIMULATED:
        return None
    told = quantile_day(ships, level)
    before = quantile_day(ships, max(stated(level, by), 1e-9))
    return Correction(
        odds_shift=by.shift, odds_stretch=by.stretch, promises=by.promises, simulated=before,
        days=(told - before).days, says=_in_words(level, by),
    )  # fmt: skip


def _in_words(level: float, by: Recalibration) -> str:
    said = f"a simulated chance of {level:.0%} is taken for {stated(level, by):.0%}"
    if not by.promises:
        return f"{said}: what is believed before a promise of this shop has come true or not"
    return f"{said}, by what is known of {by.promises} earlier promise(s)"
