"""Ship dates: what may be promised, what was promised, what it is worth now, and how it came."""

from collections.abc import Callable
from typing import Annotated, TypeVar

from coatledger.answers.promises.ahead import World
from coatledger.answers.promises.outlook import Outlook, outlook
from coatledger.answers.promises.quote import Quote
from coatledger.answers.promises.story import PromiseStory, story
from coatledger.events.base import Word
from coatledger.ledger.decode import plain, typed
from coatledger.ledger.record import micros
from coatledger.ledger.store import Reader
from coatledger.recording.session import Request
from coatledger.refusal import Refused
from coatledger.subjects.asked import Asked, ask
from msgspec import Meta, Struct
from msgspec.structs import replace

from coatledger_api.negotiate import JSON
from coatledger_api.operations import ENCODER, NEVER_CACHED, Call, Operation, Reply, asked, running
from coatledger_api.parameters import AsOf, Nothing
from coatledger_api.problems import ProblemError
from coatledger_api.rendering import for_people, shop_zone
from coatledger_api.selling.asked import PromiseAsked, QuoteAsked, Replications, Seed, lines_of
from coatledger_api.selling.pricing import all_ways, check_lines, in_force, price, world_of
from coatledger_api.selling.promising import MeanwhileError, Ready, needs_no_simulation, prepare
from coatledger_api.selling.told import Promised, Replay, promised, replay
from coatledger_api.selling.watch import beside, limits_of
from coatledger_api.service import Service

A = TypeVar("A", bound=Struct)
# Of two calls about one order at once the second finds what the first has recorded.
_TRIES = 5
_MEANWHILE = frozenset(("id_reused", "condition_broken", "born_twice"))


class PromisesQuery(AsOf, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """As of when, and with what luck they are looked at."""

    seed: Seed = 1
    replications: Replications = 1_000


class DangerQuery(PromisesQuery, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which promises, as of when, and with what luck."""

    danger: Annotated[
        bool | None, Meta(description="Only those in danger, or only those that are not.")
    ] = None


class OnePromise(PromisesQuery, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which order's."""

    order: Word


class OneOrder(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which order's."""

    order: Word


_REFUSALS = (
    "malformed", "invalid", "unknown_offering", "not_offered", "cannot_promise", "busy",
)  # fmt: skip


@running(
    "POST", "/v1/promises/quote", tag="Promises", scope="promise", answers={JSON: Quote},
    body=QuoteAsked, problems=_REFUSALS,
)  # fmt: skip
async def quote_promise(call: Call[Nothing]) -> Reply:
    """Say when something would ship; nothing is stored.

    The whole open shop is simulated with what is asked for in it, behind every order and hold that
    was there before. `ships_by` is the day at the shop's service level, `quantiles` the days at
    50, 80, 90 and 95 %, `takes` where the days go, `earlier` what would bring it forward, `assumed`
    what had to be taken for granted. Ships-by is the day on which it leaves, not that on which it
    arrives. The same question at the same place, with the same seed and holds, has the same answer.
    """
    wanted: QuoteAsked = typed(plain(call.body), QuoteAsked)
    service, lines = call.service, lines_of(wanted.lines)

    def answer() -> Quote:
        holds = service.holds.standing(micros(service.clock())).holds
        with service.store.reading() as reader:
            place = ask(reader, service.clock(), wanted.as_of, wanted.known_at)
            check_lines(reader, place, lines)
            before = in_force(reader, place, holds) if place.present else ()
            return price(
                reader, place, lines, world=world_of(service, reader, place, before),
                together=wanted.together, wanted_by=wanted.wanted_by, seed=wanted.seed,
                replications=wanted.replications, ways=all_ways(wanted.ways),
            )  # fmt: skip

    return await shown(service, await service.simulations.run(answer))


@running(
    "POST", "/v1/promises", tag="Promises", scope="promise", answers={JSON: Promised},
    body=PromiseAsked, status=(201, 200),
    problems=(
        *_REFUSALS, "not_found", "capacity_gone", "hold_taken", "hold_over", "holds_full",
        "hold_reused", "promised_otherwise", "impossible_order", "born_twice", "overloaded",
    ),
)  # fmt: skip
async def make_promise(call: Call[Nothing]) -> Reply:
    """Promise an order a ship date, from a hold, from its lines, or as the ledger holds it.

    Recorded are order_taken, where the order is not there yet, and promise_made, together or not at
    all. The order's word makes it safe to send the same call again: the first answer comes again,
    200 instead of 201; another call about the same order is refused. A payment may come after its
    hold ended: where the day that was held can still be kept at the shop's level it is promised,
    else the answer is 410 with a fresh quote.
    """
    wanted: PromiseAsked = typed(plain(call.body), PromiseAsked)
    for _ in range(_TRIES):
        try:
            ready = await _prepared(call.service, wanted)
            is_new = bool(ready.events) and await _record(call, wanted.order, ready)
        except MeanwhileError:
            continue
        except Refused as refusal:
            if refusal.rule not in _MEANWHILE:
                raise
        else:
            return await _told(call.service, wanted.order, 201 if is_new else 200)
    after = {"Retry-After": str(call.service.settings.retry_after_s)}
    raise ProblemError("busy", "others wrote of this order each time", headers=after)


@running(
    "GET", "/v1/promises", tag="Promises", scope="read", answers={JSON: Outlook},
    problems=("busy",),
)  # fmt: skip
async def list_promises(call: Call[DangerQuery]) -> Reply:
    """List every open promise with its present chance, the one due first at the head.

    The whole shop is simulated once for all of them. `chance` is that of the day told last,
    `first_chance` that of the day told first, by which promises are scored. One is `in_danger` when
    its chance falls below what the shop bears, 60 % unless it is set otherwise, until it is clearly
    above again; `because` says in words what endangers it. The service prices them by itself as
    facts arrive: `danger` then tells since when, what led to it with the facts behind that, and
    what would save it, the cheapest that is enough first. Webhooks tell of it once an episode.
    """
    service, query = call.service, call.query

    def answer(reader: Reader, place: Asked, world: World) -> Outlook:
        seen = beside(service, place, outlook(
            reader, place, world=world, seed=query.seed, replications=query.replications,
            limits=limits_of(service),
        ))  # fmt: skip
        if query.danger is None:
            return seen
        some = tuple(one for one in seen.promises if one.in_danger == query.danger)
        return replace(seen, promises=some)

    return await simulated(call, answer)


@running(
    "GET", "/v1/promises/{order}", tag="Promises", scope="read", answers={JSON: PromiseStory},
    problems=("not_found", "busy"),
)  # fmt: skip
async def read_promise(call: Call[OnePromise]) -> Reply:
    """Read an order's promise: every day its customer was told, what of it left when, and the rest.

    `outcome` is open, kept, late, overdue or cancelled, of each line and of the whole, by the first
    day told. `now` is what the promise is worth at present, while something of it is open.
    """
    query = call.query

    def answer(reader: Reader, place: Asked, world: World) -> PromiseStory:
        now = outlook(
            reader, place, world=world, seed=query.seed, replications=query.replications,
            orders=(query.order,), limits=limits_of(call.service),
        )  # fmt: skip
        now = beside(call.service, place, now)
        found = story(reader, place, query.order, now.promises)
        if found is None:
            raise ProblemError("not_found", f"no order {query.order} was known then")
        return found

    return await simulated(call, answer)


@running(
    "GET", "/v1/promises/{order}/replay", tag="Promises", scope="read", answers={JSON: Replay},
    problems=("not_found", "engine_differs", "not_computed", "cannot_promise", "busy"),
)  # fmt: skip
async def replay_promise(call: Call[OneOrder]) -> Reply:
    """Compute an order's promise again and say whether it comes out the same, byte for byte.

    It is computed as known at the promise's own place, with its seed, its replications and the
    holds then in force. What was recorded since, of whatever time, changes nothing; corrections
    neither. A promise that another version of the engine made is refused.
    """
    service = call.service
    found = await service.simulations.read(lambda reader: replay(reader, call.query.order))
    return await shown(service, found)


OPERATIONS: tuple[Operation, ...] = (
    quote_promise, make_promise, list_promises, read_promise, replay_promise,
)  # fmt: skip


async def simulated(
    call: Call[PromisesQuery], question: Callable[[Reader, Asked, World], Struct]
) -> Reply:
    """Answer a question about the whole shop, holds and all, in a thread that simulates."""
    service = call.service

    def answer() -> Struct:
        holds = service.holds.standing(micros(service.clock())).holds
        with service.store.reading() as reader:
            place = asked(call, reader)
            before = in_force(reader, place, holds) if place.present else ()
            return question(reader, place, world_of(service, reader, place, before))

    return await shown(service, await service.simulations.run(answer))


async def shown(service: Service, answer: Struct, status: int = 200) -> Reply:
    """Write an answer with its times in the shop's zone."""
    now = service.clock()
    zone = await service.read(lambda reader: shop_zone(reader, now))
    position = getattr(answer, "position", None)
    headers = {} if position is None else {"Coatledger-Position": str(position)}
    return Reply(ENCODER.encode(for_people(answer, zone)), status, headers=headers)


async def _prepared(service: Service, wanted: PromiseAsked) -> Ready:
    def known() -> bool:
        return needs_no_simulation(service, wanted)

    if await service.in_thread(known):
        return await service.in_thread(lambda: prepare(service, wanted))
    return await service.simulations.run(lambda: prepare(service, wanted))


async def _told(service: Service, order: str, status: int) -> Reply:
    answer = await service.read(lambda reader: promised(reader, order))
    reply = await shown(service, answer, status)
    return Reply(reply.body, status, headers={**reply.headers, **NEVER_CACHED})


async def _record(call: Call[Nothing], order: str, ready: Ready) -> bool:
    """Record what was prepared, and end its hold; one that came to nothing is given back. Whether
    anything was new."""
    assert call.key is not None
    service, hold = call.service, ready.hold
    request = Request(
        events=ready.events, by=call.key.key_id, conditions=ready.conditions, pointer=""
    )
    try:
        written = await service.writer.submit(request)
    except BaseException:
        if hold is not None:
            await service.in_thread(lambda: service.holds.let_go(hold, order))
        raise
    if hold is not None:
        now_us = micros(service.clock())
        await service.in_thread(lambda: service.holds.end(hold, now_us, order))
    return not all(receipt.repeated for receipt in written.receipts)
