"""The bare piece: when it is due, when it starts its life here, and how it arrived."""

from collections.abc import Mapping
from typing import Annotated, Literal

from msgspec import Meta

from coatledger.events.base import (
    Currency,
    Day,
    Fact,
    Label,
    Millimetres,
    MinorUnits,
    Percent,
    Pieces,
    Sha256,
    SquareMetres,
    Word,
)
from coatledger.events.setup import Use

Sheen = Literal["dead_flat", "matte", "satin", "semi_gloss", "gloss"]


class PieceExpected(Fact, frozen=True, kw_only=True, tag="piece_expected"):
    """Pieces due from the joinery, with the days between which they should come."""

    pieces: Pieces
    likely_on: Day
    earliest_on: Day | None = None
    latest_on: Day | None = None
    kind: Label | None = None
    species: Word | None = None
    coat_area_m2: SquareMetres | None = None
    schedule: Word | None = None


class PieceStarted(Fact, frozen=True, kw_only=True, tag="piece_started"):
    """Pieces stand at the bench, alike in everything named here. `sku` and `options` say as what of
    the shop's offer they will be sold, so that one made for nobody is found on the shelf."""

    pieces: Pieces
    kind: Label
    species: Word
    coat_area_m2: SquareMetres
    use: Use
    substrate: Literal["solid", "veneer", "plywood", "fibreboard"] = "solid"
    length_mm: Millimetres | None = None
    width_mm: Millimetres | None = None
    thickness_mm: Millimetres | None = None
    declared_value: MinorUnits | None = None
    currency: Currency | None = None
    sheen: Sheen | None = None
    stained: bool = False
    refinish: bool = False
    schedule: Word | None = None
    sku: Word | None = None
    options: Annotated[Mapping[Word, Word], Meta(max_length=10)] = {}


class WoodMoistureRead(Fact, frozen=True, kw_only=True, tag="wood_moisture_read"):
    """Moisture content of the wood, in percent of ovendry mass."""

    pieces: Pieces
    moisture_pct: Percent
    instrument: Word | None = None


class ConditionRecorded(Fact, frozen=True, kw_only=True, tag="condition_recorded"):
    """How the pieces arrived or stand, before anything is done to them."""

    pieces: Pieces
    state: Literal["sound", "marked", "damaged", "contaminated"]
    photo_sha256: Sha256 | None = None
