"""Finish: the life of a lot, which is one can or one mix."""

from typing import Annotated, Literal

from msgspec import Meta, Struct

from coatledger.events.base import (
    Celsius,
    Day,
    Fact,
    Hours,
    Label,
    Litres,
    LitresLeft,
    Micrometres,
    MinorUnits,
    Parts,
    Seconds,
    Word,
    Work,
)


class LotReceived(Fact, frozen=True, kw_only=True, tag="lot_received"):
    """A can came in."""

    lot: Word
    product: Word
    amount_l: Litres
    use_by: Day | None = None
    maker_batch: Label | None = None
    price: MinorUnits | None = None


class LotOpened(Fact, frozen=True, kw_only=True, tag="lot_opened"):
    """First opened."""

    lot: Word


class LotStirred(Work, frozen=True, kw_only=True, tag="lot_stirred"):
    """Stirred to the bottom."""

    lot: Word


class LotStrained(Work, frozen=True, kw_only=True, tag="lot_strained"):
    """Poured through a strainer."""

    lot: Word
    mesh_um: Micrometres | None = None


class Parent(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """One can that went into a mix."""

    lot: Word
    amount_l: Litres
    part: Literal["base", "extender", "reducer", "crosslinker", "water", "colour"] = "base"


class LotMixed(Work, frozen=True, kw_only=True, tag="lot_mixed"):
    """A child lot mixed from parents; its pot life starts now."""

    lot: Word
    product: Word
    parents: Annotated[tuple[Parent, ...], Meta(min_length=1, max_length=10)]
    pot_life_h: Hours | None = None
    ratio: Annotated[tuple[Parts, ...], Meta(max_length=10)] = ()


class ViscosityMeasured(Fact, frozen=True, kw_only=True, tag="viscosity_measured"):
    """Efflux time of one cup."""

    lot: Word
    cup: Literal[
        "iso_3", "iso_4", "iso_5", "iso_6", "ford_1", "ford_2", "ford_3", "ford_4", "ford_5",
        "zahn_1", "zahn_2", "zahn_3", "zahn_4", "zahn_5", "din_4",
    ]  # fmt: skip
    efflux_s: Seconds
    liquid_c: Celsius | None = None


class LotMeasured(Fact, frozen=True, kw_only=True, tag="lot_measured"):
    """What is left in the can, by eye, stick or scale."""

    lot: Word
    left_l: LitresLeft
    by: Literal["scale", "stick", "eye"] = "eye"


class LotFrozen(Fact, frozen=True, kw_only=True, tag="lot_frozen"):
    """The can was found frozen, or is known to have been."""

    lot: Word


class LotDiscarded(Fact, frozen=True, kw_only=True, tag="lot_discarded"):
    """What was left is gone, as waste or empty."""

    lot: Word
    left_l: LitresLeft = 0.0
    why: Literal["empty", "past_use_by", "past_pot_life", "frozen", "contaminated", "other"] = (
        "other"
    )
