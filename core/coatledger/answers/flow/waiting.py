"""Where a piece's time went: in hands, drying, and waiting for a rack place, a gun, finish, people.

Between two acts a piece first dries as long as its data sheet asks for the next act. What is left
of the gap while the shop is open waits: for finish as long as the can of the next coat was not
there; where every rack place was taken, for a rack; where the gun of the next coat was at work on
others, for the gun; else for people. These are readings of the record, not measurements.
"""

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise
from typing import Literal, NamedTuple

from coatledger.answers.flow.covered import Covered, at_least, both, without
from coatledger.events.setup import ProductDescribed
from coatledger.subjects.lot import Lot
from coatledger.subjects.piece import Coat, Piece

HOUR_US = 3_600_000_000
Reason = Literal["hands", "clock", "closed", "rack", "gun", "finish", "people"]
REASONS: tuple[Reason, ...] = ("hands", "clock", "closed", "finish", "rack", "gun", "people")


class Act(NamedTuple):
    """One act a piece's state remembers; `coat` where it was one."""

    start_us: int
    end_us: int
    what: str
    coat: Coat | None = None


class Shop(NamedTuple):
    """What gaps are held against: opening hours, full racks, busy guns, cans and data sheets."""

    opened: Covered
    rack_full: Covered
    gun_busy: Mapping[str, Covered]
    lots: Mapping[str, Lot]
    sheets: Mapping[str, ProductDescribed | None]


def acts_of(piece: Piece) -> tuple[Act, ...]:
    """List what happened to a piece in order, from its start to its leaving, if it left."""
    acts = [Act(one.at_us, one.ended_us or one.at_us, "coat", one) for one in piece.ever_coated]
    acts += [Act(one.at_us, one.at_us, "sand") for one in piece.sandings]
    acts += [Act(one.at_us, one.at_us, "layer") for one in piece.layers]
    acts += [Act(one.at_us, one.at_us, "inspect") for one in piece.inspections]
    acts += [Act(one.at_us, one.at_us, "rework") for one in piece.reworks]
    if piece.packing is not None:
        acts.append(Act(piece.packing.at_us, piece.packing.at_us, "pack"))
    start, end = piece.started_us, piece.left_us
    if start is None:
        return ()
    inside = sorted(
        act for act in acts if start <= act.start_us and (end is None or act.start_us <= end)
    )
    leaving = () if end is None else (Act(end, end, "leave"),)
    return (Act(start, start, "start"), *inside, *leaving)


def shop_of(
    pieces: Sequence[Piece], opened: Covered, rack_places: int | None,
    lots: Mapping[str, Lot], sheets: Mapping[str, ProductDescribed | None],
) -> Shop:  # fmt: skip
    """Read off all pieces together when racks were full and guns at work."""
    drying = [
        (act.end_us, min(after.start_us, act.end_us + _dries_us(act, after.what, sheets)))
        for piece in pieces
        for act, after in pairwise(acts_of(piece))
        if act.coat is not None
    ]
    full = at_least(drying, rack_places) if rack_places else at_least(())
    uses: dict[str, set[tuple[int, int]]] = {}
    for piece in pieces:
        for coat in piece.ever_coated:
            if coat.gun is not None and coat.ended_us is not None:
                uses.setdefault(coat.gun, set()).add((coat.at_us, coat.ended_us))
    rack = both(opened, full)
    busy = {gun: without(both(opened, at_least(spans)), rack) for gun, spans in uses.items()}
    return Shop(opened, rack, busy, lots, sheets)


def time_of(piece: Piece, shop: Shop) -> Mapping[Reason, int]:
    """Divide a piece's time from start to leaving among the reasons, in microseconds."""
    spent: dict[Reason, int] = dict.fromkeys(REASONS, 0)
    acts = acts_of(piece)
    for act, after in pairwise(acts):
        at_us = max(act.start_us, act.end_us)
        spent["hands"] += min(at_us, after.start_us) - act.start_us
        ready_us = min(after.start_us, at_us + _dries_us(act, after.what, shop.sheets))
        spent["clock"] += max(0, ready_us - at_us)
        for reason, much in _gap(max(at_us, ready_us), after, shop):
            spent[reason] += much
    return spent


def _gap(start_us: int, after: Act, shop: Shop) -> Iterable[tuple[Reason, int]]:
    """Divide what is left of a gap before an act."""
    end_us = after.start_us
    if end_us <= start_us:
        return
    opened = shop.opened.within(start_us, end_us)
    yield "closed", end_us - start_us - opened
    if after.coat is not None:
        born_us = shop.lots[after.coat.lot].born_us
        since_us = start_us if born_us is None else min(max(start_us, born_us), end_us)
        finish = shop.opened.within(start_us, since_us)
        yield "finish", finish
        start_us, opened = since_us, opened - finish
    rack = shop.rack_full.within(start_us, end_us)
    yield "rack", rack
    busy = None if after.coat is None else shop.gun_busy.get(after.coat.gun or "")
    gun = 0 if busy is None else busy.within(start_us, end_us)
    yield "gun", gun
    yield "people", opened - rack - gun


def _dries_us(act: Act, before: str, sheets: Mapping[str, ProductDescribed | None]) -> int:
    """Return how long the data sheet wants a coat left before an act; 0 where it is silent."""
    sheet = None if act.coat is None else sheets.get(act.coat.lot)
    if sheet is None:
        return 0
    asked: Mapping[str, float | None] = {
        "coat": sheet.recoat_h, "sand": sheet.recoat_h, "layer": sheet.recoat_h,
        "pack": sheet.wrap_h, "leave": sheet.wrap_h, "inspect": sheet.tack_free_h,
        "rework": sheet.touch_dry_h,
    }  # fmt: skip
    return round((asked.get(before) or 0.0) * HOUR_US)
