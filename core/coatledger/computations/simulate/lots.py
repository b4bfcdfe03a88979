"""The draws of `draws` one at a time, to be compiled: the same address, the same value."""

import math

import numpy as np

from coatledger.computations.simulate.compiled import part
from coatledger.computations.simulate.numbers import Fixed, Moving

_LEAD = 1


@part
def mix(word: np.uint64, address: int) -> np.uint64:
    """Return the word at an address. *Reference:* as `draws.mixed`."""
    z = word + np.uint64(address) * np.uint64(0x9E3779B97F4A7C15)
    z ^= z >> np.uint64(30)
    z *= np.uint64(0xBF58476D1CE4E5B9)
    z ^= z >> np.uint64(27)
    z *= np.uint64(0x94D049BB133111EB)
    return z ^ (z >> np.uint64(31))


@part
def draw(fixed: Fixed, moving: Moving, r: int, batch: int, k: int) -> tuple[int, int, np.uint64]:
    """Return the seconds of an operation and of the wait after it, and the word they came from."""
    op = fixed.ops[k]
    word = mix(fixed.words[batch, r], op.address + (moving.batches[batch].again << 16))
    factor = fixed.factors[np.int64(word & np.uint64(4_095)) + op.spread]
    base = op.setup + op.piece * moving.ops[k].left
    hands = int(max(np.rint(factor * base), 1.0))
    if not op.waits:
        return hands, 0, word
    z = fixed.shop_z[r] + fixed.shop[0].own * fixed.normals[np.int64(word >> np.uint64(52))]
    return hands, _waited(z, op.y50, op.low, op.high), word


@part
def judge(fixed: Fixed, moving: Moving, k: int, word: np.uint64) -> int:
    """Return how many pieces go back, plus 65,536 for each scrapped; 0 where nothing is judged."""
    op, state = fixed.ops[k], moving.ops[k]
    if not op.looks or state.rounds >= op.rounds:
        return 0
    u = np.float64((word >> np.uint64(12)) & np.uint64(2**40 - 1)) * 2.0**-40
    key = op.judge + state.left + u
    return fixed.judge_codes[np.searchsorted(fixed.judge_keys, key, side="right")]  # type: ignore[no-any-return]


@part
def draw_lead(fixed: Fixed, moving: Moving, r: int, batch: int) -> int:
    """Return the seconds until the joiner has made a scrapped piece again."""
    word = mix(fixed.words[batch, r], _LEAD + (moving.batches[batch].again << 16))
    z = fixed.normals[np.int64(word >> np.uint64(52))]
    lead = fixed.batches[batch]
    return _waited(z, lead.y50, lead.low, lead.high)


@part
def _waited(z: float, y50: float, low: float, high: float) -> int:
    y = (low if z < 0.0 else high) * z + y50
    return int(np.rint(max((math.exp(y) - 1.0) * 60.0, 0.0)))
