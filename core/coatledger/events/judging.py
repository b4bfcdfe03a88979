"""Judging: inspections, defects, photographs, gloss, and the way through rework."""

from typing import Annotated, Literal

from msgspec import Meta

from coatledger.events.base import Face, Fact, GlossUnits, Pieces, Sha256, Word, Work

DefectKind = Literal[
    "fish_eye", "cratering", "microfoam", "pinholing", "blushing", "cracking", "orange_peel", "sag",
    "dry_spray", "overlap_marks", "nib", "hair", "sand_through", "sanding_scratch", "raised_grain",
    "blotch", "bleed_through", "lifting", "peeling", "witness_line", "haze", "wrinkling",
    "soft_film", "blocking", "imprint", "sheen_off", "colour_off", "dent", "rust_speck",
]  # fmt: skip
InspectionPoint = Literal["incoming", "bare", "between_coats", "final", "before_packing"]
Remedy = Literal["rub_out", "spot_sand", "recoat", "strip"]


class Inspected(Work, frozen=True, kw_only=True, tag="inspected"):
    """Looked over at one point of the way, under one light."""

    pieces: Pieces
    point: InspectionPoint
    passed: bool
    lighting: Literal["raking", "overhead", "daylight", "unknown"] = "unknown"


class DefectFound(Fact, frozen=True, kw_only=True, tag="defect_found"):
    """A fault in the film or the wood, and who saw it first."""

    pieces: Pieces
    kind: DefectKind
    face: Face = "show"
    extent: Literal["spot", "several", "whole_face"] = "spot"
    found_by: Literal["shop", "customer"] = "shop"
    photo_sha256: Sha256 | None = None


class PhotoTaken(Fact, frozen=True, kw_only=True, tag="photo_taken"):
    """A picture was taken; the ledger keeps its hash, the file lives apart."""

    pieces: Pieces
    sha256: Sha256
    shows: Literal["before", "during", "after", "defect", "packing"] = "during"
    face: Face = "show"


class GlossMeasured(Fact, frozen=True, kw_only=True, tag="gloss_measured"):
    """Specular gloss by ISO 2813."""

    pieces: Pieces
    gloss_gu: GlossUnits
    angle_deg: Annotated[int, Meta(ge=20, le=85)] = 60
    face: Face = "show"
    instrument: Word | None = None


class ReworkStarted(Fact, frozen=True, kw_only=True, tag="rework_started"):
    """Pieces leave the plan to be put right, and why."""

    pieces: Pieces
    remedy: Remedy
    because: DefectKind | None = None


class ReworkFinished(Work, frozen=True, kw_only=True, tag="rework_finished"):
    """Rework is over; `done` is what was done in the end."""

    pieces: Pieces
    done: Remedy


class Held(Fact, frozen=True, kw_only=True, tag="held"):
    """Nobody goes on with these pieces until they are released."""

    pieces: Pieces
    why: Literal["question", "customer", "defect", "material", "other"] = "other"


class Released(Fact, frozen=True, kw_only=True, tag="released"):
    """Held pieces may go on."""

    pieces: Pieces
