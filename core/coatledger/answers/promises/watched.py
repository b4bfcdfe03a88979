"""What is kept of a promise that is followed, and what there is to tell of it."""

from datetime import date, datetime
from typing import Literal
from uuid import UUID

from msgspec import Struct

from coatledger.answers.promises.danger import LIMITS, Danger, Limits


class News(Struct, frozen=True, kw_only=True):
    """What is to be told of a promise, and the place it was seen at. `episode` is told once."""

    kind: Literal["in_danger", "out_of_danger"]
    episode: str
    at: datetime
    position: int
    order: str
    line: str | None
    ships_by: date | None = None
    level_pct: float = 0.0
    chance_pct: float | None = None
    says: str = ""
    evidence: tuple[UUID, ...] = ()


class Watched(Struct, frozen=True, kw_only=True):
    """One promise as it was seen last. `sound_…` is the last place at which it was in no danger.

    `episode` is the word under which its danger was told; a danger that was only found has none.
    `closed` ones stay until `untold` has been told. While it is in danger `read_to` is how far the
    ledger was searched for causes, and `weighed` the chance when its rescues were last looked for.
    """

    order: str
    line: str | None
    told: UUID
    chance: float | None
    sound_position: int
    sound_at: datetime
    danger: Danger | None = None
    episode: str | None = None
    closed: bool = False
    untold: tuple[News, ...] = ()
    read_to: int | None = None
    weighed: float | None = None


class Watching(Struct, frozen=True, kw_only=True):
    """How promises are watched: since which position of the ledger, within which limits, and with
    what luck."""

    begun: int
    limits: Limits = LIMITS
    seed: int = 1
    replications: int = 1_000


def name_of(order: str, line: str | None) -> str:
    """Name a promise in one word: its order, and its line where that ships alone."""
    return order if line is None else f"{order}/{line}"
