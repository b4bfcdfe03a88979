"""What a simulated inspection sends back, and what nobody does: the rarer ways of a batch."""

import numpy as np

from coatledger.computations.simulate.calendar import Seconds
from coatledger.computations.simulate.draws import SCRAP, Words, draw_job, draw_lead, judged
from coatledger.computations.simulate.state import State
from coatledger.computations.simulate.tables import NOBODY, Ints


def judge(state: State, column: Ints, batch: Ints, k: Ints, word: Words) -> tuple[Ints, Ints, Ints]:
    """Return which of these jobs send pieces back, the operation they go on at, and the wait."""
    looks = state.looks.take(k).nonzero()[0]
    r, op = column.take(looks), k.take(looks)
    round_of = state.table.inspection.take(op) * state.count + r
    left = state.left.take(op * state.count + r).astype(np.int64)
    codes = judged(state.table, state.luck, word.take(looks), op, left)
    codes *= state.rounds.take(round_of) < state.table.rounds.take(op)
    gone = codes.nonzero()[0]
    which = looks.take(gone)
    if not which.size:
        return which, which, which
    state.rounds[round_of.take(gone)] += 1
    going, wait = _send_back(state, r[gone], batch[which], op[gone], codes[gone])
    return which, going, wait


def _send_back(
    state: State, column: Ints, batch: Ints, k: Ints, codes: Ints
) -> tuple[Ints, Seconds]:
    """The pieces sent back and the scrapped ones do the last operations again, the scrapped ones
    all those before them too, after the joiner's lead."""
    table, count = state.table, state.count
    sent, scrapped = codes % SCRAP, codes // SCRAP
    mine = batch * count + column
    state.again[mine] += 1
    low, first = k - table.back[k], table.batch_first[batch]
    target, begin = low, low
    wait = np.zeros(k.size, dtype=np.int64)
    lost = scrapped.nonzero()[0]
    if lost.size:
        words = state.luck.words[mine[lost]]
        wait[lost] = draw_lead(table, words, state.luck, batch[lost], state.again[mine[lost]])
        target = begin = np.where(scrapped > 0, first, low)
    for offset in range(int((k - begin).max()) + 1):
        op = k - offset
        which = (op >= begin).nonzero()[0]
        done = np.where(op >= low, sent + scrapped, scrapped)
        state.left[(op * count + column)[which]] = done[which]
    idle = (table.asks[target] == NOBODY).nonzero()[0]
    if idle.size:
        wait[idle] += idle_s(state, column[idle], batch[idle], target[idle])
        target = np.where(table.asks[target] == NOBODY, table.next_hands[target], target)
    return target, wait


def idle_s(state: State, column: Ints, batch: Ints, k: Ints) -> Seconds:
    """Return the seconds from an operation of nobody to the next one that needs hands."""
    mine = batch * state.count + column
    total = np.zeros(k.size, dtype=np.int64)
    which, op = np.arange(k.size), k
    while which.size:
        left = state.left[op * state.count + column[which]]
        hands, wait, _ = draw_job(
            state.table, state.luck, state.luck.words[mine[which]], op, state.again[mine[which]],
            left, column[which],
        )  # fmt: skip
        total[which] += hands + wait
        onward = state.table.idle_next[op].nonzero()[0]
        which, op = which[onward], op[onward] + 1
    return total
