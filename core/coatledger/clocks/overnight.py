"""What the clocks know of each product: what the shop's own checks had taught by this morning.

The factors are those of the last midnight, so that a time told at the bench in the morning still
holds in the evening; a piece's own checks narrow its own clock at once. Within one day they change
only when a fact about an earlier day comes in.
"""

from collections.abc import Iterable, Iterator, Mapping, MutableMapping
from zoneinfo import ZoneInfo

from coatledger.clocks.learned import Taught
from coatledger.clocks.shop_learning import learned
from coatledger.computations.drying import Spread
from coatledger.events.catalogue import CORRECTIONS, TAG_OF
from coatledger.ledger.record import Row, micros, moment
from coatledger.subjects.view import View

# A description or correction may speak of earlier days whenever it is told.
_OF_ANY_DAY = frozenset(TAG_OF[kind] for kind in CORRECTIONS)


class Overnight(Mapping[str, Spread]):
    """Factors by product, each learned when it is first asked for. `kept` may outlive the question
    when the same midnight is asked again and `disturbs` says that nothing came in between."""

    def __init__(self, view: View, kept: MutableMapping[str, Spread] | None = None) -> None:
        shop = view.shop()
        self.midnight_us = midnight_us("UTC" if shop is None else shop.zone, view.at_us)
        self._view = View(view.reader, self.midnight_us, known=view.known)
        self._kept = {} if kept is None else kept

    def __getitem__(self, product: str) -> Spread:
        """Return a product's factor on the sheet's hours; a film of no known product has none."""
        if not product:
            raise KeyError(product)
        if product not in self._kept:
            found = learned(self._view, product, self.midnight_us)
            own = found.posterior
            self._kept[product] = (
                Taught(own.p10, own.p50, own.p90, found.checks, found.coats)
                if found.checks
                else own
            )
        return self._kept[product]

    def __iter__(self) -> Iterator[str]:
        """Name the products asked for so far."""
        return iter(tuple(self._kept))

    def __len__(self) -> int:
        """Count the products asked for so far."""
        return len(self._kept)


def midnight_us(zone: str, at_us: int) -> int:
    """Return the last moment before the day began on the shop's wall clock."""
    local = moment(at_us).astimezone(ZoneInfo(zone))
    return micros(local.replace(hour=0, minute=0, second=0, microsecond=0)) - 1


def disturbs(rows: Iterable[Row], midnight: int) -> bool:
    """Say whether newly recorded events change what was known at a midnight."""
    return any(
        row.occurred_us <= midnight or row.type in _OF_ANY_DAY or row.type.endswith("_described")
        for row in rows
    )
