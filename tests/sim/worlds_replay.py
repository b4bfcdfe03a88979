"""Play a world into a ledger, and ask the product itself at every order, as it was known then."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta

from bench import Bench
from coatledger.answers.promises.ahead import World
from coatledger.answers.promises.ordered import quote_of_order
from coatledger.answers.promises.quote import Quote
from coatledger.clocks.overnight import Overnight
from coatledger.computations.drying import Spread
from coatledger.events.orders import PromiseMade
from coatledger.ledger.memory import MemoryStore
from coatledger.subjects.asked import ask
from judging import Table
from msgspec.structs import replace
from worlds import WEEKS, Order
from worlds_facts import Posted, posts
from worlds_truth import Lived


@dataclass
class Replay:
    """A ledger that follows a world and quotes every so-manieth order as it is taken."""

    lived: Lived
    replications: int = 400
    every: int = 1
    weeks: int = WEEKS
    bench: Bench = field(init=False)
    kept: dict[str, Spread] = field(default_factory=dict)
    midnight: int = 0

    def __post_init__(self) -> None:
        self.bench = Bench(store=MemoryStore("world"))

    def quotes(self) -> Iterator[tuple[Order, Quote]]:
        """Record the world, and yield each judged order with what it was quoted."""
        judged = {order.id for order in self.lived.judged()[:: self.every]}
        until = self.lived.world.shop.now + timedelta(weeks=min(self.weeks, WEEKS))
        for post in posts(self.lived):
            self.bench.now = self.lived.world.shop.now + timedelta(microseconds=post.recorded)
            if self.bench.now >= until:
                return
            self.record(post)
            if post.order and post.order.id in judged:
                told = self.quote(post.order)
                yield post.order, told
                self.promise(post.order, told)

    def record(self, post: Posted) -> None:
        """Post facts, each at its own time."""
        start = self.lived.world.shop.now
        facts = (
            replace(self.bench.fact(what, **fields), occurred_at=start + timedelta(microseconds=at))
            for what, at, fields in post.facts
        )
        self.bench.post(*facts)

    def quote(self, order: Order) -> Quote:
        """Ask the product when an order will ship that was taken this moment."""
        with self.bench.store.reading() as reader:
            place = ask(reader, self.bench.now)
            factors = Overnight(place.view(reader))
            if factors.midnight_us != self.midnight:
                self.kept, self.midnight = {}, factors.midnight_us
            world = World(factors=Overnight(place.view(reader), self.kept))
            return quote_of_order(
                reader, place, order.id, world=world, replications=self.replications
            )

    def promise(self, order: Order, told: Quote) -> None:
        """Tell the customer the shop's own day, and write down what the product had said."""
        said = told.correction
        assert said is not None
        days = {one.level_pct: one.ships_by for one in told.quantiles}
        self.bench.record(
            PromiseMade, order=order.id, ships_by=order.batches[0].due, level_pct=80.0,
            p50=days[50.0], p80=days[80.0], p90=days[90.0], p95=days[95.0],
            chances_pct=tuple(round(100.0 * one.chance, 3) for one in told.quantiles),
            odds_shift=said.odds_shift, odds_stretch=said.odds_stretch,
        )  # fmt: skip


def table(told: Quote) -> Table:
    """Return the dates a quote gives with the chance of each."""
    assert not told.missing, told.missing
    rows: dict[date, float] = {}
    for one in told.quantiles:
        rows[one.ships_by] = max(rows.get(one.ships_by, 0.0), one.chance)
    return sorted(rows.items())
