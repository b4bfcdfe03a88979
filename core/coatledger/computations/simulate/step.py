"""One step of a simulated shop, in all its replications at once: the next job that can begin.

The rule, in this order: the earlier due date; what needs no change of the gun; the older order; the
smaller id. Nobody waits for a job that cannot begin yet. Everything that ends at a moment takes
effect before the next job is chosen at it.
"""

import numpy as np

from coatledger.computations.simulate.away import present
from coatledger.computations.simulate.calendar import NEVER, Seconds
from coatledger.computations.simulate.draws import Words
from coatledger.computations.simulate.jobs import Jobs, carry_on
from coatledger.computations.simulate.state import CURING, RACK, State
from coatledger.computations.simulate.tables import Ints
from coatledger.computations.simulate.watch import Watch

_EXPONENT, _BIAS = 52, 1023


def step(state: State, watch: Watch) -> bool:
    """Begin one job in each replication, or go on to the next change there; False at the end."""
    if len(state.begins) == 1:
        person, now = np.zeros(state.count, dtype=np.int64), state.begins[0].copy()
    else:
        person = state.begins.argmin(axis=0)
        now = state.begins.take(person * state.count + state.r)
    state.expire(np.minimum(now, NEVER - 1))
    batch = choose(state, now)
    found, live = batch < state.batches, now < NEVER
    column = (found & live).nonzero()[0]
    if column.size:
        chosen = batch.take(column)
        k = state.at.take(chosen * state.count + column)
        asks = state.table.asks.take(k)
        state.take_ready(chosen, column, asks)
        begun = now.take(column)
        sprays = asks.nonzero()[0]
        gun = None
        if sprays.size:
            gun = _take_gun(state, column.take(sprays), asks.take(sprays), begun.take(sprays))
        jobs = Jobs(column, chosen, k, person.take(column), begun, sprays, gun)
        carry_on(state, watch, jobs)
    idle = (live & ~found).nonzero()[0]
    if idle.size:
        _go_on(state, idle, now.take(idle))
    return bool(column.size or idle.size)


def choose(state: State, now: Seconds) -> Ints:
    """Return the batch whose job is next in each replication; as many as there are for none."""
    both = _ready(state, now)
    first = _first_bits(both, state.batches)
    batch = _earlier(state, first)
    if state.limited:
        _make_fit(state, both, batch)
    return batch


def _earlier(state: State, first: Ints) -> Ints:
    due = state.table.batch_due.take(first)
    earlier: Ints = np.where(due[0] <= due[1], first[0], first[1])
    return earlier


def _ready(state: State, now: Seconds) -> Words:
    """Return the bits of what needs no change of a gun, and of all that is sprayed."""
    both = np.zeros((2, state.count, state.words), dtype=np.uint64)
    both[0] = state.bits[0]
    if len(state.bits) == 1 or not len(state.gun_until):
        return both
    free = state.gun_until <= now
    free &= len(free) - free.sum(axis=0) < state.booth
    rows = state.bits.reshape(-1, state.words)
    for gun, holds in zip(free, state.gun_holds, strict=True):
        both[0] |= rows.take(holds * gun * state.count + state.r, axis=0)
    sprayed = np.bitwise_or.reduce(state.bits[1:], axis=0)
    both[1] = sprayed * np.logical_or.reduce(free, axis=0).astype(np.uint64)[:, None]
    return both


def _first_bits(bits: Words, none: int) -> Ints:
    """Return the number of the first bit in each row; `none` where there is no bit."""
    rows = bits.reshape(-1, bits.shape[-1])
    base: Ints | int = 0
    if rows.shape[1] == 1:
        word = rows[:, 0]
    else:
        at = (rows != 0).argmax(axis=1)
        word, base = rows.take(np.arange(0, rows.size, rows.shape[1]) + at), at * 64
    lowest = (word & (~word + np.uint64(1))).astype(np.float64)
    # A power of two is exact in binary64, and its exponent is the number of the bit.
    number = (lowest.view(np.int64) >> _EXPONENT) - _BIAS + base
    return np.where(word == 0, none, number).reshape(bits.shape[:-1])


def _make_fit(state: State, both: Words, batch: Ints) -> None:
    """Choose again where the pieces of the first job do not fit into the places that are free."""
    none = state.batches
    safe = np.minimum(batch, none - 1)
    over = (state.need[RACK, state.r, safe] > state.free[RACK]) | (
        state.need[CURING, state.r, safe] > state.free[CURING]
    )
    column = (over & (batch < none)).nonzero()[0]
    if not column.size:
        return
    open_ = np.unpackbits(both[:, column].view(np.uint8), axis=-1, bitorder="little")
    fits = state.need[RACK][column] <= state.free[RACK, column, None]
    fits &= state.need[CURING][column] <= state.free[CURING, column, None]
    can = open_[..., :none].view(np.bool_) & fits
    batch[column] = _earlier(state, np.where(can.any(axis=-1), can.argmax(axis=-1), none))


def _take_gun(state: State, column: Ints, product: Ints, now: Seconds) -> tuple[Ints, Ints]:
    """Take the first free gun that holds the product, else the first free one; change it over."""
    place = column
    if len(state.gun_until) > 1:
        free = state.gun_until[:, column] <= now
        holds = free & (state.gun_holds[:, column] == product)
        gun = np.where(holds.any(axis=0), holds.argmax(axis=0), free.argmax(axis=0))
        place = gun * state.count + column
    holding = state.gun_holds.reshape(-1)
    change = (holding.take(place) != product) * state.changeover_s
    holding[place] = product
    return place, change


def _go_on(state: State, column: Ints, now: Seconds) -> None:
    """Nothing can begin before something changes: nobody looks again until then."""
    change = state.next_change(column, now)
    for person in range(len(state.begins)):
        at = np.maximum(state.begins[person].take(column), change)
        begins, work = present(state.laid, state.away, column, person, at)
        state.begins[person][column] = np.where(change < NEVER, begins, NEVER)
        state.work[person][column] = work
