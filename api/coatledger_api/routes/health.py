"""Whether the service lives, and whether it can do its work."""

import logging
import time
from typing import Literal

import msgspec
from coatledger.ledger.record import micros
from coatledger.ledger.store import Reader
from coatledger.subjects.parked import PARKED
from coatledger.subjects.registry import FOLDS
from coatledger_adapters.room import Room
from msgspec import Struct

from coatledger_api.operations import Call, Operation, Reply, running
from coatledger_api.parameters import Nothing
from coatledger_api.service import Service

LOG = logging.getLogger(__name__)
PARKED_SHOWN = 10
MB = 1024 * 1024
FREE_MB_WARN = 256
BEHIND_S_WARN = 600
# A write that failed for want of room is held against the service for so long: after that only
# another one can tell, and none would come to a service that says it is not ready.
TROUBLE_S = 30.0
HEALTH = "application/health+json"


class Checks(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What was looked at. `waiting` facts are to be written, `streams` are open; `free_mb` is room
    on the ledger's disk where that is this machine's; `webhooks_behind_s` is how long the oldest
    message that could be sent has waited."""

    ledger_reads: bool
    ledger_writes: bool
    writer_runs: bool
    waiting: int
    streams: int
    free_mb: int | None = None
    webhooks_behind_s: int = 0


class Health(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Whether it is well. `degraded` names subjects that are set apart while the rest goes on;
    `says` is what is wrong, or soon will be; `caution` is what its keeper should know about the
    database."""

    status: Literal["pass", "warn", "fail"]
    checks: Checks | None = None
    degraded: tuple[str, ...] = ()
    says: tuple[str, ...] = ()
    caution: str | None = None


@running("GET", "/health/live", tag="Health", scope=None, answers={HEALTH: Health})
async def is_live(call: Call[Nothing]) -> Reply:
    """Tell that the process answers."""
    return Reply(msgspec.json.encode(Health(status="pass")), media_type=HEALTH)


@running("GET", "/health/ready", tag="Health", scope=None, answers={HEALTH: Health},
         status=(200, 503))  # fmt: skip
async def is_ready(call: Call[Nothing]) -> Reply:
    """Tell whether facts can be recorded and questions answered; 503 when not.

    It warns of subjects whose facts cannot be folded (`degraded`), of a disk that fills and of
    webhooks that lag; everything else is served meanwhile.
    """
    health = await health_of(call.service)
    headers = {"Cache-Control": "no-store"}
    is_well = health.status != "fail"
    return Reply(msgspec.json.encode(health), 200 if is_well else 503, HEALTH, headers)


async def health_of(service: Service) -> Health:
    """Look at everything that the service needs."""
    parked: tuple[str, ...] = ()
    reads = False
    try:
        parked = await service.read(parked_subjects)
        reads = True
    except Exception:
        LOG.exception("the ledger cannot be read")
    room, lag_s = await service.in_thread(lambda: (room_of(service), behind_s(service)))
    free_mb = None if room.free_bytes is None else room.free_bytes // MB
    trouble = service.writer.trouble
    is_recent = trouble is not None and time.monotonic() - trouble.at_s < TROUBLE_S
    checks = Checks(
        ledger_reads=reads,
        ledger_writes=room.writable and not is_recent,
        writer_runs=service.writer.is_writing,
        waiting=service.writer.waiting,
        streams=service.streams,
        free_mb=free_mb,
        webhooks_behind_s=lag_s,
    )
    wrong, soon = _wrong(checks, trouble.says if trouble and is_recent else None), _soon(checks)
    return Health(
        status="fail" if wrong else "warn" if parked or soon else "pass",
        checks=checks,
        degraded=parked,
        says=(*wrong, *soon),
        caution=getattr(service.store, "caution", None),
    )


def _wrong(checks: Checks, trouble: str | None) -> tuple[str, ...]:
    """Say why the service cannot do its work."""
    found = []
    if not checks.ledger_reads:
        found.append("the ledger cannot be read: the log says why")
    if not checks.ledger_writes:
        found.append(trouble or "the disk is full, or the ledger may only be read")
    if not checks.writer_runs:
        found.append("nothing is recorded any more: the service is going down")
    return tuple(found)


def _soon(checks: Checks) -> tuple[str, ...]:
    """Say what will be wrong when nobody does anything."""
    found = []
    if checks.free_mb is not None and checks.free_mb < FREE_MB_WARN and checks.ledger_writes:
        found.append(f"{checks.free_mb} MB are left on the ledger's disk")
    if checks.webhooks_behind_s > BEHIND_S_WARN:
        found.append(f"a webhook's message has waited for {checks.webhooks_behind_s} s")
    return tuple(found)


def room_of(service: Service) -> Room:
    """Look at the room that the ledger has."""
    look = getattr(service.store, "room", None)
    try:
        return Room(writable=True) if look is None else look()
    except Exception:
        LOG.exception("the ledger's database cannot be looked at")
        return Room(writable=False)


def behind_s(service: Service) -> int:
    """Tell how long the oldest message that is due has waited."""
    try:
        due = service.outbox.book.due()
    except Exception:
        LOG.exception("what waits for webhooks cannot be read")
        return 0
    oldest_us = min((us for _, us in due), default=None)
    if oldest_us is None:
        return 0
    late_us: int = micros(service.clock()) - oldest_us
    return max(0, late_us // 1_000_000)


def parked_subjects(reader: Reader) -> tuple[str, ...]:
    """Name subjects that are set apart, a few of each kind."""
    reader.head()
    return tuple(
        stored.subject
        for kind in FOLDS
        for stored in reader.shelf(kind, (PARKED,), "", PARKED_SHOWN)
    )


OPERATIONS: tuple[Operation, ...] = (is_live, is_ready)
