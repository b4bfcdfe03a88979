"""Preparing: sanding, raising the grain, blowing off, filling and staining."""

from typing import Literal

from coatledger.events.base import Faces, Grit, Litres, Pieces, Word, Work


class Sanded(Work, frozen=True, kw_only=True, tag="sanded"):
    """Sanded: the bare wood, or a scuff between coats, or a defect spot."""

    pieces: Pieces
    stage: Literal["bare", "between_coats", "final", "spot"]
    grit: Grit
    faces: Faces = ("all",)
    abrasive: Literal["paper", "film", "net", "pad", "wool"] = "paper"
    by: Literal["hand", "machine"] = "hand"
    wet: bool = False


class GrainRaised(Work, frozen=True, kw_only=True, tag="grain_raised"):
    """The bare wood was wetted so that its fibres stand and can be cut off."""

    pieces: Pieces
    faces: Faces = ("all",)


class BlownOff(Work, frozen=True, kw_only=True, tag="blown_off"):
    """Dust taken off before finish goes on."""

    pieces: Pieces
    by: Literal["compressed_air", "vacuum", "damp_cloth", "tack_cloth"]
    cloth: Literal["waxy", "water_borne_safe", "unknown"] | None = None
    room: Word | None = None


class GrainFilled(Work, frozen=True, kw_only=True, tag="grain_filled"):
    """Open pores filled."""

    pieces: Pieces
    lot: Word | None = None
    faces: Faces = ("all",)
    room: Word | None = None


class Stained(Work, frozen=True, kw_only=True, tag="stained"):
    """Stain put on, and wiped off or not."""

    pieces: Pieces
    lot: Word | None = None
    faces: Faces = ("all",)
    binder: Literal["water_borne", "lacquer", "oil_based", "none"] = "water_borne"
    wiped: bool = True
    amount_l: Litres | None = None
    room: Word | None = None
