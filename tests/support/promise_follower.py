"""Follows a bench's promises as the service does, and keeps what there is to tell."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from bench import Bench
from coatledger.answers.promises.ahead import World
from coatledger.answers.promises.watch import look
from coatledger.answers.promises.watched import News, Watched, Watching
from coatledger.events.orders import OrderLine, OrderTaken, PieceAllotted, PromiseMade
from coatledger.subjects.asked import ask
from msgspec.structs import replace

SOON = date(2026, 3, 17)
NOBODY: Mapping[str, Watched] = {}


class Follower:
    """Looks at a bench as the service does, and keeps what it was told to tell."""

    def __init__(self, bench: Bench, *, begun: int = 0) -> None:
        self.bench = bench
        self.states: Mapping[str, Watched] = NOBODY
        self.watching = Watching(begun=begun, replications=200)

    def look(self) -> list[News]:
        with self.bench.store.reading() as reader:
            place = ask(reader, self.bench.now)
            after = look(reader, place, World(), self.states, self.watching)
        news = [one for state in after.values() for one in state.untold]
        self.states = {
            name: replace(state, untold=()) for name, state in after.items() if not state.closed
        }
        return news


def promised(
    bench: Bench, order: str = "o1", *, by: date = SOON, quantity: int = 4,
    pieces: tuple[str, ...] = (), **fields: Any,
) -> Bench:  # fmt: skip
    lines = (OrderLine(line="1", quantity=quantity, offering="shelf"),)
    bench.record(OrderTaken, order=order, lines=lines)
    if pieces:
        bench.record(PieceAllotted, pieces=pieces, order=order)
    bench.record(PromiseMade, order=order, ships_by=by, level_pct=80.0, **fields)
    return bench
