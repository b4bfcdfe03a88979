"""Leaving: rubbed out, packed, shipped, and what may come back."""

from typing import Literal

from coatledger.events.base import Fact, Grit, Pieces, Word, Work


class RubbedOut(Work, frozen=True, kw_only=True, tag="rubbed_out"):
    """The last coat rubbed to its sheen."""

    pieces: Pieces
    grit: Grit | None = None
    wet: bool = False


class Polished(Work, frozen=True, kw_only=True, tag="polished"):
    """Polished after rubbing."""

    pieces: Pieces


class Packed(Work, frozen=True, kw_only=True, tag="packed"):
    """Packed; `touching` is what lies against the film."""

    pieces: Pieces
    touching: Literal["paper", "foam", "plastic_film", "bubble", "cloth", "cardboard", "nothing"]


class Unpacked(Work, frozen=True, kw_only=True, tag="unpacked"):
    """Taken out of the packing again, still here."""

    pieces: Pieces


class Shipped(Fact, frozen=True, kw_only=True, tag="shipped"):
    """Given to a carrier."""

    pieces: Pieces
    order: Word | None = None
    carrier: Word | None = None


class HandedOver(Fact, frozen=True, kw_only=True, tag="handed_over"):
    """The customer has it, from the carrier or across the bench."""

    pieces: Pieces
    order: Word | None = None


class DamageReported(Fact, frozen=True, kw_only=True, tag="damage_reported"):
    """Damage told after the piece left."""

    pieces: Pieces
    by: Literal["carrier", "customer", "shop"] = "customer"
    cause: Literal["transport", "use", "finish", "unknown"] = "unknown"


class Returned(Fact, frozen=True, kw_only=True, tag="returned"):
    """Back in the shop; the piece's life here goes on."""

    pieces: Pieces
    why: Literal["finish", "transport", "changed_mind", "other"] = "other"
    order: Word | None = None


class Scrapped(Fact, frozen=True, kw_only=True, tag="scrapped"):
    """Given up: it will not ship."""

    pieces: Pieces
    why: Literal["finish", "wood", "damage", "other"] = "other"
