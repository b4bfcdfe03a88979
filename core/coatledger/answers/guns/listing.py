"""Every gun the shop has described or used: what is in it, and whether it wants cleaning."""

from datetime import datetime

from msgspec import Struct

from coatledger.answers.guns.answer import USES, cleaning_of
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked, iso
from coatledger.subjects.counts import words


class GunRow(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One gun. `lot` is what went through it or was filled in last, also when it was flushed since;
    `flush_due` says that finish stands in it."""

    gun: str
    name: str | None = None
    method: str | None = None
    lot: str | None = None
    product: str | None = None
    last_used_at: datetime | None = None
    flush_due: bool = False
    flush_overdue: bool = False
    strip_clean_overdue: bool = False


class GunList(Struct, frozen=True, kw_only=True):
    """Guns in order of their words."""

    position: int
    as_of: datetime | None
    guns: tuple[GunRow, ...]


def gun_list(reader: Reader, asked: Asked) -> GunList:
    """List every gun known by then."""
    view = asked.view(reader)
    rows = []
    for word in words("gun", reader):
        described = view.gun_described(word)
        used = view.last(f"gun:{word}", USES, 1)
        if described is None and not used:
            continue
        lot = getattr(used[-1].fact, "lot", None) if used else None
        sheet = view.product_of_lot(lot)
        due = cleaning_of(view, word, described, asked.now_us)
        rows.append(
            GunRow(
                gun=word,
                name=described.name if described else None,
                method=described.method if described else None,
                lot=lot,
                product=sheet.product if sheet else None,
                last_used_at=due.last_used_at,
                flush_due=due.flush_due,
                flush_overdue=due.flush_overdue,
                strip_clean_overdue=due.strip_clean_overdue,
            )
        )
    return GunList(position=asked.position(reader), as_of=iso(asked.now_us), guns=tuple(rows))
