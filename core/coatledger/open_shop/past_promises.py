"""What became of earlier promises, as far as it is known: from this the chances said are put right.

A promise keeps the days it named and the chances said for them. What has shipped lies between two
of these days; what is still open has missed those that are over, and no more is known of it.
"""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date

from coatledger.computations.calendar import local_date
from coatledger.computations.recalibration import Outcome, Recalibration, simulated
from coatledger.events.leaving import HandedOver, Shipped
from coatledger.events.orders import PromiseMade
from coatledger.ledger.record import Row, moment, recorded
from coatledger.subjects.view import View

# So many of the last promises are looked at: within them a shop's habits hold.
PROMISES_MOST = 120


def outcomes(rows: Sequence[Row], view: View, zone: str) -> tuple[Outcome, ...]:
    """Return what is known of the last promises: each order's first one, of the whole order.

    *Reference:* scores use the first date told. *Valid:* promises that say the chance of each day.
    """
    made: dict[str, PromiseMade] = {}
    for row in rows:
        if row.type == "promise_made":
            told = recorded(row).event
            if isinstance(told, PromiseMade) and told.line is None and told.chances_pct:
                made.setdefault(told.order, told)
    last = dict([*made.items()][-PROMISES_MOST:])
    left, today = _left(rows, zone), local_date(moment(view.at_us), zone)
    found = (
        _outcome(told, left.get(word) if _done(view, word) else None, today)
        for word, told in last.items()
        if view.order(word).stage == "open"
    )
    return tuple(found)


def _outcome(told: PromiseMade, shipped: date | None, today: date) -> Outcome:
    """Say between which simulated chances the day lies on which it shipped, or will."""
    by = Recalibration(told.odds_shift, told.odds_stretch)
    low, high = 0.0, 1.0
    for day, pct in zip((told.p50, told.p80, told.p90, told.p95), told.chances_pct, strict=False):
        if day is None:
            continue
        chance = simulated(pct / 100.0, by)
        if shipped is not None and shipped <= day:
            high = min(high, chance)
        elif shipped is not None or day < today:
            low = max(low, chance)
    return Outcome(min(low, high), high)


def _done(view: View, word: str) -> bool:
    return view.order(word).shelf == "done"


def _left(rows: Sequence[Row], zone: str) -> Mapping[str, date]:
    """Return the last day on which something of each order left."""
    return dict(_leaving(rows, zone))


def _leaving(rows: Sequence[Row], zone: str) -> Iterator[tuple[str, date]]:
    for row in rows:
        if row.type in ("shipped", "handed_over"):
            fact = recorded(row).event
            if isinstance(fact, Shipped | HandedOver) and fact.order:
                yield fact.order, local_date(fact.occurred_at, zone)
