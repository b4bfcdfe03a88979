"""What is on its way in one replication, the soonest first: a binary heap, to be compiled."""

import numpy as np

from coatledger.computations.simulate.calendar import NEVER
from coatledger.computations.simulate.compiled import part
from coatledger.computations.simulate.numbers import Fixed, Moving


@part
def push(moving: Moving, time: int, batch: int, kind: int, pieces: int) -> None:
    """Note when a batch (-1 for none) is ready, and how many places of a kind are free then."""
    heap, at = moving.coming, moving.size[0]
    moving.size[0] += 1
    time = min(time, NEVER - 1)
    while at > 0:
        above = (at - 1) >> 1
        if heap[above].time <= time:
            break
        heap[at] = heap[above]
        at = above
    last = heap[at]
    last.time, last.batch, last.kind, last.pieces = time, batch, kind, pieces


@part
def expire(fixed: Fixed, moving: Moving, now: int) -> None:
    """Let everything take effect whose time has come."""
    heap, size = moving.coming, moving.size
    while size[0] > 0 and heap[0].time <= now:
        batch, kind = heap[0].batch, heap[0].kind
        if kind > 0:
            moving.free[kind] += heap[0].pieces
        _pop(moving)
        if batch >= 0:
            put_ready(fixed, moving, batch)


@part
def put_ready(fixed: Fixed, moving: Moving, batch: int) -> None:
    """Set the bit of a batch that is ready, in the row of what it asks for."""
    asks = fixed.ops[moving.batches[batch].at].asks
    moving.bits[asks, batch >> 6] |= np.uint64(1) << np.uint64(batch & 63)


@part
def _pop(moving: Moving) -> None:
    """Take the soonest away: the last one sinks from the top to where it belongs."""
    heap = moving.coming
    moving.size[0] -= 1
    size = moving.size[0]
    time, at = heap[size].time, 0
    while True:
        below = 2 * at + 1
        if below >= size:
            break
        if below + 1 < size and heap[below + 1].time < heap[below].time:
            below += 1
        if time <= heap[below].time:
            break
        heap[at] = heap[below]
        at = below
    heap[at] = heap[size]
