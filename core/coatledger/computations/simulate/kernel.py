"""The open shop one replication at a time, to be compiled: the rules of `step` again.

It draws from the same addresses and gives the same numbers, which a test holds; `simulate` takes it
where a compiler is installed. Whoever changes a rule changes it in both.
"""

import numpy as np
import numpy.typing as npt

from coatledger.computations.simulate.calendar import NEVER
from coatledger.computations.simulate.compiled import entered, part
from coatledger.computations.simulate.heap import expire, push, put_ready
from coatledger.computations.simulate.lots import draw, draw_lead, judge
from coatledger.computations.simulate.numbers import Fixed, Moving
from coatledger.computations.simulate.tables import Ints

Spent = npt.NDArray[np.int64]
_APART = 2**32
_SCRAP = 65_536
_IN_HAND, _DRYING, _CURING, _AGAIN = range(4)


@entered
def run_all(fixed: Fixed, moving: Moving, finish: Ints, spent: Spent) -> None:
    """Run every replication of a block; a finish below 0 is none."""
    people, batches = moving.people, moving.batches
    for r in range(finish.shape[1]):
        _begin(fixed, moving, finish, spent, r)
        while True:
            person = 0
            for n in range(1, people.size):
                if people[n].begins < people[person].begins:
                    person = n
            now = people[person].begins
            if now >= NEVER:
                break
            expire(fixed, moving, now)
            batch = _choose(fixed, moving, now)
            if batch < batches.size:
                _dispatch(fixed, moving, finish, spent, r, batch, person, now)
            else:
                _go_on(fixed, moving, r, now)


@part
def _begin(fixed: Fixed, moving: Moving, finish: Ints, spent: Spent, r: int) -> None:
    _set_anew(fixed, moving, r)
    for batch in range(moving.batches.size):
        start, state = fixed.batches[batch], moving.batches[batch]
        k, ready = start.at, fixed.starts[batch, r].ready
        kind = start.held
        if ready < 0:
            finish[batch, r] = 0
            continue
        state.at = k
        if start.hand >= 0:
            moving.people[start.hand].work = fixed.shop[0].work_now
            # What is in hand has its places already; they are taken again as it goes on.
            moving.free[fixed.ops[k].place] += moving.ops[k].left
            _carry_on(fixed, moving, finish, spent, r, batch, start.hand, 0, start.gun, 0,
                      fixed.starts[batch, r].left)  # fmt: skip
            continue
        if fixed.ops[k].asks < 0:
            if kind > 0:
                push(moving, ready, -1, kind, start.pieces)
                kind = 0
            ready += _idle_s(fixed, moving, r, batch, k)
            k = fixed.ops[k].next
        if k < 0:
            finish[batch, r] = ready
            continue
        state.at = k
        if kind > 0 or ready > 0:
            push(moving, ready, batch, kind, start.pieces)
        else:
            put_ready(fixed, moving, batch)


@part
def _set_anew(fixed: Fixed, moving: Moving, r: int) -> None:
    for n in range(moving.people.size):
        _may_begin(fixed, moving, r, n, 0)
    for n in range(moving.guns.size):
        moving.guns[n].until = 0
        moving.guns[n].holds = fixed.guns[n].holds
    for n in range(moving.batches.size):
        moving.batches[n].again = 0
        moving.batches[n].row_again = 0
    for n in range(moving.ops.size):
        moving.ops[n].left = fixed.ops[n].left
        moving.ops[n].rounds = fixed.ops[n].done
    moving.bits[:] = np.uint64(0)
    moving.free[1] = fixed.shop[0].rack
    moving.free[2] = fixed.shop[0].curing
    moving.size[0] = 0


@part
def _choose(fixed: Fixed, moving: Moving, now: int) -> int:
    """Return the batch whose job is next; as many as there are for none."""
    guns, rows = moving.guns, moving.rows
    busy = 0
    for n in range(guns.size):
        busy += guns[n].until > now
    open_ = busy < guns.size and busy < fixed.shop[0].booth
    rows[:] = False
    rows[0] = True
    if open_:
        for n in range(guns.size):
            if guns[n].until <= now:
                rows[guns[n].holds] = True
    first = _first(fixed, moving)
    if not open_:
        return first
    for row in range(rows.size):
        rows[row] = not rows[row]
    other = _first(fixed, moving)
    none = moving.batches.size
    if other == none or first == none:
        return min(first, other)
    return first if fixed.batches[first].due <= fixed.batches[other].due else other


@part
def _first(fixed: Fixed, moving: Moving) -> int:
    """Return the first ready batch of some rows whose pieces find their places."""
    bits, rows, batches = moving.bits, moving.rows, moving.batches
    ops, steps, free = moving.ops, fixed.ops, moving.free
    for column in range(bits.shape[1]):
        word = np.uint64(0)
        for row in range(rows.size):
            if rows[row]:
                word |= bits[row, column]
        while word != np.uint64(0):
            lowest = word & (~word + np.uint64(1))
            # A power of two is exact in binary64, and its exponent is the number of the bit.
            batch = column * 64 + int(np.log2(np.float64(lowest)))
            k = batches[batch].at
            kind = steps[k].place
            if kind == 0 or ops[k].left <= free[kind]:
                return batch
            word ^= lowest
    return batches.size


@part
def _dispatch(
    fixed: Fixed, moving: Moving, finish: Ints, spent: Spent, r: int, batch: int, person: int,
    now: int,
) -> None:  # fmt: skip
    product = fixed.ops[moving.batches[batch].at].asks
    moving.bits[product, batch >> 6] ^= np.uint64(1) << np.uint64(batch & 63)
    gun, change, guns = -1, 0, moving.guns
    if product > 0:
        for n in range(guns.size):
            if guns[n].until <= now:
                holds = guns[n].holds == product
                if holds or gun < 0:
                    gun = n
                if holds:
                    break
        if guns[gun].holds != product:
            change = fixed.shop[0].changeover
            guns[gun].holds = product
    _carry_on(fixed, moving, finish, spent, r, batch, person, now, gun, change, -1)


@part
def _carry_on(
    fixed: Fixed, moving: Moving, finish: Ints, spent: Spent, r: int, batch: int, person: int,
    now: int, gun: int, change: int, left_s: int,
) -> None:  # fmt: skip
    state, row = moving.batches[batch], fixed.batches[batch].row
    k = state.at
    step, pieces = fixed.ops[k], moving.ops[k].left
    hands, release, word = draw(fixed, moving, r, batch, k)
    done = moving.people[person].work + (left_s if left_s >= 0 else hands) + change
    end = done + fixed.work_back[np.searchsorted(fixed.work_ends, done)]
    if gun >= 0:
        moving.guns[gun].until = end
    _may_begin(fixed, moving, r, person, end)
    kind = step.place
    moving.free[kind] -= pieces
    after, going = release, step.next
    if step.idle_next:
        after += _idle_s(fixed, moving, r, batch, k + 1)
    if row >= 0:
        spent[_AGAIN if state.row_again else _IN_HAND, row, r] += end - now
        wet = _CURING if step.curing else _DRYING
        spent[_AGAIN if state.row_again else wet, row, r] += after
    code = judge(fixed, moving, k, word)
    if code > 0:
        going, after = _send_back(fixed, moving, r, batch, k, code)
        if row >= 0:
            state.row_again = 1
            spent[_AGAIN, row, r] += after
    if kind > 0 and (going < 0 or release != after):
        push(moving, end + release, -1, kind, pieces)
        kind = 0
    if going < 0:
        finish[batch, r] = end + after
    else:
        state.at = going
        push(moving, end + after, batch, kind, pieces)


@part
def _send_back(
    fixed: Fixed, moving: Moving, r: int, batch: int, k: int, code: int
) -> tuple[int, int]:
    """Send the pieces of an inspection back; return where they go on, and after which seconds."""
    moving.ops[k].rounds += 1
    moving.batches[batch].again += 1
    sent, scrapped = code % _SCRAP, code // _SCRAP
    low, wait = k - fixed.ops[k].back, 0
    target = low
    if scrapped > 0:
        wait = draw_lead(fixed, moving, r, batch)
        target = fixed.batches[batch].first
    for op in range(target, k + 1):
        moving.ops[op].left = sent + scrapped if op >= low else scrapped
    if fixed.ops[target].asks < 0:
        wait += _idle_s(fixed, moving, r, batch, target)
        target = fixed.ops[target].next
    return target, wait


@part
def _idle_s(fixed: Fixed, moving: Moving, r: int, batch: int, k: int) -> int:
    """Return the seconds from an operation of nobody to the next one that needs hands."""
    total = 0
    while True:
        hands, wait, _ = draw(fixed, moving, r, batch, k)
        total += hands + wait
        if not fixed.ops[k].idle_next:
            return total
        k += 1


@part
def _may_begin(fixed: Fixed, moving: Moving, r: int, person: int, at: int) -> None:
    hand, away = moving.people[person], fixed.away
    at = min(at, NEVER)
    while True:
        found = fixed.begins[np.searchsorted(fixed.begin_keys, at + person * _APART, side="right")]
        at = max(at, found.opens)
        later = at
        for row in (person, away.shape[0] - 1):
            for number in range(away.shape[2]):
                if away[row, r, number, 0] > later:
                    break  # they stand in order of time
                later = max(later, away[row, r, number, 1])
        if later == at:
            break
        at = later
    hand.begins = at
    hand.work = at + found.shift


@part
def _go_on(fixed: Fixed, moving: Moving, r: int, now: int) -> None:
    """Nothing can begin before something changes: nobody looks again until then."""
    people, guns = moving.people, moving.guns
    change = moving.coming[0].time if moving.size[0] > 0 else NEVER
    for gun in range(guns.size):
        until = guns[gun].until
        if now < until < change:
            change = until
    for person in range(people.size):
        if change >= NEVER:
            people[person].begins = NEVER
        else:
            _may_begin(fixed, moving, r, person, max(people[person].begins, change))
