"""A price in days: what a service knows beside its ledger, put to the engine."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date

import msgspec
from coatledger.answers.promises.ahead import World
from coatledger.answers.promises.lines import Wrong, wrong_lines
from coatledger.answers.promises.quote import Quote, quote
from coatledger.answers.promises.ways import WAYS
from coatledger.events.orders import HoldBefore, OrderLine
from coatledger.ledger.record import moment
from coatledger.ledger.store import Reader
from coatledger.open_shop.asked_for import wanted_of
from coatledger.refusal import Fault, Refused
from coatledger.subjects.asked import Asked
from coatledger_adapters.holds import Held
from coatledger_adapters.public_holidays import holidays_around
from msgspec import Struct

from coatledger_api.problems import ProblemError, ProblemFault
from coatledger_api.service import Service

_KIND: Mapping[str, str] = {"unknown": "unknown_offering", "paused": "not_offered"}


class Priced(Struct, frozen=True, kw_only=True):
    """What is kept of a quote that a date was given by: the holds it stood behind, and the calendar
    it was computed with."""

    quote: Quote
    lines: tuple[OrderLine, ...]
    together: bool
    holds: tuple[HoldBefore, ...]
    calendar: str


PRICED: msgspec.json.Decoder[Priced] = msgspec.json.Decoder(Priced)


def world_of(
    service: Service, reader: Reader, asked: Asked, holds: Iterable[HoldBefore] = ()
) -> World:
    """Gather what a date is computed from, beside the ledger."""
    return World(
        holidays=holidays_around(reader, asked),
        factors=service.learning.factors(reader, asked),
        holds=tuple(holds),
    )


def in_force(reader: Reader, asked: Asked, holds: Sequence[Held]) -> tuple[HoldBefore, ...]:
    """Return the holds that count beside the ledger: one whose order stands there already would be
    counted twice."""
    view = asked.view(reader)
    return tuple(
        before(held)
        for held in holds
        if held.taken_for is None or view.order(held.taken_for).stage == "unborn"
    )


def before(held: Held) -> HoldBefore:
    """Read a hold as what others stand behind."""
    priced = PRICED.decode(held.quote)
    assert priced.quote.ships_by is not None
    return HoldBefore(
        hold=held.hold, placed_at=moment(held.placed_us), ships_by=priced.quote.ships_by,
        lines=priced.lines,
    )  # fmt: skip


def price(
    reader: Reader, asked: Asked, lines: Sequence[OrderLine], *, world: World, together: bool,
    wanted_by: date | None, seed: int, replications: int, ways: Iterable[str] = (),
) -> Quote:  # fmt: skip
    """Quote lines that were checked, or refuse naming what the shop lacks."""
    told = quote(
        reader, asked, [wanted_of(line) for line in lines], lines=[line.line for line in lines],
        together=together, seed=seed, replications=replications, wanted_by=wanted_by, world=world,
        ways=ways,
    )  # fmt: skip
    require_nothing_missing(told)
    return told


def check_lines(reader: Reader, asked: Asked, lines: Sequence[OrderLine]) -> None:
    """Refuse lines that are wrong, unknown or paused, each with its place."""
    found = wrong_lines(asked.view(reader), lines)
    wrong = tuple(
        Fault(rule="invalid", pointer=f"/lines{one.pointer}", detail=one.says)
        for one in found
        if one.kind == "wrong"
    )
    if wrong:
        raise Refused(wrong)
    for kind, name in _KIND.items():
        told = [one for one in found if one.kind == kind]
        if told:
            raise ProblemError(name, _joined(told), faults=[_fault(name, one) for one in told])


def require_nothing_missing(told: Quote) -> None:
    """Refuse when there is no date, naming what is missing for one."""
    if told.missing:
        faults = [ProblemFault(rule="cannot_promise", detail=text) for text in told.missing]
        raise ProblemError("cannot_promise", f"missing: {'; '.join(told.missing)}", faults=faults)


def all_ways(wanted: bool) -> tuple[str, ...]:
    """Return the ways to be sooner that are tried."""
    return WAYS if wanted else ()


def _joined(found: Sequence[Wrong]) -> str:
    return "; ".join(dict.fromkeys(one.says for one in found))


def _fault(kind: str, wrong: Wrong) -> ProblemFault:
    return ProblemFault(rule=kind, detail=wrong.says, pointer=f"/lines{wrong.pointer}")
