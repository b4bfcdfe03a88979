"""What goes wrong in the invented shop, where, and what comes of it.

A flag is bad practice that stands in the facts; the faults it leads to are found later by looking.
Nothing here writes a finding: the ledger has to see for itself.
"""

from collections.abc import Mapping
from datetime import datetime
from types import MappingProxyType
from typing import TYPE_CHECKING, Final, NamedTuple

from coatledger.events.judging import DefectKind, Remedy

if TYPE_CHECKING:
    from coatledger_api.demo.shop import Group, Shop

REMEDY: Final[Mapping[str, Remedy]] = MappingProxyType(
    {
        "nib": "rub_out", "hair": "rub_out", "orange_peel": "rub_out", "sag": "spot_sand",
        "fish_eye": "recoat", "soft_film": "recoat", "wrinkling": "strip", "peeling": "strip",
        "cracking": "strip", "blushing": "recoat", "sanding_scratch": "strip",
        "sand_through": "recoat", "witness_line": "recoat", "imprint": "rub_out",
        "sheen_off": "recoat",
    }
)  # fmt: skip


class Effect(NamedTuple):
    """A flag's fault: after which coat, on what share of pieces, seen before the next coat or at
    the end."""

    coat: int
    kind: DefectKind
    share: float
    at_once: bool


EFFECTS: Final[Mapping[str, Effect]] = MappingProxyType(
    {
        "waxy": Effect(2, "fish_eye", 0.85, True),
        "too_early": Effect(2, "soft_film", 0.45, False),
        "unscuffed": Effect(2, "witness_line", 0.35, False),
        "no_blow": Effect(2, "nib", 0.5, False),
        "wrong_nozzle": Effect(2, "orange_peel", 0.35, False),
        "unstirred": Effect(3, "sheen_off", 0.4, False),
        "coarse": Effect(1, "sanding_scratch", 0.25, False),
        "machine_scuff": Effect(2, "sand_through", 0.4, True),
        "cold": Effect(1, "cracking", 0.99, True),
        "rework_twice": Effect(5, "sag", 0.99, False),
        "defect_waits": Effect(2, "sag", 0.3, False),
    }
)
DAMP_RH_PCT: Final = 68.0

# Working day (from the first; negative from the newest) -> other kind, flags of that day's batch.
PLAN: Final[Mapping[int, tuple[str, tuple[str, ...]]]] = MappingProxyType(
    {
        0: ("", ("damaged",)), 1: ("", ("rush",)), 2: ("", ("wrong_nozzle",)),
        3: ("", ("double", "unflushed")),
        5: ("", ("machine_scuff",)), 6: ("", ("can_short",)),
        7: ("", ("waxy",)), 8: ("", ("waxy",)), 9: ("box", ("hold_some",)),
        10: ("box", ("cold",)), 11: ("shelf", ("wrong_piece",)), 12: ("", ("no_blow", "repack")),
        13: ("", ("unscuffed",)), 14: ("shelf", ("scrap_one",)), 15: ("", ("too_early",)),
        16: ("box_lacquer", ()), 17: ("", ("too_early",)), 18: ("", ("old_can",)),
        19: ("box_oil", ()), 20: ("", ("coarse",)),
        -7: ("shelf_filled", ("unfilled",)), -6: ("box", ("unstirred", "short_coats")),
        -5: ("box_oil", ()), -4: ("shelf", ("defect_waits",)), -3: ("box", ("hold_one",)),
        -2: ("box_oil", ("danger",)), -1: ("shelf", ()),
    }
)  # fmt: skip
ROTATION: Final = (
    "shelf", "box", "bedside", "shelf_filled", "box_lacquer", "bedside_dark", "shelf", "box",
    "bedside", "box_oil",
)  # fmt: skip
# Begun beside the day's batch: the dear tables, and more on the newest days.
BESIDE: Final[Mapping[int, tuple[str, tuple[str, ...]]]] = MappingProxyType(
    {
        1: ("table", ("rework_twice",)), 12: ("table", ("old_mix",)), -4: ("table", ()),
        -2: ("box", ()), -1: ("bedside", ()),
    }
)  # fmt: skip


def plan_of(index: int, count: int) -> tuple[str, frozenset[str]]:
    """Return the kind and the flags of the batch begun on a working day."""
    kind, flags = PLAN.get(index, PLAN.get(index - count, ("", ())))
    return kind or ROTATION[index % len(ROTATION)], frozenset(flags)


def consequences(shop: "Shop", group: "Group", number: int, at: datetime) -> None:
    """Let a coat carry the faults that what was done before it leads to."""
    for flag in sorted(group.flags):
        effect = EFFECTS.get(flag)
        if effect is None or effect.coat != number:
            continue
        found = group.soon if effect.at_once else group.later
        for piece in shop.some(group.pieces, effect.share):
            found.setdefault(piece, effect.kind)
    damp = shop.air.around("spray", at).rh_pct > DAMP_RH_PCT
    if damp and group.product == "lacquer-n":
        for piece in shop.some(group.pieces, 0.4):
            group.soon.setdefault(piece, "blushing")
    for piece in group.pieces:
        if shop.chance(0.008):
            group.later.setdefault(piece, "hair" if shop.chance(0.3) else "nib")


def without(flags: frozenset[str]) -> frozenset[str]:
    """Return the flags of pieces in rework: a slip is not made twice, except on the dear table."""
    return flags & frozenset(("rework_twice",))
