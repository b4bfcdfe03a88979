"""What a day plan answers with: days, lines of work, what waits and why, what dries until when."""

from datetime import date, datetime
from typing import Literal
from uuid import UUID

from msgspec import Struct

from coatledger.clocks.answer import Purpose
from coatledger.computations.cautions import Caution
from coatledger.computations.viscosity import Range

Act = Literal[
    "sand", "raise_grain", "blow_off", "fill_grain", "stain", "coat", "scuff", "rub_out", "polish",
    "inspect", "pack", "flush", "set_up", "rags", "ship",
]  # fmt: skip
Because = Literal[
    "clock", "film", "people", "gun", "rack", "finish", "joinery", "hold", "closed"
]  # fmt: skip
RULE = (
    "The earlier due date first, then what the gun already holds, then the older order. One "
    "product is in a gun at a time; nobody waits for a job that cannot begin yet, and a job once "
    "begun is finished. Every duration is the likely one."
)


class Span(Struct, frozen=True, kw_only=True):
    """A stretch of time."""

    begins: datetime
    ends: datetime


class Film(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """When a film allows something: at the earliest (10 %), likely (50 %) and surely (90 %). None:
    in this air never."""

    purpose: Purpose
    earliest: datetime | None
    likely: datetime | None
    sure: datetime | None


class Part(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One part of a mix: its can, and the litres to take."""

    product: str
    part: str
    litres: float
    can: str | None = None


class Finish(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What a line puts on: the can to take, litres needed as a range and litres on hand of it,
    whether to open, stir or strain it first; `also` names the next cans when one is too little.
    With `mix` the finish is mixed first, of these parts, for this line and for `mix_for_lines`
    more, and used by `use_until`."""

    product: str | None
    can: str | None = None
    needed_l: Range | None = None
    on_hand_l: float | None = None
    open_first: bool = False
    stir_first: bool = False
    strain_um: float | None = None
    also: tuple[str, ...] = ()
    mix: tuple[Part, ...] = ()
    mix_for_lines: int = 0
    use_until: datetime | None = None


class Promised(Struct, frozen=True, kw_only=True):
    """The date a customer was told last, and at which level."""

    ships_by: date
    level_pct: float


class Line(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One act on some pieces. `unnamed` pieces were ordered and have no word yet. `by` counts the
    shop's pairs of hands from 1. `parts` are told when closing time lies between. `try_first`: the
    film below is likely ready by then, but not surely. `awaited`: the joinery has yet to bring the
    pieces. `ready` says for what the film put on here is ready when, and `cautions` are codes of
    the plan's own list."""

    act: Act
    begins: datetime
    ends: datetime
    says: str
    pieces: tuple[str, ...] = ()
    unnamed: int = 0
    order: str | None = None
    due: date | None = None
    promise: Promised | None = None
    by: int | None = None
    room: str | None = None
    gun: str | None = None
    finish: Finish | None = None
    coat_number: int | None = None
    wet_film_um: float | None = None
    grit: int | None = None
    by_hand: bool = False
    parts: tuple[Span, ...] = ()
    try_first: bool = False
    awaited: bool = False
    ready: tuple[Film, ...] = ()
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


class PlannedDay(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One day in the shop's zone: what is left of its hours (none: closed), when things are picked
    up, and its lines in order of time."""

    day: date
    open: tuple[Span, ...]
    pick_up_at: datetime | None = None
    lines: tuple[Line, ...] = ()


class Waiting(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Pieces that wait: for which act, because of what, until when, and what would end it. `until`
    is the planned beginning, None when none is in sight; a film's own times stand beside it.
    `today`: they still get their turn today."""

    because: Because
    says: str
    needs: str
    pieces: tuple[str, ...] = ()
    unnamed: int = 0
    order: str | None = None
    due: date | None = None
    act: str | None = None
    today: bool = False
    until: datetime | None = None
    earliest: datetime | None = None
    likely: datetime | None = None
    sure: datetime | None = None


class Drying(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Pieces whose films dry alike, and what they are ready for when; what is past is left out.
    `acts` are the facts that put those films on."""

    pieces: tuple[str, ...]
    acts: tuple[UUID, ...]
    readiness: str
    ready: tuple[Film, ...]
    room: str | None = None


class DayPlan(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Today's work and tomorrow's. `as_of` is the moment the plan begins at: the one asked for,
    rounded up to five minutes, so that the answer stays the same in between; `valid_until` is when
    it changes although nothing is recorded. `missing` names why there are no lines."""

    position: int
    as_of: datetime
    valid_until: datetime | None
    zone: str
    rule: str
    days: tuple[PlannedDay, ...] = ()
    waiting: tuple[Waiting, ...] = ()
    drying: tuple[Drying, ...] = ()
    cautions: tuple[Caution, ...] = ()
    assumed: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
