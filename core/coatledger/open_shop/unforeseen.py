"""What nobody has told of yet: how often people are away unforeseen, and how often the shop shuts.

Both are learned from what was told, and lean on common practice while there is little to go by.
"""

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from math import ceil

from coatledger.computations.simulate.shop import Unforeseen
from coatledger.events.setup import ClosureAnnounced, PersonAbsent, ShopDescribed
from coatledger.ledger.record import micros, moment
from coatledger.subjects.described import Shop
from coatledger.subjects.view import View

# What is believed before anything was seen, and what it weighs; each is common practice, no
# published source: an adult is ill some two to four times a year, and a small shop shuts on a day
# that its customers were not told of about as often.
AWAY_A_DAY, AWAY_WEIGHT_DAYS, AWAY_DAYS = 1.0 / 90.0, 90.0, (1, 2, 3)
SHUT_A_DAY, SHUT_WEIGHT_DAYS, SHUT_DAYS = 1.0 / 250.0, 250.0, (1, 1, 3)
# Who tells so many days ahead does not surprise; a closing told of so late still does.
NOTICE_AWAY = timedelta(days=1)
NOTICE_SHUT_DAYS = 15.0
_DAY_US = 86_400_000_000


def unforeseen(view: View, described: ShopDescribed) -> tuple[Unforeseen, Unforeseen]:
    """Return what may befall each person, and the whole shop.

    *Reference:* a Poisson rate with a gamma prior (Gelman et al., Bayesian Data Analysis 3, section
    2.6); lengths as they were, with the prior's among them. *Valid:* spells independent of each
    other; a closing counts by how late it was told.
    """
    state, now_us = view.shop_state(), view.at_us
    since_us = min((micros(v.occurred_at) for v in state.versions), default=now_us)
    days = max(now_us - since_us, 0) / _DAY_US
    away = tuple(_spells_away(state.absences, moment(now_us)))
    shut = tuple(_spells_shut(state, now_us))
    late = sum(weight for weight, _ in shut)
    people_days = days * max(described.people, 1)
    return (
        Unforeseen(
            (len(away) + AWAY_A_DAY * AWAY_WEIGHT_DAYS) / (people_days + AWAY_WEIGHT_DAYS),
            (*AWAY_DAYS, *away),
        ),
        Unforeseen(
            (late + SHUT_A_DAY * SHUT_WEIGHT_DAYS) / (days + SHUT_WEIGHT_DAYS),
            (*SHUT_DAYS, *(length for weight, length in shut if weight > 0.0)),
        ),
    )


def _spells_away(absences: Sequence[PersonAbsent], now: datetime) -> Iterable[int]:
    """Yield how many days each spell lasted that nobody saw coming; what was told of one twice, or
    without a gap, is one."""
    ends: dict[str, datetime] = {}
    for absence in sorted(absences, key=lambda one: (one.since, one.occurred_at)):
        if absence.since > now or absence.since - absence.occurred_at > NOTICE_AWAY:
            continue
        until = absence.until or absence.since + timedelta(days=1)
        before = ends.get(absence.person)
        if before is None or absence.since > before:
            told = [
                one.until or until
                for one in absences
                if one.person == absence.person and absence.since <= one.since <= until
            ]
            until = max([until, *told])
            yield max(ceil((until - absence.since) / timedelta(days=1)), 1)
        ends[absence.person] = until if before is None else max(until, before)


def _spells_shut(state: Shop, now_us: int) -> Iterable[tuple[float, int]]:
    """Yield how much of a surprise each past closing was, from 0 to 1, and its days."""
    for closure in state.closures:
        if closure.cancelled or closure.first_day >= moment(now_us).date():
            continue
        notice = (closure.first_day - closure.occurred_at.date()).days
        yield max(1.0 - notice / NOTICE_SHUT_DAYS, 0.0), _length(closure)


def _length(closure: ClosureAnnounced) -> int:
    return (closure.last_day - closure.first_day).days + 1
