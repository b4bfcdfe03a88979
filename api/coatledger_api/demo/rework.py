"""The way through rework: rubbed out, sanded and coated again, or stripped and begun anew."""

from collections.abc import Callable
from datetime import timedelta

from coatledger.events.judging import DefectKind, ReworkFinished, ReworkStarted
from coatledger.events.leaving import Polished, RubbedOut
from coatledger.events.preparing import BlownOff, Sanded

from coatledger_api.demo.floor import Ask, Script, minutes
from coatledger_api.demo.incidents import DAMP_RH_PCT, REMEDY, without
from coatledger_api.demo.shop import Group, Shop
from coatledger_api.demo.spraying import coat


def rework(
    shop: Shop, group: Group, kind: DefectKind, after: Callable[[Group, bool], Script]
) -> Script:  # fmt: skip
    """Put pieces right, then go on as `after` says; it is told whether they were stripped."""
    if "defect_waits" in group.flags:
        return  # found, and nobody has come to it yet
    remedy = REMEDY[kind]
    group.flags = without(group.flags)
    if kind == "blushing":  # more lacquer in the same air would blush again
        group.free_at = shop.air.drier_from("spray", group.free_at, DAMP_RH_PCT)
    # Pieces in rework wait for the film to be hard enough, and for a quiet hour.
    slot = yield Ask(3, group.free_at + minutes(45))
    shop.log.note(
        ReworkStarted, slot.end, actor=slot.who, pieces=group.pieces, remedy=remedy, because=kind
    )
    group.free_at = slot.end
    if remedy == "rub_out":
        yield from _rubbed(shop, group)
    elif remedy == "strip":
        yield from _stripped(shop, group)
    else:
        grit = 400 if remedy == "spot_sand" else 320
        yield from _sanded(shop, group, "spot" if remedy == "spot_sand" else "final", grit, 6.0)
        yield from coat(shop, group, len(group.kind.coats), role="top")
        group.free_at = shop.dry_at(group, "sandable")
    slot = yield Ask(2, group.free_at)
    done = "recoat" if remedy == "spot_sand" else remedy
    shop.log.note(
        ReworkFinished, slot.end, actor=slot.who, pieces=group.pieces, done=done,
        hands_on_min=4 * len(group.pieces),
    )  # fmt: skip
    group.free_at = slot.end
    if remedy == "strip":
        # A stripped piece has had its whole schedule within the rework.
        group.soon, group.later = {}, {}
    yield from after(group, remedy == "strip")


def _rubbed(shop: Shop, group: Group) -> Script:
    slot = yield Ask(7.0 * len(group.pieces), group.free_at)
    shop.log.note(
        RubbedOut, slot.start, ended_at=slot.end, actor=slot.who, pieces=group.pieces, grit=2000,
        wet=True, hands_on_min=7 * len(group.pieces),
    )  # fmt: skip
    shop.log.note(Polished, slot.end, actor=slot.who, pieces=group.pieces, hands_on_min=2)
    group.free_at = slot.end + minutes(5)


def _sanded(shop: Shop, group: Group, stage: str, grit: int, each_min: float) -> Script:
    slot = yield Ask(each_min * len(group.pieces), group.free_at)
    shop.log.note(
        Sanded, slot.start, ended_at=slot.end, actor=slot.who, pieces=group.pieces, stage=stage,
        grit=grit, hands_on_min=round(each_min * len(group.pieces)),
    )  # fmt: skip
    shop.log.note(
        BlownOff, slot.end, actor=slot.who, pieces=group.pieces, by="vacuum", room="spray",
        hands_on_min=2,
    )  # fmt: skip
    group.free_at = slot.end + minutes(2)


def _stripped(shop: Shop, group: Group) -> Script:
    group.free_at += timedelta(hours=1)
    yield from _sanded(shop, group, "bare", 120, group.kind.sand_min * 0.8)
    yield from _sanded(shop, group, "bare", 150, group.kind.sand_min * 0.4)
    for number in range(1, len(group.kind.coats) + 1):
        yield from coat(shop, group, number)
        group.free_at = max(group.free_at, shop.dry_at(group, "sandable"))
        if number < len(group.kind.coats):
            yield from _sanded(shop, group, "between_coats", 320, group.kind.scuff_min)
