"""Whether the service lives, and whether it can do its work."""

import logging
from typing import Literal

import msgspec
from coatledger.ledger.store import Reader
from coatledger.subjects.parked import PARKED
from coatledger.subjects.registry import FOLDS
from msgspec import Struct

from coatledger_api.operations import Call, Operation, Reply, running
from coatledger_api.parameters import Nothing

LOG = logging.getLogger(__name__)
PARKED_SHOWN = 10
HEALTH = "application/health+json"


class Checks(Struct, frozen=True, kw_only=True):
    """What was looked at. `waiting` facts are to be written, `streams` are open."""

    ledger_reads: bool
    writer_runs: bool
    waiting: int
    streams: int


class Health(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Whether it is well. `degraded` names subjects that are set apart while the rest goes on (then
    the status is `warn`); `caution` is what its keeper should know about the database."""

    status: Literal["pass", "warn", "fail"]
    checks: Checks | None = None
    degraded: tuple[str, ...] = ()
    caution: str | None = None


@running("GET", "/health/live", tag="Health", scope=None, answers={HEALTH: Health})
async def is_live(call: Call[Nothing]) -> Reply:
    """Tell that the process answers."""
    return Reply(msgspec.json.encode(Health(status="pass")), media_type=HEALTH)


@running("GET", "/health/ready", tag="Health", scope=None, answers={HEALTH: Health},
         status=(200, 503))  # fmt: skip
async def is_ready(call: Call[Nothing]) -> Reply:
    """Tell whether facts can be recorded and questions answered; 503 when not.

    A subject whose facts cannot be folded is named under `degraded`; everything else is served.
    """
    service = call.service
    parked: tuple[str, ...] = ()
    try:
        parked = await service.read(parked_subjects)
        reads = True
    except Exception:
        LOG.exception("the ledger cannot be read")
        reads = False
    checks = Checks(
        ledger_reads=reads,
        writer_runs=service.writer.is_writing,
        waiting=service.writer.waiting,
        streams=service.streams,
    )
    is_well = checks.ledger_reads and checks.writer_runs
    health = Health(
        status="fail" if not is_well else "warn" if parked else "pass",
        checks=checks,
        degraded=parked,
        caution=getattr(service.store, "caution", None),
    )
    headers = {"Cache-Control": "no-store"}
    return Reply(msgspec.json.encode(health), 200 if is_well else 503, HEALTH, headers)


def parked_subjects(reader: Reader) -> tuple[str, ...]:
    """Name subjects that are set apart, a few of each kind."""
    reader.head()
    return tuple(
        stored.subject
        for kind in FOLDS
        for stored in reader.shelf(kind, (PARKED,), "", PARKED_SHOWN)
    )


OPERATIONS: tuple[Operation, ...] = (is_live, is_ready)
