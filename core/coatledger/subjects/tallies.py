"""What each piece adds to the shop's counts. When a piece's state changes, what it added before is
taken away and what it adds now is added, so that late facts and corrections keep the counts right.

Keys begin with a quarter-hour of UTC time: every time zone's days and weeks are made of those.
A piece counts once a name, at the time of the fact that decides.
"""

from collections.abc import Callable, Mapping
from functools import lru_cache

from coatledger.ledger.record import moment
from coatledger.subjects.piece import Piece
from coatledger.subjects.piece_life import IN_PROCESS
from coatledger.subjects.tallies_quality import add_quality, add_rework_cost

QUARTER_US = 15 * 60 * 1_000_000
HOUR_US = 3_600_000_000


def quarter(at_us: int) -> str:
    """Name the quarter-hour of UTC a moment lies in, for example `2026-11-24T10:15`."""
    return _quarter(at_us // QUARTER_US)


@lru_cache(maxsize=4096)
def _quarter(number: int) -> str:
    return moment(number * QUARTER_US).isoformat(timespec="minutes")[:16]


def of_piece(piece: Piece) -> Mapping[tuple[str, str], float]:
    """List what one piece adds: name, key -> count.

    - `started`, `shipped`, `scrapped`: when it first happened, by wood
    - `lead_h`: at the first shipment, the whole hours since the start
    - `here`: without a time, while a piece was started and has never left
    - `left_of`: when a piece that was started first left or was given up, its word
    - `in_process`: by stage, without a time, while the piece is here
    - `first_final`, `first_pass`, `produced`, `rejected`, `reworked`: see `_add_first_final`
    - `rework`: at the start of each rework, by where it came from and why
    - `defect`: at each finding of a defect, by who found it and its kind
    - `case`, `case_of`, `rework_cost`: see `tallies_quality`
    """
    added: dict[tuple[str, str], float] = {}

    def add(name: str, at_us: int, *share: str, value: float = 1) -> None:
        key = (name, "|".join((quarter(at_us), *share)))
        added[key] = added.get(key, 0) + value

    wood = piece.species or "unknown"
    if piece.started_us is not None:
        add("started", piece.started_us, wood)
    if piece.stage in IN_PROCESS:
        added["in_process", piece.stage] = 1
    if piece.shipped_us:
        first = piece.shipped_us[0]
        add("shipped", first, wood)
        if piece.started_us is not None:
            add("lead_h", first, str((first - piece.started_us) // HOUR_US))
    if piece.scrapped_us is not None:
        add("scrapped", piece.scrapped_us, wood)
    if piece.started_us is not None:
        if piece.left_us is None:
            added["here", "now"] = 1
        else:
            add("left_of", piece.left_us, piece.piece)
    for rework in piece.reworks:
        where = "customer" if rework.after_leaving else "shop"
        add("rework", rework.at_us, where, rework.because or "unknown", wood)
    for defect in piece.defects:
        add("defect", defect.at_us, defect.found_by, defect.kind, wood)
    _add_first_final(piece, wood, add)
    add_rework_cost(piece, add)
    return added


def _add_first_final(piece: Piece, wood: str, add: Callable[..., None]) -> None:
    """Quality counts each piece once, at its first final inspection, or where it was given up
    before one. What became of it later, rework in the shop or scrap, is counted at that same place,
    so that a share is never of other pieces than it says."""
    first = piece.first_final
    at_us = piece.scrapped_us if first is None else first.at_us
    if at_us is None:
        return
    add("produced", at_us, wood)
    add_quality(piece, at_us, wood, add)
    if piece.scrapped_us is not None:
        add("rejected", at_us, wood)
    if any(not rework.after_leaving for rework in piece.reworks):
        add("reworked", at_us, wood)
    if first is None:
        return
    add("first_final", at_us, wood)
    if first.passed and not any(rework.at_us <= at_us for rework in piece.reworks):
        add("first_pass", at_us, wood)
