"""Chance in a simulation: every draw has an address, and always the same value there.

A batch gets one raw PCG64 word for each replication, from the seed and its own id; a draw is that
word mixed with the address of what is drawn (operation, time round, use). So the same piece has the
same luck in every variant of a shop, and what was promised can be replayed. Durations come out in
whole seconds, which hides the last bit in which machines may differ.
"""

from collections.abc import Iterator
from math import comb
from statistics import NormalDist
from typing import NamedTuple
from zlib import crc32

import numpy as np
import numpy.typing as npt
from numpy.random import PCG64

from coatledger.computations.simulate.tables import (
    MINUTE_S,
    NORMALS,
    Floats,
    Ints,
    Tables,
    curve,
)

Words = npt.NDArray[np.uint64]
_U = np.uint64
# The mixer's odd numbers, from its paper.
_GOLDEN, _FIRST, _SECOND = _U(0x9E3779B97F4A7C15), _U(0xBF58476D1CE4E5B9), _U(0x94D049BB133111EB)
_ROUND = 16
# Addresses that are no operation's: the state at the beginning, and the joiner's lead.
_START, _LEAD, _COMES = 0, 1, 2
# What makes a person's stream another than a batch's.
_PERSON = 2**33
SCRAP = 65_536


class Luck(NamedTuple):
    """What a run draws from: a word for each batch and replication, and the shop's own factor.

    `people` are words of each person and, last, of all together. `factors` are the multipliers of a
    duration by spread and by which of the normals was drawn. Row n of `judge_...` is one outcome of
    one inspection of so many pieces.
    """

    words: Words
    people: Words
    shop: Floats
    own: float
    normals: Floats
    factors: Floats
    judge_class: Ints
    judge_keys: Floats
    judge_codes: Ints


def lucks(
    table: Tables, seed: int, share: float, replications: int, at_once: int, people: int = 0
) -> Iterator[Luck]:
    """Yield the luck of all replications, so many at once; each one's is the same however many.

    *Reference:* O'Neill, HMC-CS-2014-0905 (PCG64), its raw words as numpy gives them.
    """
    streams = [PCG64((seed, crc32(b.id.encode()), len(b.id))) for b in table.batches]
    shop = PCG64((seed,))
    hands = [PCG64((seed, number, _PERSON)) for number in range(people + 1)]
    normals = np.array(
        [NormalDist().inv_cdf((n + 0.5) / NORMALS) for n in range(NORMALS)], dtype=np.float64
    )
    factors = np.exp(np.multiply.outer(np.array(table.spreads), normals)).ravel()
    classes, keys, codes = _outcomes(table)
    for start in range(0, replications, at_once):
        count = min(at_once, replications - start)
        words = np.array([stream.random_raw(count) for stream in streams], dtype=np.uint64)
        yield Luck(
            words=words.ravel(),
            people=np.array([hand.random_raw(count) for hand in hands], dtype=np.uint64),
            shop=normals[shop.random_raw(count) >> _U(52)] * share**0.5,
            own=(1.0 - share) ** 0.5,
            normals=normals,
            factors=factors,
            judge_class=classes,
            judge_keys=keys,
            judge_codes=codes,
        )


def mixed(words: Words, address: Ints | int) -> Words:
    """Return the word at an address: neighbours share nothing.

    *Reference:* Steele, Lea and Flood, OOPSLA 2014 (SplittableRandom), the finaliser of SplitMix64.
    """
    z = np.asarray(address, dtype=np.int64).astype(np.uint64) * _GOLDEN
    z = z + words
    z ^= z >> _U(30)
    z *= _FIRST
    z ^= z >> _U(27)
    z *= _SECOND
    z ^= z >> _U(31)
    return z


def uniform(words: Words) -> Floats:
    """Return a number from 0 to below 1 for each word, from its upper 53 bits."""
    found: Floats = (words >> _U(11)).astype(np.float64) * 2.0**-53
    return found


def draw_job(
    table: Tables, luck: Luck, words: Words, k: Ints, times: Ints, left: Ints, column: Ints
) -> tuple[Ints, Ints, Words]:
    """Return the seconds of an operation and of the wait after it, and the word they came from.

    Its lowest bits choose the job's normal, its highest the wait's, those between judge the pieces.
    """
    word = mixed(words, table.address.take(k) + (times << _ROUND))
    drawn = (word & _U(NORMALS - 1)).view(np.int64) + table.spread.take(k)
    base = table.setup_s.take(k) + table.piece_s.take(k) * left
    hands = np.maximum(np.rint(luck.factors.take(drawn) * base), 1.0).astype(np.int64)
    z = luck.shop.take(column) + luck.own * luck.normals.take((word >> _U(52)).view(np.int64))
    return hands, _waited(z, table.y50.take(k), table.low.take(k), table.high.take(k)), word


def judged(table: Tables, luck: Luck, words: Words, k: Ints, left: Ints) -> Ints:
    """Return how many of these pieces an inspection sends back, plus `SCRAP` for each it scraps."""
    u = ((words >> _U(12)) & _U(2**40 - 1)) * 2.0**-40
    row = luck.judge_class[table.inspection[k]] + left
    return luck.judge_codes[luck.judge_keys.searchsorted(row + u, side="right")]


def draw_lead(table: Tables, words: Words, luck: Luck, batch: Ints, times: Ints) -> Ints:
    """Return the seconds until the joiner has made a scrapped piece again."""
    z = luck.normals[(mixed(words, _LEAD + (times << _ROUND)) >> _U(52)).view(np.int64)]
    y50, low, high = table.batch_lead[batch].T
    return _waited(z, y50, low, high)


def starts(table: Tables, luck: Luck, number: int) -> tuple[Ints, Ints]:
    """Return the seconds until one batch is ready for its position, below 0 where it never comes,
    and those left of a job in hand."""
    batch, count = table.batches[number], luck.shop.size
    words = luck.words[number * count : (number + 1) * count]
    word = mixed(words, _START)
    z = luck.normals[(word >> _U(52)).view(np.int64)]
    if batch.ready_is_wait:
        z = luck.shop + luck.own * z
    y50, low, high = (np.full(count, y) for y in curve(batch.ready_in))
    passed_s = round(batch.passed_min * MINUTE_S)
    ready, job = np.maximum(_waited(z, y50, low, high) - passed_s, 0), batch.in_hand
    if batch.chance < 1.0:
        ready[uniform(mixed(words, _COMES)) >= batch.chance] = -1
    if job is None:
        return ready, np.zeros_like(ready)
    normal = luck.normals[(word & _U(NORMALS - 1)).view(np.int64)]
    seconds = np.rint(job.minutes * MINUTE_S * np.exp(job.spread * normal))
    return ready, np.maximum(seconds, 1.0).astype(np.int64)


def _waited(z: Floats, y50: Floats, low: Floats, high: Floats) -> Ints:
    """Return the seconds of a duration at a standard normal value, see `tables.curve`."""
    y = np.where(z < 0.0, low, high)
    y *= z
    y += y50
    seconds = (np.exp(y) - 1.0) * MINUTE_S
    return np.rint(np.maximum(seconds, 0.0)).astype(np.int64)


def _outcomes(table: Tables) -> tuple[Ints, Floats, Ints]:
    """List, for each inspection and number of pieces, what may be sent back and its chance.

    *Reference:* the trinomial distribution. One after another on one axis, a whole number each.
    """
    classes: list[int] = []
    keys: list[float] = []
    codes: list[int] = []
    known: dict[tuple[float, float], int] = {}
    most = max((batch.pieces for batch in table.batches), default=0)
    for k in np.flatnonzero(table.inspection >= 0):
        chances = (float(table.rework[k]), float(table.scrap[k]))
        if chances not in known:
            known[chances] = len(known) * (most + 1)
            for pieces in range(most + 1):
                total = float(known[chances] + pieces)
                for sent, scrapped, chance in _trinomial(pieces, *chances):
                    total += chance
                    keys.append(total)
                    codes.append(sent + scrapped * SCRAP)
                keys[-1] = float(known[chances] + pieces + 1)
        classes.append(known[chances])
    return np.array(classes, np.int64), np.array(keys), np.array(codes, np.int64)


def _trinomial(n: int, rework: float, scrap: float) -> Iterator[tuple[int, int, float]]:
    passed = max(1.0 - rework - scrap, 0.0)
    for lost in range(n + 1):
        for scrapped in range(lost + 1):
            sent = lost - scrapped
            ways = comb(n, lost) * comb(lost, scrapped)
            yield sent, scrapped, ways * rework**sent * scrap**scrapped * passed ** (n - lost)
