"""Whether promises were kept, and how good they were: judged by the first day that was told.

A promise is judged when its day is over, and no sooner: who counted the quick ones at once would
think too well of the shop. What is still here after its day was not kept.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, datetime
from math import isfinite

from msgspec import Struct

from coatledger.computations.calendar import local_date
from coatledger.computations.recalibration import recalibrate, simulated
from coatledger.computations.scoring import conformal_quantile, coverage_test, pinball
from coatledger.ledger.record import moment
from coatledger.ledger.store import Reader
from coatledger.open_shop.judged import LEVELS_PCT, Judged, judged
from coatledger.open_shop.past_promises import outcomes
from coatledger.open_shop.recent import recent
from coatledger.subjects.asked import Asked, iso
from coatledger.subjects.proportion import Proportion, proportion

_TENTH = 10.0


class LevelScore(Struct, frozen=True, kw_only=True):
    """The days told at one level. `covered` counts those by which all had left, of those that are
    over; `too_few_p` is the chance of so few or fewer if each held as often as it said.

    `pinball_days` is the mean penalty, `lead_days` the mean lead they gave. `conformal_days` is
    what would have had to be added to each day, or taken from it below 0, for the level to hold;
    None where `outcomes` are too few to say.
    """

    level_pct: float
    covered: Proportion
    too_few_p: float | None
    pinball_days: float | None
    lead_days: float | None
    conformal_days: float | None
    outcomes: int


class StatedScore(Struct, frozen=True, kw_only=True):
    """Promises whose days were given chances within one tenth: what was said on average, and the
    share kept."""

    from_pct: float
    to_pct: float
    stated_pct: float
    kept: Proportion


class GroupScore(Struct, frozen=True, kw_only=True):
    """The promises of one month of their days (`2026-11`), or of one offering."""

    name: str
    kept: Proportion
    lead_days: float
    pinball_days: float | None


class CorrectionNow(Struct, frozen=True, kw_only=True):
    """How the next quote's chances are corrected by what came of `promises` earlier ones. A day is
    said to hold a level when `simulated_pct` of it were simulated: more than `level_pct` where the
    model was too bold, and then days are later."""

    odds_shift: float
    odds_stretch: float
    promises: int
    level_pct: float
    simulated_pct: float


class PromiseScore(Struct, frozen=True, kw_only=True):
    """How the promises came out whose first day is over. `overdue` of them are still here; `open`
    ones have their day ahead; `off` were cancelled and count for nothing. `without_levels` of all
    were told one day alone, as a person tells it; `levels_say` tells what that leaves to judge."""

    position: int
    as_of: datetime | None
    zone: str
    kept: Proportion
    overdue: int
    open: int
    off: int
    lead_days: float | None
    stated_pct: float | None
    levels: tuple[LevelScore, ...]
    stated: tuple[StatedScore, ...]
    months: tuple[GroupScore, ...]
    offerings: tuple[GroupScore, ...]
    correction: CorrectionNow
    definitions: Mapping[str, str]
    without_levels: int
    levels_say: str


DEFINITIONS: Mapping[str, str] = {
    "kept": "all of it left on or before the first day told, of the promises whose first day is"
    " over; what is still here then was not kept",
    "level": "the days told at 50, 80, 90 and 95 %, by which so many should have left",
    "pinball_days": "mean of level times the days it was late, or of the rest times the days it was"
    " early (Koenker and Bassett 1978), when the 95 % day is over; what is still here"
    " counts as leaving today, which is the least it can be",
    "lead_days": "mean days from the word to the day told: how sharp promises are, smaller is"
    " better at the same share kept",
    "stated": "by tenths of the chance said of the promised day, or of its level where none was"
    " said, against the share kept",
    "month": "of the first day told, in the shop's zone",
    "offering": "a promise of several counts for each",
    "correction": "log-odds of simulated chances are moved and stretched by what earlier promises"
    " came to (Platt 1999); it is in every chance and day that is said",
    "conformal_days": "the smallest number of days that, added to each day told, would have covered"
    " the level (Lei et al. 2018); shown as a check and added to nothing",
}


def score(reader: Reader, asked: Asked) -> PromiseScore:
    """Judge every promise known at the place asked for.

    *Reference:* Gneiting, Balabdaoui and Raftery, JRSS B 69 (2007): sharpness subject to
    calibration; intervals by `proportion`. *Valid:* promises judged when their day is over.
    """
    view = asked.view(reader)
    shop = view.shop()
    zone = "UTC" if shop is None else shop.zone
    today = local_date(moment(asked.now_us), zone)
    every = tuple(judged(reader, asked, zone))
    over = [one for one in every if one.ships_by < today and not one.is_off]
    level = 80.0 if shop is None else shop.service_level_pct
    by = recalibrate(outcomes(recent(reader, asked), view, zone))
    without = sum(not one.days for one in over)
    return PromiseScore(
        position=asked.position(reader), as_of=iso(asked.now_us), zone=zone, kept=_kept(over),
        overdue=sum(one.left_on is None for one in over),
        open=sum(one.ships_by >= today and one.left_on is None and not one.is_off for one in every),
        off=sum(one.is_off for one in every), lead_days=_mean(map(_lead, over)),
        stated_pct=_mean(map(_said_pct, over)),
        levels=tuple(_level(every, n, today) for n in range(len(LEVELS_PCT))),
        stated=_stated(over),
        months=_groups(over, _month, today),
        offerings=_groups(over, lambda one: one.offerings, today),
        correction=CorrectionNow(
            odds_shift=by.shift, odds_stretch=by.stretch, promises=by.promises, level_pct=level,
            simulated_pct=round(simulated(level / 100.0, by) * 100.0, 1),
        ),
        definitions=DEFINITIONS, without_levels=without, levels_say=_levels_say(without, len(over)),
    )  # fmt: skip


def _levels_say(without: int, of: int) -> str:
    """Say in words what no level can be judged by: nothing is not the same as none that held."""
    if not without:
        return ""
    if without == of:
        return (
            "Each of these promises was told as one day, without the days at 50, 80, 90 and 95 %:"
            " whether those levels hold cannot be said."
        )
    return (
        f"{without} of {of} promises were told as one day, without the days at 50, 80, 90 and"
        " 95 %: they count at no level."
    )


def _level(every: Sequence[Judged], number: int, today: date) -> LevelScore:
    level = LEVELS_PCT[number] / 100.0
    over = [one for one in every if one.days and one.days[number] < today and not one.is_off]
    held = sum(one.left_on is not None and one.left_on <= one.days[number] for one in over)
    ended = _ended(over, today)
    late = [_late(one, number, today) for one in ended]
    days = conformal_quantile(late, 1.0 - level)
    return LevelScore(
        level_pct=LEVELS_PCT[number], covered=proportion(held, len(over)),
        too_few_p=coverage_test(held, len(over), level).too_few_p if over else None,
        pinball_days=_mean(pinball(by, 0.0, level) for by in late),
        lead_days=_mean(float((one.days[number] - one.told_on).days) for one in over),
        conformal_days=days if isfinite(days) else None, outcomes=len(late),
    )  # fmt: skip


def _ended(some: Iterable[Judged], today: date) -> list[Judged]:
    """Keep those of which the last day told is over, whether or not they have left."""
    return [one for one in some if one.days and one.days[-1] < today and not one.is_off]


def _late(one: Judged, number: int, today: date) -> float:
    """Return by how many days it left after the day of a level; below 0 it was early."""
    return float(((one.left_on or today) - one.days[number]).days)


def _stated(over: Sequence[Judged]) -> tuple[StatedScore, ...]:
    found = []
    for tenth in range(10):
        low = tenth * _TENTH
        mine = [one for one in over if tenth == min(int(_said_pct(one) / _TENTH), 9)]
        said = _mean(map(_said_pct, mine))
        if said is not None:
            found.append(
                StatedScore(from_pct=low, to_pct=low + _TENTH, stated_pct=said, kept=_kept(mine))
            )
    return tuple(found)


def _said_pct(one: Judged) -> float:
    """Return the chance that was said of the day; a person who told one said its level."""
    return one.level_pct if one.chance_pct is None else one.chance_pct


def _month(one: Judged) -> tuple[str, ...]:
    return (one.ships_by.strftime("%Y-%m"),)


def _groups(
    over: Sequence[Judged], names_of: Callable[[Judged], tuple[str, ...]], today: date
) -> tuple[GroupScore, ...]:
    found = []
    for name in sorted({name for one in over for name in names_of(one)}):
        mine = [one for one in over if name in names_of(one)]
        lead = _mean(map(_lead, mine))
        assert lead is not None, "a group has somebody in it"
        penalties = (
            pinball(_late(one, n, today), 0.0, pct / 100.0)
            for one in _ended(mine, today)
            for n, pct in enumerate(LEVELS_PCT)
        )
        found.append(
            GroupScore(name=name, kept=_kept(mine), lead_days=lead, pinball_days=_mean(penalties))
        )
    return tuple(found)


def _kept(some: Sequence[Judged]) -> Proportion:
    return proportion(sum(one.is_kept for one in some), len(some))


def _lead(one: Judged) -> float:
    return float((one.ships_by - one.told_on).days)


def _mean(values: Iterable[float]) -> float | None:
    found = tuple(values)
    return round(sum(found) / len(found), 4) if found else None
