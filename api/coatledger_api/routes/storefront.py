"""When it would leave, for the pages of a web shop: the one address of a publishable word."""

import math
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

import msgspec
from coatledger.answers.promises.ship_promise import ShipPromise
from coatledger.events.orders import OrderLine
from coatledger.ledger.record import micros
from coatledger_adapters.holds import Held

from coatledger_api.negotiate import JSON
from coatledger_api.operations import ENCODER, Call, Operation, Reply, running
from coatledger_api.problems import ProblemError
from coatledger_api.selling.front import RETRY_S, Place, computed, here, of_hold, shown, stated
from coatledger_api.selling.front_asked import ShipPromiseQuery, Ships, lines_of
from coatledger_api.selling.holding import OWN
from coatledger_api.selling.pricing import PRICED
from coatledger_api.service import Service

# A stale answer may be shown for as long while a fresh one is fetched; common practice, no
# published source. It never outlives `valid_until`.
STALE_S = 600


@running(
    "GET", "/v1/ship-promise", tag="Promises", scope="storefront", answers={JSON: ShipPromise},
    problems=(
        "not_found", "unknown_offering", "capacity_gone", "hold_over", "no_day_in_time",
    ),
)  # fmt: skip
async def read_ship_promise(call: Call[ShipPromiseQuery]) -> Reply:
    """Say by when things would leave, for a page that strangers read.

    One `line` for each thing: a SKU, perhaps with quantity and options. `status` is `on_shelf` when
    as many stand finished and are nobody's, `made_to_order`, `paused`, or `ask_us` when no day can
    be computed; then, or with 503 when computing takes too long, the shop's stated lead stands in
    (`basis` is `stated`). The day is true for an order before `order_before` and may be shown until
    `valid_until`, where caching ends. It is the day of leaving, not that of arriving.

    A page sends its publishable word as `Authorization: Bearer clw_…` or as the parameter `word`;
    browsers may ask from the origins that `COATLEDGER_STOREFRONT_ORIGINS` names, with GET only. A
    secret key works from a server alone. With `hold` the day of a hold of the same lines is told;
    when it is over the answer is 410, with what can be told now in `ship_promise`.
    """
    service, query = call.service, call.query
    lines = lines_of(query.line)
    place = await here(service, lines)
    held = None if query.hold is None else await _held(service, query.hold, lines, query.ships)
    if held is not None and held.taken_for is None and held.is_live(micros(service.clock())):
        return _reply(service, place, await of_hold(service, place, held, lines))
    together = query.ships == "together"
    questions = [(line,) for line in lines] if query.ships == "single" else [lines]
    found = await computed(service, place, questions, together=together)
    if found is None:
        instead = await stated(service, place, questions, together=together)
        raise ProblemError(
            "no_day_in_time", "no day could be computed in time; the stated lead is told instead",
            headers={"Retry-After": str(RETRY_S)}, ship_promise=_told(instead),
        )  # fmt: skip
    if held is not None:
        detail = f"{held.hold} is over; what can be told now stands in ship_promise"
        raise ProblemError("hold_over", detail, ship_promise=_told(found))
    _require_by(found, query.no_later_than)
    return _reply(service, place, found)


OPERATIONS: tuple[Operation, ...] = (replace(read_ship_promise, front=True),)


def caching(now: datetime, valid_until: datetime, kept_s: int) -> str:
    """Say how long an answer may be kept: never beyond the time until which it is true.

    *Reference:* RFC 9111, section 5.2.2; RFC 5861 for what may be shown stale. Elapsed seconds, so
    that a change of the clocks makes nothing longer. *Valid:* aware times.
    """
    left_s = (valid_until.astimezone(UTC) - now.astimezone(UTC)).total_seconds()
    fresh_s = max(min(kept_s, math.floor(left_s)), 0)
    if not fresh_s:
        return "no-cache"
    stale_s = min(STALE_S, math.floor(left_s) - fresh_s)
    stale = f", stale-while-revalidate={stale_s}, stale-if-error={stale_s}" if stale_s else ""
    return f"public, max-age={fresh_s}, s-maxage={fresh_s}{stale}"


def _reply(service: Service, place: Place, found: ShipPromise) -> Reply:
    promise = shown(found, place)
    headers = {
        "Cache-Control": caching(
            service.clock(), promise.valid_until, service.settings.storefront_kept_s
        ),
        "Coatledger-Position": str(promise.position),
        "Vary": "Accept, Authorization, Origin",
    }
    return Reply(ENCODER.encode(promise), headers=headers)


def _told(promise: ShipPromise) -> Mapping[str, Any]:
    plain: Mapping[str, Any] = msgspec.to_builtins(promise)
    return plain


def _require_by(found: ShipPromise, latest: date | None) -> None:
    if latest is not None and (found.ships_by is None or found.ships_by > latest):
        when = "no day can be given" if found.ships_by is None else f"by {found.ships_by} it can"
        raise ProblemError(
            "capacity_gone", f"it cannot leave by {latest}; {when}", ship_promise=_told(found)
        )


async def _held(service: Service, word: str, lines: tuple[OrderLine, ...], ships: Ships) -> Held:
    """Find a hold for one who knows its word and what it holds; nobody else learns that it is."""
    held = await service.in_thread(lambda: service.holds.find(word))
    if held is not None and not held.hold.startswith(OWN):
        priced = PRICED.decode(held.quote)
        same = [_what(line) for line in priced.lines] == [_what(line) for line in lines]
        if same and priced.together == (ships == "together"):
            return held
    raise ProblemError("not_found", f"no hold {word} of these lines")


def _what(line: OrderLine) -> tuple[str | None, int, Mapping[str, str]]:
    return line.sku, line.quantity, line.options
