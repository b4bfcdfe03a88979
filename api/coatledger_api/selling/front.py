"""Days for a web shop's pages: each question is simulated once a minute, whoever asks it.

Everybody who asks the same of the same ledger within a minute shares one simulation, also while it
runs. Who would have to wait too long is told the shop's stated lead; the simulation goes on, and
whoever asks next has its answer.
"""

import asyncio
from collections.abc import Sequence
from typing import NamedTuple
from zoneinfo import ZoneInfo

import msgspec
from coatledger.answers.promises.ahead import World
from coatledger.answers.promises.ship_promise import (
    Leaves,
    ShipPromise,
    front_of,
    joined,
    ship_promise,
    told,
)
from coatledger.events.orders import OrderLine
from coatledger.ledger.record import micros, moment
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked
from coatledger_adapters.holds import Held
from coatledger_adapters.public_holidays import holidays_around
from msgspec.structs import replace

from coatledger_api.operations import ENCODER
from coatledger_api.problems import ProblemError
from coatledger_api.rendering import for_people, shop_zone
from coatledger_api.selling.front_asked import check
from coatledger_api.selling.pricing import PRICED, in_force, world_of
from coatledger_api.service import Service

MINUTE_US = 60_000_000
RETRY_S = 5


class Place(NamedTuple):
    """What an answer depends on beside the question: the ledger, the holds, the minute."""

    epoch: str
    position: int
    newest_hold: int
    holds: int
    minute_us: int
    zone: ZoneInfo
    body: bytes = b""

    @property
    def key(self) -> tuple[str, int, int, int, int]:
        """The part that tells one place from another."""
        return self[:5]


class Shared(NamedTuple):
    """An answer that is kept for who asks next; `body` is what it weighs."""

    promise: ShipPromise
    body: bytes


async def here(service: Service, lines: tuple[OrderLine, ...]) -> Place:
    """Look where the ledger stands, once a moment for all who ask the same: this process knows what
    it recorded itself, and looks each time where others may record, too."""

    async def look() -> Place:
        return await service.in_thread(lambda: place_of(service, lines))

    if not (service.writes_alone and service.kept.keeps):
        return await look()
    question = msgspec.json.encode(lines, order="deterministic")
    found: Place = await service.kept.answer(("ship-promise", question, ""), look)
    return found


def place_of(service: Service, lines: tuple[OrderLine, ...]) -> Place:
    """Look where the ledger stands, and refuse lines that it cannot answer."""
    now_us = -(-micros(service.clock()) // MINUTE_US) * MINUTE_US
    standing = service.holds.standing(micros(service.clock()))
    with service.store.reading() as reader:
        check(Asked(now_us=now_us).view(reader), lines)
        head = reader.head()
        zone = shop_zone(reader, service.clock())
    live = len(standing.holds)
    return Place(head.epoch, head.size, standing.newest, live, now_us, zone)


async def computed(
    service: Service, place: Place, questions: Sequence[tuple[OrderLine, ...]], *, together: bool
) -> ShipPromise | None:
    """Answer questions in one; None when that takes too long or too many wait."""
    tasks = [
        asyncio.ensure_future(_shared(service, place, lines, together=together))
        for lines in questions
    ]
    for task in tasks:
        task.add_done_callback(lambda done: done.cancelled() or done.exception())
    _, late = await asyncio.wait(tasks, timeout=service.settings.storefront_wait_s)
    if late:
        return None
    try:
        return joined([task.result().promise for task in tasks])
    except ProblemError as error:
        if error.problem.status != 503:
            raise
        return None


async def stated(
    service: Service, place: Place, questions: Sequence[tuple[OrderLine, ...]], *, together: bool
) -> ShipPromise:
    """Answer by the shop's stated lead, without simulating anything."""

    def answer(reader: Reader) -> ShipPromise:
        asked = Asked(now_us=place.minute_us)
        world = World(holidays=holidays_around(reader, asked))
        return joined(
            [
                ship_promise(
                    reader, asked, lines, together=together, world=world, engine=False,
                    lead_days=service.settings.fallback_lead_days,
                )
                for lines in questions
            ]
        )  # fmt: skip

    return shown(await service.read(answer), place)


async def of_hold(
    service: Service, place: Place, held: Held, lines: tuple[OrderLine, ...]
) -> ShipPromise:
    """Tell the day that a hold keeps, until it ends."""
    quote = PRICED.decode(held.quote).quote
    until = moment(held.until_us)

    def day(one: tuple[int, OrderLine]) -> Leaves:
        found = quote.lines[one[0]] if quote.lines else quote
        assert found.ships_by is not None
        return Leaves(
            status="made_to_order", basis="computed", ships_by=found.ships_by,
            likely=min(found.quantiles[0].ships_by, found.ships_by), order_before=until,
        )  # fmt: skip

    def answer(reader: Reader) -> ShipPromise:
        days = [day(one) for one in enumerate(lines)]
        return told(front_of(reader, Asked(now_us=place.minute_us)), lines, days, days)

    return shown(await service.read(answer), place)


def shown(promise: ShipPromise, place: Place) -> ShipPromise:
    """Write an answer with its times in the shop's zone."""
    for_shop: ShipPromise = for_people(promise, place.zone)
    return for_shop


async def _shared(
    service: Service, place: Place, lines: tuple[OrderLine, ...], *, together: bool
) -> Shared:
    numbered = tuple(replace(line, line=str(n)) for n, line in enumerate(lines, 1))
    question = msgspec.json.encode((place.key, together, numbered), order="deterministic")

    def simulate() -> Shared:
        now_us = micros(service.clock())
        holds = service.holds.standing(now_us).holds
        asked = Asked(now_us=place.minute_us)
        with service.store.reading() as reader:
            before = in_force(reader, asked, holds)
            found = ship_promise(
                reader, asked, numbered, together=together,
                world=world_of(service, reader, asked, before),
                lead_days=service.settings.fallback_lead_days,
            )  # fmt: skip
        promise = shown(found, place)
        return Shared(promise, ENCODER.encode(promise))

    async def work() -> Shared:
        return await service.simulations.run(simulate)

    kept: Shared = await service.front.answer(("ship-promise", question, ""), work)
    return kept
