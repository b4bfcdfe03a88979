"""The columns of the flat tables: one struct a table, its fields the columns.

Null is where nobody said. Times are UTC. A column keeps its name and its meaning; new ones come
last.
"""

from datetime import datetime
from typing import Annotated
from uuid import UUID

from msgspec import Meta, Struct

Said = Annotated[str | None, Meta(description="null where nobody said")]


class CoatRow(Struct, frozen=True, kw_only=True):
    """One coat on one piece, those stripped off later included.

    `share_l` is the piece's even share of what the act took. `air_c` and `rh_pct` are the last
    reading of the room within 12 h before. `waited_h` is from the end of the coat before. `defects`
    are the kinds the shop found after this coat and before the next one, in order of the alphabet,
    parted by blanks; `reworked` says whether a rework began then.
    """

    piece: str
    coat_number: int
    event: UUID
    at: datetime
    ended_at: datetime | None
    kind: Said
    wood: Said
    schedule: Said
    order: Said
    product: Said
    lot: str
    gun: Said
    room: Said
    person: Said
    role: str
    method: str
    faces: str
    wet_film_um: float | None
    share_l: float | None
    in_rework: bool
    blown_off_by: Said
    cloth: Said
    waited_h: float | None
    air_c: float | None
    rh_pct: float | None
    defects: str
    reworked: bool


class PieceRow(Struct, frozen=True, kw_only=True):
    """One piece. `passed_first` is what first-pass yield counts: it passed its first final
    inspection and was not reworked before it; null before that inspection. `lead_days` ends as it
    is first shipped. `reworks` are those in the shop."""

    piece: str
    kind: Said
    wood: Said
    substrate: str
    use: Said
    sku: Said
    schedule: Said
    order: Said
    coat_area_m2: float | None
    stage: str
    started_at: datetime | None
    first_inspected_at: datetime | None
    passed_first: bool | None
    first_shipped_at: datetime | None
    scrapped_at: datetime | None
    lead_days: float | None
    coats: int
    stripped: int
    defects_found: int
    reworks: int
    returns: int
    hands_on_min: float


class DefectRow(Struct, frozen=True, kw_only=True):
    """One defect found on one piece, with the last coat before it was found."""

    piece: str
    event: UUID
    at: datetime
    defect: str
    face: str
    extent: str
    found_by: str
    wood: Said
    coat_event: UUID | None
    coat_number: int | None
    product: Said
    lot: Said
    gun: Said
    room: Said
    person: Said


class ReadingRow(Struct, frozen=True, kw_only=True):
    """One reading of a room's air, corrected ones left out. `position`: of the event telling it."""

    position: int
    room: str
    at: datetime
    air_c: float
    rh_pct: float
    surface_c: float | None
