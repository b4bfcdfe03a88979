"""What a shop's own history says of pieces that come back: the chances of a final inspection.

They look back only so far, and lean on common practice while there is little to go by.
"""

from collections.abc import Mapping

from msgspec import Struct

from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked
from coatledger.subjects.counts import counts
from coatledger.subjects.tallies import quarter
from coatledger.subjects.tallies_quality import case_of
from coatledger.subjects.view import View

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


# What a chance is of: a wood and a product, either "" where it is of all of them.
Of = tuple[str, str]
ALL: Of = ("", "")


def chances(reader: Reader, asked: Asked, view: View) -> Mapping[Of, Chances]:
    """Return the chances of the shop, of each wood, and of each wood under each product.

    *Reference:* shrinkage by the mean of a beta belief, of the shop towards common practice, of
    each wood towards the shop and of a product on it towards the wood (Gelman et al., section 5.3,
    with a fixed weight). *Valid:* the product is that of the last coat; its can must be described.
    """
    since = quarter(max(asked.now_us - DAYS_BACK * _DAY_US, 0))
    seen: dict[Of, _Seen] = {}
    for (_, key), pieces in counts(reader, asked, ("case",), first=since).items():
        case = case_of(key)
        product = (view.lot(case.coats[-1].lot).product or "") if case.coats else ""
        row = _Seen(pieces, pieces * ("r" in case.outcome), pieces * ("s" in case.outcome))
        for of in dict.fromkeys((ALL, (case.wood, ""), (case.wood, product))):
            seen[of] = seen.get(of, _Seen()).and_also(row)
    found = {ALL: _shrunk(seen.get(ALL, _Seen()), Chances(REWORK_PRIOR, SCRAP_PRIOR))}
    for of in sorted(seen):  # a wood stands before its products
        found[of] = found.get(of) or _shrunk(seen[of], found[(of[0], "") if of[1] else ALL])
    return found


def chances_of(known: Mapping[Of, Chances], wood: str, product: str) -> Chances:
    """Return the nearest chances there are: of the wood under the product, of the wood, of all."""
    return known.get((wood, product)) or known.get((wood, "")) or known[ALL]


class _Seen(Struct, frozen=True):
    """Pieces that were finished, and of these the reworked and the lost."""

    produced: float = 0.0
    reworked: float = 0.0
    rejected: float = 0.0

    def and_also(self, other: "_Seen") -> "_Seen":
        return _Seen(
            self.produced + other.produced,
            self.reworked + other.reworked,
            self.rejected + other.rejected,
        )


def _shrunk(seen: _Seen, to: Chances) -> Chances:
    weight = seen.produced + PIECES_WEIGHT
    return Chances(
        rework=min((seen.reworked + PIECES_WEIGHT * to.rework) / weight, 0.9),
        scrap=min((seen.rejected + PIECES_WEIGHT * to.scrap) / weight, 0.1),
    )
