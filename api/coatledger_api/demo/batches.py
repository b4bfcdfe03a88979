"""A batch's life up to its last coat: started, sanded, filled or stained, coated and scuffed."""

from datetime import datetime, timedelta
from functools import partial

from coatledger.events.bare import ConditionRecorded, PieceStarted, WoodMoistureRead
from coatledger.events.coating import DrynessChecked
from coatledger.events.judging import DefectFound, Inspected
from coatledger.events.preparing import BlownOff, GrainFilled, GrainRaised, Sanded, Stained

from coatledger_api.demo.floor import Ask, Script, minutes
from coatledger_api.demo.leaving import finished
from coatledger_api.demo.rework import rework
from coatledger_api.demo.shop import Group, Shop
from coatledger_api.demo.spraying import coat
from coatledger_api.demo.weather import COLD_DAY


def batch(shop: Shop, group: Group, begins: datetime) -> Script:
    """Play a batch from the joinery's door on."""
    yield from _started(shop, group, begins)
    yield from _prepared(shop, group)
    yield from coats(shop, group, 1)


def coats(shop: Shop, group: Group, first: int) -> Script:
    """Put on the coats from a number on, and go on to the end with the pieces that stay sound."""
    wanted = len(group.kind.coats) - ("short_coats" in group.flags)
    for number in range(first, wanted + 1):
        if number == 1 and "cold" in group.flags:
            group.free_at = max(group.free_at, shop.days.at(COLD_DAY, "07:30"))
        if number == 3 and "old_mix" in group.flags:
            # The rest of the mix stood open over the morning's other work.
            group.free_at = max(group.free_at, shop.cans.last_mixed() + timedelta(minutes=250))
        yield from coat(shop, group, number)
        if number == wanted:
            break
        yield from _until_sandable(shop, group, number)
        if number == 2 or group.soon:
            yield from _look_between(shop, group, number)
        if not group.pieces:
            return
        yield from _scuffed(shop, group, number)
    yield from finished(shop, group)


def _started(shop: Shop, group: Group, begins: datetime) -> Script:
    slot = yield Ask(6 + 0.5 * len(group.pieces), begins)
    own, who = group.pieces, slot.who
    shop.log.note(PieceStarted, slot.start, actor=who, pieces=own, **group.kind.started)
    shop.book.allot(own, slot.start + minutes(1))
    moisture_pct = round(shop.rng.uniform(7.5, 9.8), 1)
    shop.log.note(
        WoodMoistureRead, slot.start + minutes(2), actor=who, pieces=own,
        moisture_pct=moisture_pct, instrument="pin-1",
    )  # fmt: skip
    marked = "damaged" in group.flags
    shop.log.note(
        ConditionRecorded, slot.start + minutes(3), actor=who, pieces=own,
        state="marked" if marked else "sound",
        note="a few pencil marks on the backs, sanded away" if marked else None,
    )  # fmt: skip
    shop.log.note(
        Inspected, slot.end, actor=who, pieces=own, point="incoming", passed=True,
        lighting="daylight",
    )  # fmt: skip
    group.free_at = slot.end


def _prepared(shop: Shop, group: Group) -> Script:
    prepare = group.kind.prepare if "unfilled" not in group.flags else "plain"
    grits = {"stained": (150,), "filled": (120, 150), "plain": (120, 150)}[prepare]
    if "coarse" in group.flags:
        grits = (80,)
    for grit in grits:
        yield from _sand(shop, group, grit, group.kind.sand_min / len(grits), by="machine")
    if prepare == "stained":
        slot = yield Ask(1 + len(group.pieces), group.free_at)
        shop.log.note(GrainRaised, slot.start, actor=slot.who, pieces=group.pieces)
        group.free_at = slot.end + minutes(75)
        yield from _sand(shop, group, 220, 3.0)
    yield from _blown(shop, group)
    if prepare == "filled":
        yield from _filler(shop, group)
    if prepare == "stained":
        yield from _stain(shop, group)
    slot = yield Ask(1 + 0.5 * len(group.pieces), group.free_at)
    shop.log.note(
        Inspected, slot.start, ended_at=slot.end, actor=slot.who, pieces=group.pieces,
        point="bare", passed=True, lighting="raking",
    )  # fmt: skip
    group.free_at = slot.end


def _sand(shop: Shop, group: Group, grit: int, each_min: float, by: str = "hand") -> Script:
    left = group.pieces
    while left:  # no stretch of the day is longer than four hours
        count = max(1, min(len(left), int(200 / each_min)))
        slot = yield Ask(each_min * count, group.free_at)
        shop.log.note(
            Sanded, slot.start, ended_at=slot.end, actor=slot.who, pieces=left[:count],
            stage="bare", grit=grit, by=by, hands_on_min=round(each_min * count),
        )  # fmt: skip
        left, group.free_at = left[count:], slot.end


def _blown(shop: Shop, group: Group, cloth: str | None = None) -> Script:
    slot = yield Ask(2 + 0.4 * len(group.pieces), group.free_at)
    by = "tack_cloth" if cloth else ("vacuum" if shop.chance(0.6) else "damp_cloth")
    shop.log.note(
        BlownOff, slot.start, ended_at=slot.end, actor=slot.who, pieces=group.pieces, by=by,
        cloth=cloth, room="spray",
    )  # fmt: skip
    group.free_at = slot.end


def _filler(shop: Shop, group: Group) -> Script:
    slot = yield Ask(4 + 4 * len(group.pieces), group.free_at)
    can = shop.cans.pick("filler-w", 0.05 * len(group.pieces), slot.start)
    shop.cans.ready(can, slot.start, slot.who)
    can.left_l = round(can.left_l - 0.05 * len(group.pieces), 3)
    shop.log.note(
        GrainFilled, slot.start + minutes(2), ended_at=slot.end, actor=slot.who,
        pieces=group.pieces, lot=can.lot, room="spray",
    )  # fmt: skip
    group.free_at = slot.end + timedelta(hours=14)
    yield from _sand(shop, group, 180, 3.0)
    yield from _blown(shop, group)


def _stain(shop: Shop, group: Group) -> Script:
    slot = yield Ask(4 + 3 * len(group.pieces), group.free_at)
    litres = round(0.07 * group.area_m2, 3)
    can = shop.cans.pick("stain-w", litres, slot.start)
    shop.cans.ready(can, slot.start, slot.who)
    can.left_l = round(can.left_l - litres, 3)
    shop.log.note(
        Stained, slot.start + minutes(3), ended_at=slot.end, actor=slot.who, pieces=group.pieces,
        lot=can.lot, amount_l=litres, room="spray",
    )  # fmt: skip
    group.free_at = slot.end + timedelta(hours=3, minutes=30)


def _until_sandable(shop: Shop, group: Group, number: int) -> Script:
    """Try the film until it can be sanded; in a hurry nobody tries."""
    assert group.coated_at is not None
    if "too_early" in group.flags and number == 1:
        group.free_at = group.coated_at + minutes(70)
        return
    if "unscuffed" in group.flags and number == 1:
        group.free_at = group.coated_at + timedelta(hours=50)
        return
    truth = shop.dry_at(group, "sandable")
    hours = shop.products[group.product].recoat_h or 3.0
    next_try = max(group.free_at, group.coated_at + timedelta(hours=hours))
    for _ in range(6):
        slot = yield Ask(2, next_try)
        ready = slot.start >= truth
        shop.log.note(
            DrynessChecked, slot.end, actor=slot.who, pieces=group.pieces[:1], stage="sandable",
            ready=ready, face=group.kind.passes[-1][0].replace("all", "show"), by="sanding",
        )  # fmt: skip
        group.free_at = slot.end
        if ready:
            return
        next_try = slot.end + minutes(50)
    group.free_at = max(group.free_at, truth)


def _look_between(shop: Shop, group: Group, number: int) -> Script:
    """Look over what has dried; what cannot be scuffed away leaves the batch for rework."""
    slot = yield Ask(1 + 0.5 * len(group.pieces), group.free_at)
    group.free_at = slot.end
    by_kind = {kind: [p for p in group.pieces if group.soon.get(p) == kind]
               for kind in dict.fromkeys(group.soon.values())}  # fmt: skip
    bad = tuple(p for p in group.pieces if p in group.soon)
    if not bad:
        shop.log.note(
            Inspected, slot.end, actor=slot.who, pieces=group.pieces, point="between_coats",
            passed=True, lighting="raking",
        )  # fmt: skip
        nib = group.pieces[shop.rng.randrange(len(group.pieces))]
        if shop.chance(0.25):
            shop.log.note(
                DefectFound, slot.end, actor=slot.who, pieces=(nib,), kind="nib", extent="spot"
            )
        return
    for kind, pieces in by_kind.items():
        shop.log.note(
            DefectFound, slot.end, actor=slot.who, pieces=tuple(pieces), kind=kind,
            extent="several",
        )  # fmt: skip
        part = group.part(tuple(pieces))
        part.soon = {}
        # What follows rework is the rest of the schedule, by themselves.
        shop.floor.begin(rework(shop, part, kind, partial(_resumed, shop, number)))
    group.pieces = tuple(p for p in group.pieces if p not in bad)
    group.soon = {}


def _resumed(shop: Shop, number: int, group: Group, stripped: bool) -> Script:
    if stripped:
        yield from finished(shop, group)
    else:
        yield from _scuffed(shop, group, number)
        yield from coats(shop, group, number + 1)


def _scuffed(shop: Shop, group: Group, number: int) -> Script:
    by_hand = number == 1 and "machine_scuff" not in group.flags
    if not ("unscuffed" in group.flags and number == 1):
        slot = yield Ask(group.kind.scuff_min * len(group.pieces), group.free_at)
        twice = "double" in group.flags and number == 1
        fact = shop.log.note(
            Sanded, slot.start, ended_at=slot.end, actor=slot.who, pieces=group.pieces,
            stage="between_coats", grit=320, by="hand" if by_hand else "machine",
            abrasive="pad", hands_on_min=round(group.kind.scuff_min * len(group.pieces)),
        )  # fmt: skip
        if twice:
            shop.told["double"] = fact
        group.free_at = slot.end
    if "no_blow" in group.flags and number == 1:
        return
    yield from _blown(shop, group, "waxy" if "waxy" in group.flags and number == 1 else None)
