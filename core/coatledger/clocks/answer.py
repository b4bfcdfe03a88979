"""What a clock answers with: times at three levels of certainty, and what they rest on."""

from datetime import datetime
from typing import Literal
from uuid import UUID

from msgspec import Struct

from coatledger.computations.drying import Spread, Stage

Readiness = Literal[
    "wet", "touch_dry", "tack_free", "sandable", "stackable", "wrap_safe", "cured"
]  # fmt: skip
Purpose = Literal["touch", "recoat", "stack", "pack", "use"]


class StageTime(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """When one stage is reached: at the earliest (10 %), likely (50 %) and surely (90 %).

    None means that the air, as it stands, never brings the film there. `assumed` says that the
    data sheet is silent on this stage and common practice speaks.
    """

    stage: Stage
    earliest: datetime | None
    likely: datetime | None
    sure: datetime | None
    assumed: bool = False


class Recoat(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """When the next coat may follow, and from when on it must be abraded first (None: never)."""

    likely_from: datetime | None
    surely_from: datetime | None
    abrade_after: datetime | None = None


class Void(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A film that dried too cold to form: it will not become sound by waiting."""

    since: datetime
    event: UUID
    says: str


class Silence(Struct, frozen=True, kw_only=True):
    """A time in which nobody read the air; the reading before it was held."""

    start: datetime
    end: datetime


class Because(Struct, frozen=True, kw_only=True):
    """One fact a clock rests on."""

    event: UUID
    says: str


class FaceClock(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """The clock of the faces that carry the same films. `coat_number` counts since the last strip;
    `readiness` is the furthest stage surely reached; `learned` how many times the sheet's hours
    this shop's own checks have shown for the product (10, 50 and 90 %)."""

    faces: tuple[str, ...]
    readiness: Readiness
    coat_number: int
    coat: UUID
    applied_at: datetime
    wet_film_um: float
    product: str | None
    lot: str | None
    stages: tuple[StageTime, ...]
    recoat: Recoat
    learned: Spread | None = None
    void: Void | None = None
    silences: tuple[Silence, ...] = ()
    reasons: tuple[Because, ...] = ()
    assumed: tuple[str, ...] = ()

    def at(self, stage: Stage) -> StageTime:
        """Return the times of one stage."""
        return next(time for time in self.stages if time.stage == stage)


class ReadyFor(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """When the whole piece is ready for something: its slowest face decides."""

    purpose: Purpose
    ready: bool
    likely: datetime | None
    sure: datetime | None
    face: str


class PieceClock(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """The clocks of one piece as of a moment. `next_ready` is the soonest sure time still ahead."""

    piece: str
    as_of: datetime
    readiness: Readiness | Literal["bare"]
    faces: tuple[FaceClock, ...] = ()
    ready: tuple[ReadyFor, ...] = ()
    next_ready: datetime | None = None
    room: str | None = None

    def on(self, face: str) -> FaceClock | None:
        """Return the clock of one face, or None while it is bare."""
        return next((clock for clock in self.faces if face in clock.faces), None)

    def ready_for(self, purpose: Purpose) -> ReadyFor | None:
        """Return when the piece is ready for something, or None while it is bare."""
        return next((one for one in self.ready if one.purpose == purpose), None)
