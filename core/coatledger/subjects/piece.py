"""One piece: everything its own facts make of it, and the questions its state answers at once.

Nothing here depends on now, on climate or on another subject: the clock, the findings and the
share of a can are computed on read. Times are integer microseconds since 1970 UTC.
"""

from collections.abc import Mapping
from typing import Literal
from uuid import UUID

from msgspec import Struct

from coatledger.events.base import Face
from coatledger.events.coating import DryStage, Method, Role
from coatledger.events.judging import DefectKind, InspectionPoint, Remedy

FACES: tuple[str, ...] = ("show", "underside", "edges", "inside", "end_grain")


class BlowOff(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """The last time dust was taken off."""

    event: UUID
    at_us: int
    by: str
    cloth: str | None = None


class Coat(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One coat as this piece got it. `place` of `sharers` is its turn within the act; `cleaned` is
    how dust was last taken off before it, since the coat before."""

    event: UUID
    at_us: int
    ended_us: int | None = None
    lot: str
    gun: str | None = None
    room: str | None = None
    faces: tuple[Face, ...] = ("all",)
    role: Role = "build"
    method: Method = "hvlp"
    wet_film_um: float | None = None
    amount_l: float | None = None
    sharers: int = 1
    place: int = 0
    in_rework: bool = False
    counts: bool = True
    actor: str | None = None
    cleaned: BlowOff | None = None

    def on(self, face: str) -> bool:
        """Say whether this coat lies on a face."""
        return "all" in self.faces or face in self.faces


class Layer(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Stain or filler on the wood, which dries too."""

    event: UUID
    at_us: int
    what: Literal["stain", "filler"]
    lot: str | None = None
    room: str | None = None
    binder: str = "none"


class Sanding(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One sanding; `coats_before` tells a scuff from bare-wood work whatever it was called."""

    event: UUID
    at_us: int
    stage: str
    grit: int
    by: str = "hand"
    abrasive: str = "paper"
    coats_before: int = 0


class Defect(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A fault found; `coats_before` says after which coat."""

    event: UUID
    at_us: int
    kind: DefectKind
    face: Face = "show"
    extent: str = "spot"
    found_by: Literal["shop", "customer"] = "shop"
    coats_before: int = 0


class Film(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What a strip took off. It is kept while that rework lasts: it may end as something else."""

    coats: tuple[Coat, ...] = ()
    layers: tuple[Layer, ...] = ()
    sandings: tuple[Sanding, ...] = ()
    blown: BlowOff | None = None
    raised_us: int | None = None
    rubbed_us: int | None = None
    polished_us: int | None = None


class Rework(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One way through rework; `ended_us` is None while it lasts. `coats_before` lay on it then.

    `hands_on_s` and `finish_ml` are this piece's even share of the acts within it; `unsaid` counts
    the acts that did not say how much they took.
    """

    event: UUID
    at_us: int
    remedy: Remedy
    because: DefectKind | None = None
    ended_us: int | None = None
    done: Remedy | None = None
    after_leaving: bool = False
    coats_before: int = 0
    hands_on_s: int = 0
    finish_ml: int = 0
    unsaid: int = 0


class Inspection(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One look, and its result."""

    event: UUID
    at_us: int
    point: InspectionPoint
    passed: bool


class Check(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One dryness check: an observation of the clock, ready or not."""

    event: UUID
    at_us: int
    stage: DryStage
    ready: bool
    face: Face = "show"


class Packing(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """How it was packed, and which stage it had before."""

    event: UUID
    at_us: int
    touching: str


class Move(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Where it stood from a time on, and on what."""

    at_us: int
    room: str | None = None
    place: str | None = None
    resting_on: str = "unknown"


class Settled(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A finding about one fact that is over."""

    about: UUID
    code: str
    how: str


class Piece(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A piece of furniture or decor on its way through the finishing room."""

    piece: str
    stage: str = "unborn"
    held: bool = False
    kind: str | None = None
    species: str | None = None
    substrate: str = "solid"
    coat_area_m2: float | None = None
    length_mm: float | None = None
    width_mm: float | None = None
    thickness_mm: float | None = None
    use: str | None = None
    declared_value: int | None = None
    currency: str | None = None
    sheen: str | None = None
    stained: bool = False
    refinish: bool = False
    schedule: str | None = None
    sku: str | None = None
    options: Mapping[str, str] = {}
    order: str | None = None
    line: str | None = None
    likely_on: str | None = None
    earliest_on: str | None = None
    latest_on: str | None = None
    started_us: int | None = None
    last_us: int = 0
    last_event: UUID | None = None
    coats: tuple[Coat, ...] = ()
    stripped: int = 0
    taken_off: Film | None = None
    gone: tuple[Coat, ...] = ()
    layers: tuple[Layer, ...] = ()
    sandings: tuple[Sanding, ...] = ()
    raised_us: int | None = None
    blown: BlowOff | None = None
    defects: tuple[Defect, ...] = ()
    reworks: tuple[Rework, ...] = ()
    inspections: tuple[Inspection, ...] = ()
    checks: tuple[Check, ...] = ()
    moves: tuple[Move, ...] = ()
    rubbed_us: int | None = None
    polished_us: int | None = None
    packing: Packing | None = None
    shipped_us: tuple[int, ...] = ()
    handed_us: int | None = None
    returned_us: tuple[int, ...] = ()
    scrapped_us: int | None = None
    moisture_pct: float | None = None
    hands_on_min: float = 0.0
    settled: tuple[Settled, ...] = ()
    disputed: tuple[UUID, ...] = ()

    def coats_on(self, face: str) -> int:
        """Count the coats of the schedule on one face since the last strip."""
        return sum(1 for coat in self.coats if coat.counts and coat.on(face))

    def coat_number(self, faces: tuple[str, ...]) -> int:
        """Count the coats of the piece: the least over its schedule's faces."""
        named = FACES if "all" in faces else faces
        return min(self.coats_on(face) for face in named)

    def room_at(self, at_us: int) -> str | None:
        """Name the room the piece stood in at a time, as far as its own facts say."""
        room = None
        for move in self.moves:
            if move.at_us > at_us:
                break
            room = move.room or room
        return room

    @property
    def ever_coated(self) -> tuple[Coat, ...]:
        """Every coat it ever got, those stripped off again included, oldest first."""
        off = () if self.taken_off is None else self.taken_off.coats
        return (*self.gone, *off, *self.coats)

    @property
    def in_rework(self) -> bool:
        """Whether a rework has begun and not ended."""
        return bool(self.reworks) and self.reworks[-1].ended_us is None

    @property
    def open_defects(self) -> tuple[Defect, ...]:
        """Faults found and neither worked on nor passed at a look since: nobody has judged them."""
        if not self.defects:
            return ()
        done = [rework.ended_us or 0 for rework in self.reworks]
        done += [sanding.at_us for sanding in self.sandings]
        done += [coat.at_us for coat in self.coats]
        done += [look.at_us for look in self.inspections if look.passed]
        done += [self.rubbed_us or 0, self.polished_us or 0]
        judged_us = max(done)
        return tuple(defect for defect in self.defects if defect.at_us > judged_us)

    @property
    def left_us(self) -> int | None:
        """When it first left the shop for good or for its customer; None while it never did."""
        ends = (*self.shipped_us[:1], *(() if self.scrapped_us is None else (self.scrapped_us,)))
        return min(ends, default=None)

    @property
    def first_final(self) -> Inspection | None:
        """The first final inspection: the one first-pass yield looks at."""
        return next((i for i in self.inspections if i.point == "final"), None)
