"""One lot: a can that came in, or a mix made of others. How old, how stirred, how much is left."""

from uuid import UUID

from msgspec import Struct
from msgspec.structs import replace

from coatledger.events import finish
from coatledger.events.base import Fact
from coatledger.events.coating import CoatApplied
from coatledger.events.preparing import GrainFilled, Stained
from coatledger.ledger.record import micros

VERSION = 1
HOUR_US = 3_600_000_000


class Viscosity(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One cup's efflux time."""

    at_us: int
    cup: str
    efflux_s: float
    liquid_c: float | None = None


class Lot(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A can or a mix. `left_l` is None until an amount is known; `unmeasured` counts the acts since
    the last sure amount that did not say how much they took."""

    lot: str
    stage: str = "unborn"
    product: str | None = None
    born_us: int | None = None
    mixed: bool = False
    parents: tuple[finish.Parent, ...] = ()
    received_l: float | None = None
    left_l: float | None = None
    unmeasured: int = 0
    use_by: str | None = None
    pot_ends_us: int | None = None
    opened_us: int | None = None
    stirred_us: int | None = None
    strained_us: int | None = None
    mesh_um: float | None = None
    viscosity: Viscosity | None = None
    frozen_us: int | None = None
    discarded_us: int | None = None
    last_us: int = 0
    disputed: tuple[UUID, ...] = ()


def initial(lot: str) -> Lot:
    """A word nobody has used yet."""
    return Lot(lot=lot)


def may_follow(lot: Lot, fact: Fact) -> bool:
    """A lot is born once. Everything else may be told of a can nobody described."""
    born = isinstance(fact, finish.LotReceived) or (
        isinstance(fact, finish.LotMixed) and fact.lot == lot.lot
    )
    return not (born and lot.born_us is not None)


def evolve(lot: Lot, fact: Fact) -> Lot:
    """Fold one more fact in, in order of (occurred, position)."""
    at_us = micros(fact.occurred_at)
    if not may_follow(lot, fact):
        return replace(lot, disputed=(*lot.disputed, fact.id))
    return replace(_changed(lot, fact, at_us), last_us=at_us)


def _changed(lot: Lot, fact: Fact, at_us: int) -> Lot:
    match fact:
        case finish.LotReceived():
            return replace(
                lot, stage="closed" if lot.stage == "unborn" else lot.stage,
                product=fact.product, born_us=at_us,
                received_l=fact.amount_l, left_l=fact.amount_l, unmeasured=0,
                use_by=str(fact.use_by) if fact.use_by else None,
            )  # fmt: skip
        case finish.LotMixed():
            return _mixed(lot, fact, at_us)
        case finish.LotOpened():
            return replace(lot, stage="open", opened_us=at_us)
        case finish.LotStirred():
            return replace(lot, stirred_us=at_us)
        case finish.LotStrained():
            return replace(lot, strained_us=at_us, mesh_um=fact.mesh_um)
        case finish.ViscosityMeasured():
            seen = Viscosity(
                at_us=at_us, cup=fact.cup, efflux_s=fact.efflux_s, liquid_c=fact.liquid_c
            )
            return replace(lot, viscosity=seen)
        case finish.LotMeasured():
            return replace(lot, left_l=fact.left_l, unmeasured=0)
        case finish.LotFrozen():
            return replace(lot, frozen_us=at_us)
        case finish.LotDiscarded():
            return replace(lot, stage="gone", discarded_us=at_us, left_l=0.0, unmeasured=0)
        case CoatApplied() | Stained():
            return _taken(lot, fact.amount_l)
        case GrainFilled():
            return _taken(lot, None)
        case _:
            return lot


def _mixed(lot: Lot, fact: finish.LotMixed, at_us: int) -> Lot:
    if fact.lot != lot.lot:  # this lot is one of the parents
        return _taken(lot, sum(p.amount_l for p in fact.parents if p.lot == lot.lot))
    total_l = round(sum(p.amount_l for p in fact.parents), 3)
    ends = None if fact.pot_life_h is None else at_us + round(fact.pot_life_h * HOUR_US)
    return replace(
        lot, stage="open", product=fact.product, born_us=at_us, mixed=True, parents=fact.parents,
        received_l=total_l, left_l=total_l, unmeasured=0, pot_ends_us=ends, opened_us=at_us,
        stirred_us=at_us,
    )  # fmt: skip


def _taken(lot: Lot, amount_l: float | None) -> Lot:
    if amount_l is None:
        return replace(lot, unmeasured=lot.unmeasured + 1)
    if lot.left_l is None:
        return lot
    # A little more than was there means the amounts were guesses; the can is empty, not in debt.
    return replace(lot, left_l=round(max(0.0, lot.left_l - amount_l), 3))
