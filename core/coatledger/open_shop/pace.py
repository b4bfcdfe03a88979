"""How long work takes in this shop: learned from the acts that told their hands-on minutes.

What an act takes is a part for the act and a part for what is done in it: setting out the sander
costs the same for one shelf as for six. It looks back only so far, and leans on common practice
while there is little to go by.
"""

from collections.abc import Mapping, Sequence
from math import exp, log, sqrt
from statistics import median

from msgspec import Struct

from coatledger.clocks.estimate import MINUTES
from coatledger.events.about import EventVoided
from coatledger.events.base import Fact, Work
from coatledger.events.catalogue import CORRECTIONS, TAG_OF, EventAmended
from coatledger.events.room_gun import GunSetUp
from coatledger.ledger.record import Row, micros, recorded
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked
from coatledger.subjects.counts import known_piece
from coatledger.subjects.piece import Piece

# The act of a schedule that a fact is work at; sanding is told apart by its stage.
ACTS: Mapping[str, str] = {
    "grain_raised": "raise_grain", "blown_off": "blow_off", "grain_filled": "fill_grain",
    "stained": "stain", "coat_applied": "coat", "rubbed_out": "rub_out", "polished": "polish",
    "inspected": "inspect", "packed": "pack",
}  # fmt: skip
# How many acts of one kind are enough.
ACTS_MOST = 80
# What a belief from common practice weighs, in acts; no published source.
ACTS_WEIGHT = 5.0
SPREAD_PRIOR = 0.35
AREA_UNKNOWN_M2 = 1.0
CHANGEOVER_MIN = 15.0
_TOLD = frozenset((*ACTS, "sanded", "gun_set_up", *(TAG_OF[kind] for kind in CORRECTIONS)))


class Pace(Struct, frozen=True):
    """How long an act takes here: a multiplier of the usual minutes, its log-spread, and the
    minutes that the act takes beside, however much is done in it."""

    factor: float
    spread: float
    setup_min: float = 0.0


UNKNOWN_PACE = Pace(1.0, SPREAD_PRIOR)


def usual_minutes(act: str, area_m2: float | None) -> float:
    """Return the usual hands-on minutes of one piece: common practice, no published source."""
    each, per_m2 = MINUTES[act]
    return each + per_m2 * (AREA_UNKNOWN_M2 if area_m2 is None else area_m2)


def recent_work(rows: Sequence[Row], now_us: int) -> tuple[Work, ...]:
    """Return the last work that told its minutes, as it was corrected since, the newest first."""
    events = [recorded(row).event for row in rows if row.type in _TOLD]
    gone = {e.original for e in events if isinstance(e, EventVoided | EventAmended)}
    stands: list[Fact] = [e for e in events if e.id not in gone]
    stands += [e.replacement for e in events if isinstance(e, EventAmended)]
    return tuple(
        fact
        for fact in reversed(stands)
        if isinstance(fact, Work) and TAG_OF[type(fact)] in _TOLD
        and fact.hands_on_min and micros(fact.occurred_at) <= now_us
    )  # fmt: skip


def paces(reader: Reader, asked: Asked, work: Sequence[Work]) -> Mapping[str, Pace]:
    """Learn how long each act takes here. *Reference* and *Valid:* as `pace`."""
    of_act: dict[str, list[Work]] = {}
    for fact in work:
        act = _act(fact)
        if act is not None and len(of_act.setdefault(act, [])) < ACTS_MOST:
            of_act[act].append(fact)
    pieces = _pieces(reader, asked, [fact for facts in of_act.values() for fact in facts])
    return {act: pace(list(_seen(act, facts, pieces))) for act, facts in of_act.items()}


def pace(seen: Sequence[tuple[float, float]]) -> Pace:
    """Learn from usual and told minutes of some acts what an act of this kind takes.

    *Reference:* least squares on told over usual minutes, whose doubt is alike for small and large
    acts (weights 1/x^2; NIST/SEMATECH e-Handbook 4.1.4.3), with the usual minutes seen
    `ACTS_WEIGHT` times beside; the spread by its conjugate mean (Gelman et al., Bayesian Data
    Analysis 3, section 2.6). *Valid:* minutes above 0; neither part is ever less than nothing.
    """
    if not seen:
        return UNKNOWN_PACE
    usual = median(minutes for minutes, _ in seen)
    rows = [(1.0 / minutes, told / minutes, 1.0) for minutes, told in seen]
    rows.append((1.0 / usual, 1.0, ACTS_WEIGHT))
    total = sum(w for _, _, w in rows)
    x_mean = sum(w * x for x, _, w in rows) / total
    y_mean = sum(w * y for _, y, w in rows) / total
    xx = sum(w * (x - x_mean) ** 2 for x, _, w in rows)
    xy = sum(w * (x - x_mean) * (y - y_mean) for x, y, w in rows)
    # As much as `ACTS_WEIGHT` acts that differ as these do speak for no part of its own.
    setup = max(xy / (xx * (1.0 + ACTS_WEIGHT / total)), 0.0) if xx > 0.0 else 0.0
    factor = y_mean - setup * x_mean
    if factor < 0.05 * y_mean:
        factor, setup = 0.05 * y_mean, 0.95 * y_mean / x_mean
    logs = [log(told / (setup + factor * minutes)) for minutes, told in seen]
    weight = len(logs) + ACTS_WEIGHT
    off = sum(logs) / weight
    squares = sum((one - off) ** 2 for one in logs) + ACTS_WEIGHT * SPREAD_PRIOR**2
    return Pace(factor * exp(off), sqrt(squares / weight), setup * exp(off))


def changeover_min(work: Sequence[Work]) -> float:
    """Return how long it takes to change a gun over: the middle of those told, with common practice
    twice among them."""
    told = [fact.hands_on_min for fact in work if isinstance(fact, GunSetUp) and fact.hands_on_min]
    return median([CHANGEOVER_MIN] * 2 + told[:ACTS_MOST])


def _seen(
    act: str, facts: Sequence[Work], pieces: Mapping[str, Piece]
) -> list[tuple[float, float]]:
    rows = []
    for fact in facts:
        words: Sequence[str] = getattr(fact, "pieces", ())
        usual = sum(usual_minutes(act, pieces[w].coat_area_m2) for w in words if w in pieces)
        if usual > 0.0 and fact.hands_on_min:
            rows.append((usual, fact.hands_on_min))
    return rows


def _pieces(reader: Reader, asked: Asked, facts: Sequence[Work]) -> Mapping[str, Piece]:
    """Read the pieces of these facts as they were; one of which nothing can be said is left out."""
    words = {word for fact in facts for word in getattr(fact, "pieces", ())}
    stored = reader.folds(f"piece:{word}" for word in sorted(words))
    found = (known_piece(reader, asked, one) for _, one in sorted(stored.items()))
    return {piece.piece: piece for piece in found if piece is not None}


def _act(fact: Work) -> str | None:
    tag = TAG_OF[type(fact)]
    if tag == "sanded":
        return "sand" if getattr(fact, "stage", "") == "bare" else "scuff"
    return ACTS.get(tag)
