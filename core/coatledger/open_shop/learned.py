"""What a shop's own history says of pieces that come back: the chances of a final inspection.

They look back only so far, and lean on common practice while there is little to go by.
"""

from collections.abc import Mapping

from msgspec import Struct

from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked
from coatledger.subjects.counts import counts, shares
from coatledger.subjects.tallies import quarter

# How far back pieces are looked at. Within it a shop's habits hold.
DAYS_BACK = 180
_DAY_US = 86_400_000_000
# What a belief from common practice weighs, in pieces; no published source.
PIECES_WEIGHT = 20.0
REWORK_PRIOR, SCRAP_PRIOR = 0.06, 0.005


class Chances(Struct, frozen=True):
    """The share of pieces that a final inspection sends back, and that are lost."""

    rework: float
    scrap: float


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
