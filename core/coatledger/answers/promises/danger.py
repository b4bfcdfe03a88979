"""When a promise is in danger, and what is said of it: since when, of what, and what would save it.

It is in danger when its chance falls below a bound, and out of it only when the chance has risen
clearly above, so that a chance that trembles about the bound is one episode and not ten.
"""

from datetime import datetime
from typing import Literal
from uuid import UUID

from msgspec import Struct

CauseKind = Literal[
    "rework", "held", "joinery", "pieces", "drying", "order", "people", "hours", "finish",
    "climate", "described", "others", "late",
]  # fmt: skip
WayKind = Literal["order_of_work", "split", "extra_hour", "saturday"]
# How sure nobody is below this: common practice, no published source; a shop may set its own.
DANGER_PCT = 60.0
MARGIN_PCT = 10.0
# However wide the margin, a promise that is as good as kept is out of danger.
_OUT_AT_MOST = 0.99


class Limits(Struct, frozen=True, kw_only=True):
    """Below which chance a promise is in danger, and by how much more it is out of it again."""

    danger_pct: float = DANGER_PCT
    margin_pct: float = MARGIN_PCT


LIMITS = Limits()


class Cause(Struct, frozen=True, kw_only=True):
    """One thing that changed since the promise was last out of danger, with the facts behind it."""

    kind: CauseKind
    says: str
    events: tuple[UUID, ...] = ()


class Rescue(Struct, frozen=True, kw_only=True):
    """One thing that could be done, and the chance then. `enough` when that is the level of the
    promise. `hours` is what it costs of work beyond the usual hours; `harms` names orders that
    would fall below their own level by it."""

    way: WayKind
    says: str
    chance: float
    hours: float
    enough: bool
    harms: tuple[str, ...] = ()


class Danger(Struct, frozen=True, kw_only=True):
    """An episode: since when, the chance when it began, what led to it, and what would save the
    promise, the cheapest that is enough first. Both are looked for again when another kind of cause
    comes up or the chance falls by a further margin; the episode stays the same and is told once.
    Where many promises come into danger at once, `rescues` are looked for only for those due
    first."""

    since: datetime
    chance: float
    sound_until: datetime
    causes: tuple[Cause, ...]
    rescues: tuple[Rescue, ...]


def is_endangered(chance: float, level: float, *, before: bool, limits: Limits = LIMITS) -> bool:
    """Say whether a promise is in danger, given whether it was.

    *Reference:* a comparator with hysteresis (Schmitt, J. Sci. Instrum. 15 (1938), from memory).
    *Valid:* chances of 0 to 1; who promises at a lower level than the bound is held to that level.

    >>> is_endangered(0.65, 0.8, before=False), is_endangered(0.65, 0.8, before=True)
    (False, True)
    """
    enters = min(limits.danger_pct / 100.0, level)
    leaves = min(enters + limits.margin_pct / 100.0, max(_OUT_AT_MOST, enters))
    return chance < (leaves if before else enters)
