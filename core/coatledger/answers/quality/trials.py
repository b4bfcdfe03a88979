"""Plain words for what goes with a defect, and for the trial that would settle it."""

import math
from collections.abc import Mapping

from coatledger.computations.association import OddsRatio, TwoByTwo, detectable_odds_ratio

PIECES_MAX = 400
# How two sides of a trial differ, by fact; everything else is kept alike.
_SIDES: Mapping[str, str] = {
    "lot": "one from can {value} and one from another can of the same product",
    "gun": "one with gun {value} and one with another gun",
    "nozzle": "one through the {value} nozzle and one through another",
    "room": "one in room {value} and one in another",
    "person": "one coated by {value} and one by somebody else",
    "coat number": "one looked over after coat {value} and one after another coat",
    "blown off by": "one blown off by {value} and one in another way",
    "wet film": "one at a wet film of {value} and one at the middle of the data sheet's range",
    "wait since the coat before": "one after a wait of {value} and one after the data sheet's",
    "air when sprayed": "one at {value} and one at the data sheet's temperature",
    "humidity when sprayed": "one at {value} and one at the data sheet's humidity",
    "humidity in the first 3 h of drying": "one dried at {value} and one at the sheet's humidity",
    "stirred that day": "one from a can stirred that day and one from a can not stirred",
    "strained that day": "one from finish strained that day and one from finish not strained",
    "since the gun was flushed": "one {value} after flushing the gun and one right after it",
    "since the gun was stripped clean": "one {value} after a strip-clean and one right after it",
    "since the air line was serviced": "one {value} after the air line's service and one right"
    " after it",
}
_OTHER = "one with {fact} {value} and one without"
_FINDING = "one so that {fact} is raised and one so that it is not"


def sentence(
    kind: str, fact: str, value: str, table: TwoByTwo, ratio: OddsRatio, *, named: bool
) -> str:
    """Say what was seen, never that it is the cause."""
    goes = f"goes with {fact}: {value}" if named else f"may go with {fact}: {value}, or by chance"
    return (
        f"{_words(kind).capitalize()} {goes}. It followed"
        f" {table.with_bad} of {table.with_all} such acts of coating and {table.without_bad} of"
        f" {table.without_all} others {_odds(ratio)}."
    )


def trial(kind: str, fact: str, value: str, table: TwoByTwo, ratio: OddsRatio) -> str:
    """Say which trial would settle it, and how many pieces a side it takes."""
    other = _FINDING if fact.startswith("finding ") else _OTHER
    sides = _SIDES.get(fact, other).format(fact=fact, value=value)
    pieces = pieces_a_side(table, ratio)
    many = (
        f"about {pieces} such pairs would show it, if it is as strong as it looks"
        if pieces is not None
        else f"even {PIECES_MAX} such pairs might not show it: look for something stronger first"
    )
    return (
        f"Spray pairs of pieces of one wood from one product, {sides}, which of the two decided by"
        f" a coin, all else alike, and look for {_words(kind)} without knowing which is which;"
        f" {many}."
    )


def pieces_a_side(table: TwoByTwo, ratio: OddsRatio) -> int | None:
    """Return how many pieces on each side would show the odds ratio seen, four times in five.

    *Reference:* as `detectable_odds_ratio`, solved for the pieces by halving. *Valid:* a guide.
    """
    wanted = ratio.ratio if ratio.ratio is not None else 1.0
    usual = (table.without_bad + 0.5) / (table.without_all + 1.0)
    if wanted <= 1.0:
        return None

    def shows(pieces: int) -> bool:
        least = detectable_odds_ratio(pieces, pieces, usual)
        return least is not None and least <= wanted

    if not shows(PIECES_MAX):
        return None
    low, high = 1, PIECES_MAX
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if shows(middle) else (middle + 1, high)
    return low


def _odds(ratio: OddsRatio) -> str:
    if ratio.ratio is None:
        return "(nothing to compare it with)"
    within = "compared within product and wood"
    if math.isinf(ratio.ratio):
        return f"(odds at least {_times(ratio.low)} times, 95 % sure, {within})"
    if math.isinf(ratio.high):
        return f"(odds {_times(ratio.ratio)} times, at least {_times(ratio.low)}, {within})"
    ends = f"{_times(ratio.low)} to {_times(ratio.high)}"
    return f"(odds {_times(ratio.ratio)} times, 95 % interval {ends}, {within})"


def _times(value: float) -> str:
    return f"{value:.0f}" if value >= 10.0 else f"{value:.2g}"


def _words(kind: str) -> str:
    return kind.replace("_", " ")
