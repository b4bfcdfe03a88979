"""What a shop's own history says of its work: minutes an act takes, pieces that come back.

Both look back only so far, and both lean on common practice while there is little to go by.
"""

import math
from collections.abc import Iterator, Mapping, Sequence

from msgspec import Struct

from coatledger.clocks.estimate import MINUTES
from coatledger.events.about import EventVoided
from coatledger.events.base import Fact, Work
from coatledger.events.catalogue import TAG_OF, EventAmended
from coatledger.ledger.record import micros, recorded
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked
from coatledger.subjects.counts import counts, known_piece, shares
from coatledger.subjects.piece import Piece
from coatledger.subjects.tallies import quarter

# The act of a schedule that a fact is work at; sanding is told apart by its stage.
ACTS: Mapping[str, str] = {
    "grain_raised": "raise_grain", "blown_off": "blow_off", "grain_filled": "fill_grain",
    "stained": "stain", "coat_applied": "coat", "rubbed_out": "rub_out", "polished": "polish",
    "inspected": "inspect", "packed": "pack",
}  # fmt: skip
# How far back work is looked at, in events and in days. Within it a shop's habits hold.
EVENTS_BACK = 1_500
DAYS_BACK = 180
_DAY_US = 86_400_000_000
# What a belief from common practice weighs, in acts and in pieces; no published source.
ACTS_WEIGHT = 5.0
PIECES_WEIGHT = 20.0
SPREAD_PRIOR = 0.35
REWORK_PRIOR, SCRAP_PRIOR = 0.06, 0.005
AREA_UNKNOWN_M2 = 1.0


class Pace(Struct, frozen=True):
    """How long an act takes here: a multiplier of the usual minutes, and its log-spread."""

    factor: float
    spread: float


class Chances(Struct, frozen=True):
    """The share of pieces that a final inspection sends back, and that are lost."""

    rework: float
    scrap: float


UNKNOWN_PACE = Pace(1.0, SPREAD_PRIOR)


def usual_minutes(act: str, area_m2: float | None) -> float:
    """Return the usual hands-on minutes of one piece: common practice, no published source."""
    each, per_m2 = MINUTES[act]
    return each + per_m2 * (AREA_UNKNOWN_M2 if area_m2 is None else area_m2)


def paces(reader: Reader, asked: Asked) -> Mapping[str, Pace]:
    """Learn from the last events that told their hands-on minutes how long each act takes here.

    *Reference:* a log-normal with a normal prior on its logarithm (conjugate; Gelman et al.,
    Bayesian Data Analysis 3, section 2.5), weighing as much as `ACTS_WEIGHT` acts.
    """
    ratios: dict[str, list[float]] = {}
    facts = tuple(_work(reader, asked))
    pieces = _pieces(reader, asked, facts)
    for fact in facts:
        act = _act(fact)
        words: Sequence[str] = getattr(fact, "pieces", ())
        usual = sum(usual_minutes(act, pieces[w].coat_area_m2) for w in words if w in pieces)
        if usual > 0.0 and fact.hands_on_min:
            ratios.setdefault(act, []).append(math.log(fact.hands_on_min / usual))
    return {act: _pace(logs) for act, logs in ratios.items()}


def chances(reader: Reader, asked: Asked) -> Mapping[str, Chances]:
    """Return the chances of each wood, and under "" those of a wood not seen.

    *Reference:* shrinkage by the mean of a beta belief, of the shop towards common practice and of
    each wood towards the shop (Gelman et al., section 5.3, with a fixed weight).
    """
    since = quarter(max(asked.now_us - DAYS_BACK * _DAY_US, 0))
    seen: dict[str, dict[str, float]] = {}
    for (name, key), value in counts(reader, asked, ("produced", "reworked", "rejected")).items():
        if key >= since:
            wood = seen.setdefault(shares(key)[0], {})
            wood[name] = wood.get(name, 0.0) + value
    whole = {
        name: sum(wood.get(name, 0.0) for wood in seen.values())
        for name in ("produced", "reworked", "rejected")
    }
    shop = _shrunk(whole, Chances(REWORK_PRIOR, SCRAP_PRIOR))
    return {"": shop, **{wood: _shrunk(row, shop) for wood, row in seen.items()}}


def _shrunk(row: Mapping[str, float], to: Chances) -> Chances:
    weight = row.get("produced", 0.0) + PIECES_WEIGHT
    return Chances(
        rework=min((row.get("reworked", 0.0) + PIECES_WEIGHT * to.rework) / weight, 0.9),
        scrap=min((row.get("rejected", 0.0) + PIECES_WEIGHT * to.scrap) / weight, 0.1),
    )


def _pace(logs: Sequence[float]) -> Pace:
    weight = len(logs) + ACTS_WEIGHT
    mean = sum(logs) / weight
    squares = sum((one - mean) ** 2 for one in logs) + ACTS_WEIGHT * SPREAD_PRIOR**2
    return Pace(math.exp(mean), math.sqrt(squares / weight))


def _work(reader: Reader, asked: Asked) -> Iterator[Work]:
    """Yield the last work that told its minutes, as it was corrected since."""
    last = asked.position(reader)
    rows = reader.rows(max(last - EVENTS_BACK, 0), EVENTS_BACK)
    events = [recorded(row).event for row in rows if row.position <= last]
    gone = {e.original for e in events if isinstance(e, EventVoided | EventAmended)}
    stands: list[Fact] = [e for e in events if e.id not in gone]
    stands += [e.replacement for e in events if isinstance(e, EventAmended)]
    told = (*ACTS, "sanded")
    for fact in stands:
        if not isinstance(fact, Work) or TAG_OF[type(fact)] not in told:
            continue
        if fact.hands_on_min and micros(fact.occurred_at) <= asked.now_us:
            yield fact


def _pieces(reader: Reader, asked: Asked, facts: Sequence[Work]) -> Mapping[str, Piece]:
    """Read the pieces of these facts as they were; one of which nothing can be said is left out."""
    words = {word for fact in facts for word in getattr(fact, "pieces", ())}
    stored = reader.folds(f"piece:{word}" for word in sorted(words))
    found = (known_piece(reader, asked, one) for _, one in sorted(stored.items()))
    return {piece.piece: piece for piece in found if piece is not None}


def _act(fact: Work) -> str:
    tag = TAG_OF[type(fact)]
    if tag == "sanded":
        return "sand" if getattr(fact, "stage", "") == "bare" else "scuff"
    return ACTS[tag]
