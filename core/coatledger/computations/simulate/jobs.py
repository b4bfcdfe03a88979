"""Jobs of a simulated shop, one in each of some replications: from the first minute to the next
operation. A job is never given up, so all that follows from it is known as it begins."""

from typing import NamedTuple

import numpy as np

from coatledger.computations.simulate.again import idle_s, judge
from coatledger.computations.simulate.away import present
from coatledger.computations.simulate.calendar import Seconds, work_at, work_end
from coatledger.computations.simulate.draws import draw_job, starts
from coatledger.computations.simulate.state import CURING, RACK, State, place_code
from coatledger.computations.simulate.tables import NOBODY, Ints
from coatledger.computations.simulate.watch import Watch


class Jobs(NamedTuple):
    """Jobs that begin: in which replication, of which batch and operation, by whom and when.

    `sprays` are those that spray; `gun` says with which gun, and the seconds to change it over.
    """

    column: Ints
    batch: Ints
    k: Ints
    person: Ints
    now: Seconds
    sprays: Ints
    gun: tuple[Ints, Ints] | None


def carry_on(state: State, watch: Watch, jobs: Jobs, left_s: Seconds | None = None) -> None:
    """Work jobs off: when they end, what follows, who is free when. `left_s` if half done."""
    column, batch, k, count = jobs.column, jobs.batch, jobs.k, state.count
    mine = batch * count + column
    left = state.left.take(k * count + column).astype(np.int64)
    hands, release, word = draw_job(
        state.table, state.luck, state.luck.words.take(mine), k, state.again.take(mine), left,
        column,
    )  # fmt: skip
    if left_s is not None:
        hands = left_s
    if jobs.gun is not None:
        hands[jobs.sprays] += jobs.gun[1]
    by = jobs.person * count + column
    end = work_end(state.laid, state.work.take(by) + hands)
    if jobs.gun is not None:
        state.gun_until.reshape(-1)[jobs.gun[0]] = end.take(jobs.sprays)
    begins, work = present(state.laid, state.away, column, jobs.person, end)
    state.begins.reshape(-1)[by], state.work.reshape(-1)[by] = begins, work
    after, going = release, state.table.next_hands.take(k)
    idle = state.table.idle_next.take(k).nonzero()[0]
    if idle.size:
        after = release.copy()
        after[idle] += idle_s(state, column[idle], batch[idle], k[idle] + 1)
    watch.note(batch, column, jobs.now, end, after, k)
    if state.rounds.size:
        sent, target, wait = judge(state, column, batch, k, word)
        if sent.size:
            going[sent] = target
            after = after.copy()
            after[sent] = wait
            watch.sent_back(batch[sent], column[sent], wait)
    if state.limited:
        _leave_places(state, jobs, left, end, release, after, going)
    else:
        _leave(state, column, batch, end + after, going)


def _leave(state: State, column: Ints, batch: Ints, ready: Seconds, going: Ints) -> None:
    """Send batches on their way to their next operation, or note that they are finished."""
    onward = going >= 0
    if not onward.all():
        done = (~onward).nonzero()[0]
        state.finish[batch[done] * state.count + column[done]] = ready[done]
        column, batch, ready, going = (x[onward] for x in (column, batch, ready, going))
    state.to_operation(batch, column, going)
    state.put_slot(column, ready, batch, 0)


def _leave_places(
    state: State, jobs: Jobs, left: Ints, end: Seconds, release: Seconds, after: Seconds,
    going: Ints,
) -> None:  # fmt: skip
    """The same where places may run out: they are taken now, and free when the wait ends."""
    column, batch = jobs.column, jobs.batch
    kind = state.table.place.take(jobs.k)
    for one in (RACK, CURING):
        of = (kind == one).nonzero()[0]
        state.free[one][column[of]] -= left[of]
    place = place_code(kind, left)
    done = going < 0
    apart = ((done | (release != after)) & (kind > 0)).nonzero()[0]
    if apart.size:
        nobody = np.full(apart.size, -1)
        state.put_slot(column[apart], (end + release)[apart], nobody, place[apart])
        place[apart] = 0
    ready = end + after
    state.finish[(batch * state.count + column)[done]] = ready[done]
    onward = ~done
    state.to_operation(batch[onward], column[onward], going[onward])
    state.put_slot(column[onward], ready[onward], batch[onward], place[onward])


def begin(state: State, watch: Watch, people: tuple[str, ...], guns: tuple[str, ...]) -> None:
    """Put every batch where it stands now, and go on with the jobs in hand."""
    table, r = state.table, state.r
    zero, work_now = np.zeros(state.count, dtype=np.int64), work_at(state.laid, 0)
    for number, batch in enumerate(table.batches):
        k = zero + int(table.batch_first[number]) + batch.position
        ready, left_s = starts(table, state.luck, number)
        if batch.in_hand is None:
            _put(state, number, ready, k)
            continue
        person = people.index(batch.in_hand.person)
        state.work[person] = work_now
        sprays, gun = zero[:0], None
        if batch.in_hand.gun:
            sprays, gun = r, (guns.index(batch.in_hand.gun) * state.count + r, zero)
        state.at[number * state.count + r] = k
        # What is in hand has its places already; they are taken again as it goes on.
        state.free[table.place[k[0]]] += table.left[k[0]]
        jobs = Jobs(r, zero + number, k, zero + person, zero, sprays, gun)
        carry_on(state, watch, jobs, left_s)


def _put(state: State, number: int, ready: Seconds, k: Ints) -> None:
    """Put a batch that nobody works on where it is: ready, drying, expected, or never there."""
    table, batch = state.table, state.table.batches[number]
    r = (ready >= 0).nonzero()[0]
    if r.size < state.count:
        state.finish[number * state.count + (ready < 0).nonzero()[0]] = 0
        ready, k = ready[r], k[r]
        if not r.size:
            return
    column = np.full(r.size, number)
    held, position = 0, int(k[0])
    if batch.place_held:
        kind = RACK if batch.place_held == "rack" else CURING
        held = int(place_code(np.array(kind), np.array(batch.places_taken(batch.place_held))))
    if table.asks[position] == NOBODY:
        if held:
            state.put_slot(r, ready, np.full(r.size, -1), held)
            held = 0
        ready = ready + idle_s(state, r, column, k)
        k = table.next_hands[k]
    if k[0] < 0:
        state.finish[number * state.count + r] = ready
        return
    state.to_operation(column, r, k)
    if held or ready.any():
        state.put_slot(r, ready, column, held)
    else:
        state.put_ready(column, r)
