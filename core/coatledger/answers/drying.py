"""What the clock has learned of a product here: what was believed, what was checked, what is
believed now, and how good its word was on the checks that came after."""

from datetime import datetime
from uuid import UUID

from msgspec import Struct

from coatledger.clocks.hindsight import Hindsight, hindsight
from coatledger.clocks.sheets import sheet_of
from coatledger.clocks.shop_learning import Learned, Observed, concluded, observed
from coatledger.computations.drying import STAGES, stage_hours
from coatledger.ledger.record import moment
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked, iso


class StageHours(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Hours to one stage at the sheet's climate and film: by the sheet, and as this shop has it
    (10, 50 and 90 %). `assumed` says that the sheet is silent and common practice speaks."""

    stage: str
    sheet_h: float
    earliest_h: float
    likely_h: float
    sure_h: float
    assumed: bool = False


class CheckSeen(Struct, frozen=True, kw_only=True):
    """One dryness check. `reached` is the factor on the sheet's hours at which the coat would just
    have been ready then: found ready, its own factor is at most that; found not ready, more."""

    at: datetime
    stage: str
    ready: bool
    event: UUID
    reached: float


class CoatSeen(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One coat on one piece and what its checks say: its factor lies above `more_than` and is at
    most `at_most`. `disputed`: its checks contradict each other."""

    piece: str
    coat: UUID
    lot: str
    applied_at: datetime
    checks: tuple[CheckSeen, ...]
    more_than: float | None = None
    at_most: float | None = None
    disputed: bool = False


class DryingAnswer(Struct, frozen=True, kw_only=True):
    """One product's drying in this shop. Factors multiply the sheet's hours; `data` is every check
    they rest on, coat by coat; `hindsight` scores what the clock had said before each coat."""

    position: int
    as_of: datetime | None
    product: str
    learned: Learned
    stages: tuple[StageHours, ...]
    data: tuple[CoatSeen, ...]
    hindsight: Hindsight | None
    assumed: tuple[str, ...]


def drying(reader: Reader, product: str, asked: Asked) -> DryingAnswer | None:
    """Answer what was learned of a product; None when nobody had described it."""
    view = asked.view(reader)
    described = view.product(product)
    if described is None:
        return None
    read = sheet_of(described)
    seen = observed(view, product, asked.now_us)
    found = concluded(view, product, seen)
    shop = view.shop()
    factor = found.posterior
    hours = stage_hours(read.sheet).hours
    return DryingAnswer(
        position=asked.position(reader),
        as_of=iso(asked.now_us),
        product=product,
        learned=found,
        stages=tuple(
            StageHours(
                stage=stage,
                sheet_h=given,
                earliest_h=round(given * factor.p10, 3),
                likely_h=round(given * factor.p50, 3),
                sure_h=round(given * factor.p90, 3),
                assumed=assumed,
            )
            for stage, given, assumed in zip(STAGES, hours, read.assumed_stages, strict=True)
        ),
        data=_data(seen),
        hindsight=hindsight(seen, "UTC" if shop is None else shop.zone),
        assumed=read.assumed,
    )


def _data(seen: tuple[Observed, ...]) -> tuple[CoatSeen, ...]:
    coats: dict[str, list[Observed]] = {}
    for one in seen:
        coats.setdefault(one.check.coat, []).append(one)
    return tuple(_coat(tuple(checks)) for checks in coats.values())


def _coat(seen: tuple[Observed, ...]) -> CoatSeen:
    low = max((o.check.reached for o in seen if not o.check.ready), default=None)
    high = min((o.check.reached for o in seen if o.check.ready), default=None)
    first = seen[0]
    return CoatSeen(
        piece=first.piece,
        coat=first.coat,
        lot=first.lot,
        applied_at=moment(first.applied_us),
        checks=tuple(
            CheckSeen(
                at=moment(o.seen.at_us),
                stage=o.seen.stage,
                ready=o.seen.ready,
                event=o.seen.event,
                reached=round(o.check.reached, 4),
            )
            for o in seen
        ),
        more_than=None if low is None else round(low, 4),
        at_most=None if high is None else round(high, 4),
        disputed=low is not None and high is not None and low >= high,
    )
