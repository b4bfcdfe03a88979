"""Facts in: one or many, whole or leniently, and what the rules of the trade say of them."""

from collections.abc import Mapping, Sequence
from datetime import timedelta
from uuid import UUID

from coatledger.computations.cautions import DEFERENCE, Caution
from coatledger.events.base import Moment
from coatledger.events.catalogue import AnyEvent
from coatledger.findings.finding import Finding
from coatledger.ledger.batch import Batch, Condition, Posted
from coatledger.ledger.decode import posted, sorted_out
from coatledger.ledger.store import Head
from coatledger.recording.beforehand import is_looked_at
from coatledger.recording.session import Receipt, Request
from coatledger.refusal import Refused, refuse
from msgspec import Struct
from msgspec.structs import replace

from coatledger_api.negotiate import JSON
from coatledger_api.operations import ENCODER, Call, Operation, Reply, running
from coatledger_api.parameters import Nothing
from coatledger_api.problems import Problem, problem_of
from coatledger_api.routes.recorded import cursor_of
from coatledger_api.routes.ruled import (
    CautionTold,
    Found,
    cautions_for,
    findings_for,
    gathered,
    is_cautioned,
)
from coatledger_api.writer import Written

OFFSET_TOLD = timedelta(minutes=2)
OFFSET_MAX = timedelta(days=36_525)
FINDINGS_FACTS_MAX = 100
LENIENT, MINIMAL = "handling=lenient", "return=minimal"


class Outcome(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What became of one posted fact: recorded, recorded before (`repeated`), or, in lenient
    handling, refused with a `problem`. `disputes` names facts that this one made impossible;
    `findings` are what the rules of the trade say of it at its own place."""

    id: UUID | None = None
    position: int | None = None
    recorded_at: Moment | None = None
    repeated: bool = False
    disputes: tuple[UUID, ...] = ()
    findings: tuple[Finding, ...] = ()
    problem: Problem | None = None


class Recording(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What became of a request's facts, in their order. `cursor` is the feed's place after them;
    `clock_offset_ms` tells a device how far ahead its clock was, when that was corrected;
    `findings_left_out` that the batch was too long to judge each fact at once: ask the pieces.
    `cautions` are of the acts just recorded; `deference` says what comes before them."""

    position: int
    cursor: str
    events: tuple[Outcome, ...]
    clock_offset_ms: int | None = None
    findings_left_out: bool = False
    cautions: tuple[CautionTold, ...] = ()
    deference: str | None = None


@running(
    "POST", "/v1/events", tag="Events", scope="record", answers={JSON: Recording},
    body=Posted, status=(201, 200),
    problems=(
        "malformed", "invalid", "occurs_in_future", "unknown_piece", "unknown_order",
        "unknown_event", "born_twice", "impossible_order", "corrects_a_correction",
        "correction_of_other_type", "id_reused", "condition_broken", "overloaded",
        "no_room",
    ),
)  # fmt: skip
async def record_events(call: Call[Nothing]) -> Reply:
    """Record one fact, or a batch.

    The body is the fact itself, or a batch of up to 1,000. A batch is recorded whole or not at all;
    with `Prefer: handling=lenient` each fact is recorded or refused by itself and the answer tells
    them apart. Sending the same facts again is safe at any time: the same id and content give the
    first answer, 200 instead of 201 when there was nothing new. Each fact is answered with its
    findings, and the request with the cautions of its acts, but for what is imported; `Prefer:
    return=minimal` leaves both out.
    """
    prefers = _preferences(call.headers.get("prefer"))
    if LENIENT in prefers:
        return await _record_leniently(call, prefers)
    read = posted(call.body)
    if isinstance(read, Batch):
        events, conditions, offset_ms = read.events, read.conditions, _offset_ms(call, read)
        pointer = "/events/{}"
    else:
        events, conditions, offset_ms, pointer = (read,), (), 0, ""
    wanted = _wanted(events, prefers)
    written = await _write(
        call, events, conditions, offset_ms, pointer, judged=0 < wanted <= FINDINGS_FACTS_MAX
    )
    found = await _findings(call, events, written.receipts, prefers)
    status = 200 if all(receipt.repeated for receipt in written.receipts) else 201
    outcomes = [_outcome(r, found) for r in written.receipts]
    cautions = await _cautions(call, events, written.receipts, prefers)
    return _told(outcomes, written.head, offset_ms, found, prefers, status, cautions)


OPERATIONS: tuple[Operation, ...] = (record_events,)


async def _record_leniently(call: Call[Nothing], prefers: frozenset[str]) -> Reply:
    """Record what can be recorded; whatever cannot is told in its place."""
    read = sorted_out(call.body)
    receipts: tuple[Receipt, ...] = ()
    offset_ms, found = 0, Found({})
    cautions: tuple[CautionTold, ...] = ()
    if read.batch is None:
        head = await call.service.read(lambda reader: reader.head())
    else:
        batch = read.batch
        offset_ms = _offset_ms(call, batch)
        receipts, head = await _write(
            call, batch.events, batch.conditions, offset_ms, read.pointer, lenient=True,
            judged=0 < _wanted(batch.events, prefers) <= FINDINGS_FACTS_MAX,
        )  # fmt: skip
        found = await _findings(call, batch.events, receipts, prefers)
        cautions = await _cautions(call, batch.events, receipts, prefers)
    told = iter(enumerate(receipts))
    outcomes = [
        Outcome(problem=problem_of(one.faults))
        if isinstance(one, Refused)
        else _outcome(_in_place(*next(told), place, read.pointer), found)
        for place, one in enumerate(read.each)
    ]
    return _told(outcomes, head, offset_ms, found, prefers, 200, cautions)


async def _write(
    call: Call[Nothing], events: tuple[AnyEvent, ...], conditions: tuple[Condition, ...],
    offset_ms: int, pointer: str, *, judged: bool, lenient: bool = False,
) -> Written:  # fmt: skip
    assert call.key is not None
    request = Request(
        events=events,
        by=call.key.key_id,
        conditions=conditions,
        offset_ms=offset_ms,
        lenient=lenient,
        pointer=pointer,
        judged=judged,
    )
    return await call.service.writer.submit(request)


async def _findings(
    call: Call[Nothing], events: Sequence[AnyEvent], receipts: Sequence[Receipt],
    prefers: frozenset[str],
) -> Found:  # fmt: skip
    """Judge, now that it is safe, what was recorded and not judged on its way in."""
    taken = [
        receipt.id
        for event, receipt in zip(events, receipts, strict=True)
        if not receipt.faults and receipt.judged is None and is_looked_at(event)
    ]
    if not taken or MINIMAL in prefers:
        return Found({})
    if len(taken) > FINDINGS_FACTS_MAX:
        return Found({}, left_out=True)
    return await call.service.read(lambda reader: findings_for(reader, taken))


async def _cautions(
    call: Call[Nothing], events: Sequence[AnyEvent], receipts: Sequence[Receipt],
    prefers: frozenset[str],
) -> tuple[CautionTold, ...]:  # fmt: skip
    """Say what to be careful of at the acts that were recorded now."""
    taken = [
        (event, receipt)
        for event, receipt in zip(events, receipts, strict=True)
        if not receipt.faults and not receipt.repeated and is_cautioned(event)
    ]
    if not taken or MINIMAL in prefers or len(taken) > FINDINGS_FACTS_MAX:
        return ()
    unasked = [event for event, receipt in taken if receipt.judged is None]
    asked: Mapping[UUID, Sequence[Caution]] = {}
    if unasked:
        asked = await call.service.read(lambda reader: cautions_for(reader, unasked))
    return gathered(
        (event.id, receipt.judged.cautions if receipt.judged else asked.get(event.id, ()))
        for event, receipt in taken
    )


def _wanted(events: Sequence[AnyEvent], prefers: frozenset[str]) -> int:
    """Count the facts whose findings somebody waits for."""
    return 0 if MINIMAL in prefers else sum(map(is_looked_at, events))


def _offset_ms(call: Call[Nothing], batch: Batch) -> int:
    """How far ahead the device's clock is; a little is the way the request took and is left."""
    if batch.sent_at is None:
        return 0
    offset = batch.sent_at - call.service.clock()
    if abs(offset) > OFFSET_MAX:
        raise refuse("invalid", "/sent_at", "this is more than a century off")
    return offset // timedelta(milliseconds=1) if abs(offset) > OFFSET_TOLD else 0


def _in_place(among_facts: int, receipt: Receipt, place: int, pointer: str) -> Receipt:
    """Point at where the fact stood in the body, not where it stood among those readable."""
    if among_facts == place or not receipt.faults:
        return receipt
    was, now = pointer.format(among_facts), pointer.format(place)
    faults = tuple(replace(f, pointer=now + f.pointer.removeprefix(was)) for f in receipt.faults)
    return replace(receipt, faults=faults)


def _outcome(receipt: Receipt, found: Found) -> Outcome:
    if receipt.faults:
        return Outcome(id=receipt.id, problem=problem_of(receipt.faults))
    return Outcome(
        id=receipt.id,
        position=receipt.position,
        recorded_at=receipt.recorded_at,
        repeated=receipt.repeated,
        disputes=receipt.disputes,
        findings=receipt.judged.findings if receipt.judged else found.by_event.get(receipt.id, ()),
    )


def _told(
    outcomes: Sequence[Outcome], head: Head, offset_ms: int, found: Found,
    prefers: frozenset[str], status: int, cautions: tuple[CautionTold, ...],
) -> Reply:  # fmt: skip
    recording = Recording(
        position=head.size,
        cursor=cursor_of(head, head.size),
        events=tuple(outcomes),
        clock_offset_ms=offset_ms or None,
        findings_left_out=found.left_out,
        cautions=cautions,
        deference=DEFERENCE if cautions else None,
    )
    headers = {"Coatledger-Position": str(head.size), "Cache-Control": "no-store"}
    if prefers:
        headers["Preference-Applied"] = ", ".join(sorted(prefers))
    return Reply(ENCODER.encode(recording), status, headers=headers)


def _preferences(prefer: str | None) -> frozenset[str]:
    """Return the preferences we follow (RFC 7240: between commas, parameters after semicolons)."""
    if prefer is None:
        return frozenset()
    wanted = (preference.partition(";")[0] for preference in prefer.split(","))
    plain = {w.replace(" ", "").replace('"', "").lower() for w in wanted}
    return frozenset(plain & {LENIENT, MINIMAL})
