"""Coating: finish put on, pieces turned and moved, dryness tried with a finger."""

from typing import Literal

from coatledger.events.base import Face, Faces, Fact, Litres, Micrometres, Pieces, Word, Work

Role = Literal["sealer", "tie", "toner", "build", "top"]
Method = Literal["hvlp", "air_assisted", "conventional", "brush", "wipe"]
DryStage = Literal["touch_dry", "tack_free", "sandable", "stackable", "wrap_safe", "cured"]


class CoatApplied(Work, frozen=True, kw_only=True, tag="coat_applied"):
    """One coat from one can on the pieces named, in that order."""

    pieces: Pieces
    lot: Word
    gun: Word | None = None
    room: Word | None = None
    faces: Faces = ("all",)
    role: Role = "build"
    method: Method = "hvlp"
    wet_film_um: Micrometres | None = None
    amount_l: Litres | None = None


class Turned(Work, frozen=True, kw_only=True, tag="turned"):
    """Pieces turned over; `resting_on` says what the film now lies on."""

    pieces: Pieces
    resting_on: Literal["points", "rack", "hook", "bench", "unknown"] = "unknown"


class Moved(Fact, frozen=True, kw_only=True, tag="moved"):
    """Pieces carried to another room or rack place."""

    pieces: Pieces
    room: Word
    place: Word | None = None
    resting_on: Literal["points", "rack", "hook", "bench", "unknown"] = "unknown"


class DrynessChecked(Fact, frozen=True, kw_only=True, tag="dryness_checked"):
    """Somebody tried whether the film is ready for something."""

    pieces: Pieces
    stage: DryStage
    ready: bool
    face: Face = "show"
    by: Literal["touch", "thumb", "sanding", "paper", "weight"] = "touch"
