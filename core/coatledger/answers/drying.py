"""What the clock has learned of a product here: what was believed, what was checked, what is
believed now."""

from datetime import datetime

from msgspec import Struct

from coatledger.clocks.sheets import sheet_of
from coatledger.clocks.shop_learning import Learned, learned
from coatledger.computations.drying import STAGES, stage_hours
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


class DryingAnswer(Struct, frozen=True, kw_only=True):
    """One product's drying in this shop. Factors multiply the sheet's hours."""

    position: int
    as_of: datetime | None
    product: str
    learned: Learned
    stages: tuple[StageHours, ...]
    assumed: tuple[str, ...]


def drying(reader: Reader, product: str, asked: Asked) -> DryingAnswer | None:
    """Answer what was learned of a product; None when nobody had described it."""
    view = asked.view(reader)
    described = view.product(product)
    if described is None:
        return None
    read = sheet_of(described)
    found = learned(view, product, asked.now_us)
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
        assumed=read.assumed,
    )
