"""Spells nobody has told of yet, in whole days: sickness of a person, a closing of the shop.

Each replication has its own, drawn by address like all else. In a spell a person begins no job;
what was begun goes on, and what is packed is picked up.
"""

import numpy as np
import numpy.typing as npt

from coatledger.computations.simulate.calendar import Laid, Seconds, may_begin
from coatledger.computations.simulate.draws import Luck, mixed, uniform
from coatledger.computations.simulate.shop import OpenShop, Unforeseen
from coatledger.computations.simulate.tables import Floats, Ints

# So many spells of a person, and of the shop, at most; a replication is over long before.
SPELLS_MOST = 6

Spells = npt.NDArray[np.int64]


def no_spells(people: int, count: int) -> Spells:
    """Return that nothing befalls anybody."""
    return np.empty((people + 1, count, 0, 2), dtype=np.int64)


def spells(shop: OpenShop, laid: Laid, luck: Luck) -> Spells:
    """Return [person, replication, spell, from and until], in seconds; the last row is the shop's.

    *Reference:* days until the next spell are geometric, lengths are drawn from those given.
    *Valid:* spells of one row are in order of time and apart.
    """
    count, people = luck.shop.size, len(shop.people)
    if shop.away.a_day <= 0.0 and shop.shut.a_day <= 0.0:
        return no_spells(people, count)
    found = np.empty((people + 1, count, SPELLS_MOST, 2), dtype=np.int64)
    last = laid.midnights.size - 1
    for row, words in enumerate(luck.people):
        drawn = shop.shut if row == people else shop.away
        day = np.ones(count, dtype=np.int64)
        for number in range(SPELLS_MOST):
            first, second = (uniform(mixed(words, 2 * number + n)) for n in (1, 2))
            gap, length = _spell(drawn, first, second)
            begins = np.minimum(day + gap, last)
            ends = np.minimum(begins + length, last)
            found[row, :, number] = laid.midnights[np.stack((begins, ends), axis=1)]
            day = ends + 1
    return found


def _spell(drawn: Unforeseen, first: Floats, second: Floats) -> tuple[Ints, Ints]:
    """Return after how many days a spell begins, and how many it lasts."""
    if drawn.a_day <= 0.0:
        never = np.full(first.size, 10**6, dtype=np.int64)
        return never, never
    gap = np.floor(np.log1p(-first) / np.log1p(-drawn.a_day)).astype(np.int64)
    lengths = np.array(drawn.days, dtype=np.int64)
    return gap, lengths[(second * lengths.size).astype(np.int64)]


def present(
    laid: Laid, away: Spells, column: Ints, people: Ints | int, at: Seconds
) -> tuple[Seconds, Seconds]:
    """Return when each person, in the replications given, may next begin a job, and where that is
    on the axis of work: `calendar.may_begin` outside of every spell."""
    begins, work = may_begin(laid, people, at)
    if not away.shape[2]:
        return begins, work
    while True:
        later = begins.copy()
        for row in (people, away.shape[0] - 1):
            for number in range(away.shape[2]):
                spell = away[row, column, number]
                inside = (spell[:, 0] <= later) & (later < spell[:, 1])
                later = np.where(inside, spell[:, 1], later)
        if (later == begins).all():
            return begins, work
        begins, work = may_begin(laid, people, later)
