"""Putting on one coat: the can made ready, the gun set up, the pieces sprayed, turned, racked."""

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Final, cast

from coatledger.events.coating import CoatApplied, Moved, Role, Turned
from coatledger.events.finish import LotMeasured
from coatledger.events.room_gun import AirMoved, GunFlushed, GunSetUp, TestSprayed

from coatledger_api.demo.cans import Can, Share
from coatledger_api.demo.finishes import GUN_OF, NOZZLE_MM, WET_FILM_UM
from coatledger_api.demo.floor import Ask, Script, Slot, minutes
from coatledger_api.demo.incidents import consequences
from coatledger_api.demo.shop import Group, Shop

SETUP_MIN: Final = 10
# Shares of a piece's area that are coated in one go, and what stays on the piece of what is sprayed
# or wiped: the shop's own figures.
_SHARE: Final[Mapping[tuple[str, ...], float]] = {
    ("underside",): 0.35,
    ("show", "edges"): 0.65,
    ("all",): 1.0,
}
_STAYS: Final[Mapping[str, float]] = {"hvlp": 0.65, "wipe": 0.9}


def coat(shop: Shop, group: Group, number: int, *, role: Role | None = None) -> Script:
    """Put one coat on every face of a group, and carry it to the rack once it can be touched."""
    product = group.kind.coats[min(number, len(group.kind.coats)) - 1]
    wiped = product not in GUN_OF
    last = number >= len(group.kind.coats)
    told: Role = role or ("sealer" if product == "sealer-w" else "top" if last else "build")
    passes = group.kind.passes
    for place, faces in enumerate(passes):
        spray_min = group.kind.coat_min * len(group.pieces) * _SHARE[faces]
        slot = yield Ask(SETUP_MIN + spray_min, group.free_at, booth=not wiped)
        film_um = round(WET_FILM_UM[product] + shop.rng.gauss(0.0, 4.0))
        _one_pass(shop, group, slot, product, faces, told, film_um, number)
        shop.coated(group, product, slot.end, film_um)
        consequences(shop, group, number, slot.end)
        if place + 1 < len(passes):
            dry = max(shop.dry_at(group, "tack_free"), slot.end + minutes(50)) + minutes(30)
            slot = yield Ask(1 + 0.3 * len(group.pieces), dry)
            shop.log.note(
                Turned, slot.start, ended_at=slot.end, actor=slot.who, pieces=group.pieces,
                resting_on="points",
            )  # fmt: skip
            group.free_at = slot.end
    yield from _to_the_rack(shop, group)


def _to_the_rack(shop: Shop, group: Group) -> Script:
    assert group.coated_at is not None
    touch = max(shop.dry_at(group, "touch_dry"), group.coated_at + minutes(25))
    slot = yield Ask(1 + 0.2 * len(group.pieces), touch)
    shop.log.note(
        Moved, slot.end, actor=slot.who, pieces=group.pieces, room="rack", place=shop.place(),
        resting_on="rack",
    )  # fmt: skip
    group.moves = (*group.moves, (slot.end, "rack"))
    group.free_at = slot.end


def _one_pass(
    shop: Shop, group: Group, slot: Slot, product: str, faces: tuple[str, ...], role: Role,
    film_um: float, number: int,
) -> None:  # fmt: skip
    wiped = product not in GUN_OF
    method = "wipe" if wiped else "hvlp"
    litres = round(group.area_m2 * _SHARE[faces] * film_um / 1000.0 / _STAYS[method], 3)
    begins = slot.start + minutes(SETUP_MIN)
    left = list(group.pieces)
    shares = tuple(_shares(shop, group, product, litres, slot, number))
    for place, share in enumerate(shares):
        count = round(len(group.pieces) * share.litres / litres)
        done = tuple(left) if place + 1 == len(shares) else tuple(left[:count])
        left = left[len(done) :]
        ends = begins + (slot.end - begins) * (len(done) / len(group.pieces))
        ends = ends.replace(second=0, microsecond=0) if left else slot.end
        if place:
            shop.cans.ready(share.can, begins - minutes(1), slot.who)
        gun = None if wiped else _gun_ready(shop, group, share.can, begins, slot.who, number)
        fact = shop.log.note(
            CoatApplied, begins, ended_at=ends, actor=slot.who, pieces=done, lot=share.can.lot,
            gun=gun, room="spray", faces=faces, role=role, method=method, wet_film_um=film_um,
            amount_l=share.litres, hands_on_min=round((ends - begins) / minutes(1)),
        )  # fmt: skip
        shop.told[f"{group.name}/coat-{number}"] = fact
        share.can.left_l = round(max(0.0, share.can.left_l - share.litres), 3)
        if left:
            shop.log.note(LotMeasured, ends, actor=slot.who, lot=share.can.lot, left_l=0.0)
            shop.cans.discard(share.can, ends, "empty", slot.who)
            begins = ends
        elif share.can.mixed is not None and share.can.left_l < 0.2:
            shop.cans.discard(share.can, slot.end, "past_pot_life", slot.who)
    shop.oily_rags = shop.oily_rags or wiped


def _shares(
    shop: Shop, group: Group, product: str, litres: float, slot: Slot, number: int
) -> Iterator[Share]:
    """Say which can gives how much; on a bad day one runs dry before the last piece."""
    at, who = slot.start, slot.who
    if product == "clear-2k":
        yield Share(_table_mix(shop, group, litres, number, at, who), litres)
        return
    if "old_can" in group.flags and product in shop.marked:
        can = shop.marked[product]
    else:
        can = shop.cans.pick(product, litres, at)
    unstirred = "unstirred" in group.flags and product != "sealer-w"
    shop.cans.ready(can, at, who, stir=not unstirred)
    if "can_short" not in group.flags or number != 2 or litres < 0.3:
        yield Share(can, litres)
        return
    # Nobody looked into the can: what it holds ends after some of the pieces. Once is enough.
    group.flags -= {"can_short"}
    low = shop.cans.nearly_empty(product)
    if low is not None and 0.2 * litres <= low.left_l <= 0.8 * litres:
        can = low
        shop.cans.ready(can, at, who)
    else:
        can.left_l = round(litres * 0.4, 3)
        shop.log.note(LotMeasured, at, actor=who, lot=can.lot, left_l=can.left_l, by="eye")
    part_l = can.left_l
    yield Share(can, part_l)
    yield Share(shop.cans.pick(product, litres - part_l, at), round(litres - part_l, 3))


def _table_mix(
    shop: Shop, group: Group, litres: float, number: int, at: datetime, who: str
) -> Can:  # fmt: skip
    """Mix for one pass; who mixes for three may be tempted to use the rest past its pot life."""
    thrifty = "old_mix" in group.flags
    old = [c for c in shop.cans.cans if c.mixed is not None and c.left_l >= litres]
    if thrifty and old:
        return old[-1]
    return shop.cans.mix_2k(litres * (4.4 if thrifty and number == 2 else 1.05), at, who)


def _gun_ready(
    shop: Shop, group: Group, can: Can, begins: datetime, who: str, number: int
) -> str:  # fmt: skip
    """Flush and set up the gun when another can was in it, and try it on paper."""
    gun = GUN_OF[can.product]
    before = shop.gun_lot.get(gun)
    if before is can and gun in shop.guns_dirty:
        return gun
    using = "solvent" if can.product == "lacquer-n" else "water"
    other = before is not None and before.product != can.product and gun in shop.guns_dirty
    if other and "unflushed" not in group.flags:
        shop.log.note(GunFlushed, begins - minutes(6), actor=who, gun=gun, using=using)
    wrong = "wrong_nozzle" in group.flags and number > 1
    shop.log.note(
        GunSetUp, begins - minutes(5), actor=who, gun=gun, lot=can.lot, hands_on_min=3,
        nozzle_mm=1.8 if wrong else NOZZLE_MM[can.product], fan_width_mm=200.0,
        cap_pressure_kpa=60.0, distance_mm=170.0, overlap_pct=50.0,
    )  # fmt: skip
    shop.log.note(
        TestSprayed, begins - minutes(2), actor=who, gun=gun, lot=can.lot, passes=2,
        fan_width_mm=cast("float", shop.rng.randrange(190, 211)),
        result="wet" if wrong else "good", wet_film_um=WET_FILM_UM[can.product],
    )  # fmt: skip
    if gun not in shop.guns_dirty:
        shop.log.note(
            AirMoved, begins - minutes(1), actor=who, room="spray", device="exhaust", on=True
        )  # fmt: skip
    shop.gun_lot[gun] = can
    shop.guns_dirty[gun] = using
    return gun
