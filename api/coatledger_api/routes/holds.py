"""Holds: capacity kept for a customer who is about to buy, for some minutes."""

from coatledger.events.base import Word
from coatledger.ledger.decode import plain, typed
from coatledger.ledger.record import micros
from coatledger_adapters.holds import Held
from msgspec import Struct

from coatledger_api.negotiate import JSON
from coatledger_api.operations import NEVER_CACHED, Call, Operation, Reply, running
from coatledger_api.parameters import Nothing
from coatledger_api.problems import ProblemError
from coatledger_api.routes.promises import shown
from coatledger_api.selling.asked import HoldAsked
from coatledger_api.selling.holding import OWN, Hold, Holds, place_hold
from coatledger_api.selling.holding import shown as as_hold
from coatledger_api.service import Service


class OneHold(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which hold."""

    hold: Word


@running(
    "POST", "/v1/holds", tag="Promises", scope="promise", answers={JSON: Hold}, body=HoldAsked,
    status=(201, 200),
    problems=(
        "malformed", "invalid", "unknown_offering", "not_offered", "cannot_promise",
        "capacity_gone", "hold_reused", "holds_full", "busy",
    ),
)  # fmt: skip
async def make_hold(call: Call[Nothing]) -> Reply:
    """Hold a quote for some minutes, so that nobody else is sold the same capacity.

    The word is the client's own: the same call twice is one hold, 200 instead of 201. Whoever asks
    afterwards stands behind it until it is released, promised, or over by the clock. Of several
    who ask at once each is priced behind those before it.
    """
    wanted: HoldAsked = typed(plain(call.body), HoldAsked)
    service = call.service
    hold, is_new = await service.simulations.run(lambda: place_hold(service, wanted))
    return await shown(service, hold, 201 if is_new else 200)


@running("GET", "/v1/holds", tag="Promises", scope="promise", answers={JSON: Holds})
async def list_holds(call: Call[Nothing]) -> Reply:
    """List the holds that count, in the order they were placed."""
    service = call.service
    now = service.clock()
    standing = await service.in_thread(lambda: service.holds.standing(micros(now)))
    holds = (as_hold(one, micros(now)) for one in standing.holds if not one.hold.startswith(OWN))
    return await shown(service, Holds(as_of=now, holds=tuple(holds)))


@running(
    "GET", "/v1/holds/{hold}", tag="Promises", scope="promise", answers={JSON: Hold},
    problems=("not_found",),
)  # fmt: skip
async def read_hold(call: Call[OneHold]) -> Reply:
    """Read a hold, for a month after it is over too: whether it still counts, and its quote."""
    held = await _found(call.service, call.query.hold)
    return await shown(call.service, as_hold(held, micros(call.service.clock())))


@running(
    "DELETE", "/v1/holds/{hold}", tag="Promises", scope="promise", answers={}, status=(204,),
    problems=("not_found", "hold_taken"),
)  # fmt: skip
async def release_hold(call: Call[OneHold]) -> Reply:
    """Release a hold before its time; doing it again changes nothing.

    One that was promised is not released: cancel the order instead.
    """
    service, word, now_us = call.service, call.query.hold, micros(call.service.clock())
    # Looked at afterwards: a promise may take it at the same moment, and then it is not ended.
    await service.in_thread(lambda: service.holds.end(word, now_us))
    held = await _found(service, word)
    if held.taken_for is not None:
        raise ProblemError("hold_taken", f"{held.hold} is of order {held.taken_for}")
    return Reply(b"", 204, "", NEVER_CACHED)


OPERATIONS: tuple[Operation, ...] = (make_hold, list_holds, read_hold, release_hold)


async def _found(service: Service, word: str) -> Held:
    held = await service.in_thread(lambda: service.holds.find(word))
    if held is None:
        raise ProblemError("not_found", f"no hold {word}")
    return held
