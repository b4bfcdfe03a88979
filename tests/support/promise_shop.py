"""A shop that sells shelves of three coats and opens on Monday 2 March 2026, to promise from."""

from __future__ import annotations

from typing import Any

from bench import Bench
from coatledger.answers.promises.quote import Quote, quote
from coatledger.events.setup import OfferingDescribed, ScheduleDescribed, Step
from coatledger.ledger.store import Store
from coatledger.open_shop.asked_for import Wanted
from coatledger.subjects.asked import ask

SHELF = Wanted(quantity=2, offering="shelf")
STEPS = (
    Step(act="sand", minutes=20.0), Step(act="coat", product="clear-w"), Step(act="scuff"),
    Step(act="coat", product="clear-w"), Step(act="scuff"), Step(act="coat", product="clear-w"),
    Step(act="inspect"), Step(act="pack"),
)  # fmt: skip


def shop(start: str = "1 06:00", *, store: Store | None = None, **described: Any) -> Bench:
    """Describe the shop; fields of its description may differ."""
    bench = Bench(start, store).open_shop(**described)
    bench.climate()
    bench.record(ScheduleDescribed, schedule="three", steps=STEPS)
    bench.record(
        OfferingDescribed, offering="shelf", skus=("sh-90",), schedule="three",
        species="ash", coat_area_m2=0.6,
    )  # fmt: skip
    return bench


def told(bench: Bench, *wanted: Wanted, **more: Any) -> Quote:
    """Quote two shelves, or something else, without the ways to be sooner."""
    with bench.store.reading() as reader:
        place = ask(reader, bench.now, more.pop("as_of", None), more.pop("known_at", None))
        more = {"replications": 200, "ways": (), **more}
        return quote(reader, place, wanted or (SHELF,), **more)
