"""What the invented shop finishes and sells: kinds of piece, their schedules and offerings."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, Final, NamedTuple

from coatledger.events.setup import Step

from coatledger_api.demo.finishes import GUN_OF


class Kind(NamedTuple):
    """One kind of piece: what is told when it is started, and how long each act takes on one."""

    prefix: str
    started: Mapping[str, Any]
    coats: tuple[str, ...]
    passes: tuple[tuple[str, ...], ...]
    batch: int
    offering: str
    sku: str
    lead_days: int
    price: int
    prepare: str = "plain"
    sand_min: float = 12.0
    coat_min: float = 2.0
    scuff_min: float = 2.5
    rubbed: bool = False


def _piece(kind: str, species: str, area_m2: float, use: str, **more: Any) -> Mapping[str, Any]:
    return MappingProxyType(
        {"kind": kind, "species": species, "coat_area_m2": area_m2, "use": use, **more}
    )


_ALL_ROUND: Final = (("all",),)
_TWO_SIDES: Final = (("underside",), ("show", "edges"))
_BEDSIDE: Final = _piece(
    "bedside table", "ash", 1.15, "table", length_mm=460.0, width_mm=380.0, sheen="satin",
    schedule="bedside-4",
)  # fmt: skip
_SHELF: Final = _piece(
    "shelf", "white-oak", 0.62, "shelf", length_mm=900.0, width_mm=260.0, thickness_mm=24.0,
    sheen="matte", schedule="shelf-3",
)  # fmt: skip
_BOX: Final = _piece(
    "jewellery box", "cherry", 0.19, "box", length_mm=240.0, width_mm=160.0, sheen="satin",
    schedule="box-3",
)  # fmt: skip
_TABLE: Final = _piece(
    "dining table", "walnut", 3.4, "table", length_mm=2100.0, width_mm=950.0, thickness_mm=32.0,
    declared_value=285_000, currency="EUR", sheen="satin", schedule="table-5",
)  # fmt: skip
_CLEAR_3: Final = ("sealer-w", "clear-w", "clear-w")

KINDS: Final[Mapping[str, Kind]] = MappingProxyType(
    {
        "bedside": Kind(
            "BT", _BEDSIDE, (*_CLEAR_3, "clear-w"), _ALL_ROUND, 6, "bedside-ash", "BT-ASH", 6,
            24_000, sand_min=18.0, coat_min=3.5, scuff_min=4.0,
        ),
        "bedside_dark": Kind(
            "BD", MappingProxyType({**_BEDSIDE, "schedule": "bedside-dark-4", "stained": True}),
            (*_CLEAR_3, "clear-w"), _ALL_ROUND, 5, "bedside-ash", "BT-ASH-DARK", 7, 26_000,
            prepare="stained", sand_min=18.0, coat_min=3.5, scuff_min=4.0,
        ),
        "shelf": Kind(
            "SH", _SHELF, _CLEAR_3, _TWO_SIDES, 9, "shelf-oak", "SH-OAK-90", 5, 9_500,
            sand_min=9.0, coat_min=1.2, scuff_min=2.0,
        ),
        "shelf_filled": Kind(
            "SF", MappingProxyType({**_SHELF, "schedule": "shelf-filled-3"}), _CLEAR_3,
            _TWO_SIDES, 7, "shelf-oak", "SH-OAK-90-SMOOTH", 6, 11_500, prepare="filled",
            sand_min=9.0, coat_min=1.2, scuff_min=2.0,
        ),
        "box": Kind(
            "JB", _BOX, _CLEAR_3, _ALL_ROUND, 8, "box-cherry", "JB-CHERRY", 5, 7_800,
            sand_min=12.0, coat_min=1.5, scuff_min=2.0,
        ),
        "box_lacquer": Kind(
            "JL", MappingProxyType({**_BOX, "schedule": "box-lacquer-3"}), ("lacquer-n",) * 3,
            _ALL_ROUND, 6, "box-cherry", "JB-CHERRY-SHINE", 5, 8_400, sand_min=12.0,
            coat_min=1.5, scuff_min=2.0, rubbed=True,
        ),
        "box_oil": Kind(
            "JO", MappingProxyType({**_BOX, "schedule": "box-oil-3"}), ("oil-rub",) * 3,
            _ALL_ROUND, 6, "box-cherry", "JB-CHERRY-OIL", 8, 8_200, sand_min=12.0, coat_min=3.0,
            scuff_min=1.5,
        ),
        "table": Kind(
            "DT", _TABLE, ("sealer-w", *("clear-2k",) * 4), _TWO_SIDES, 1, "table-walnut",
            "DT-WALNUT-210", 14, 285_000, sand_min=150.0, coat_min=14.0, scuff_min=30.0,
            rubbed=True,
        ),
    }
)  # fmt: skip


def _steps(before: tuple[Step, ...], coats: tuple[str, ...], *, rubbed: bool) -> tuple[Step, ...]:
    steps = list(before)
    for number, product in enumerate(coats):
        if number:
            steps += [Step(act="scuff", grit=320), Step(act="blow_off")]
        role = "sealer" if product == "sealer-w" else "top" if number + 1 == len(coats) else "build"
        wiped = product not in GUN_OF
        steps.append(Step(act="coat", product=product, role=role, by_hand=wiped))  # type: ignore[arg-type]
    steps.append(Step(act="inspect"))
    if rubbed:
        steps += [Step(act="rub_out"), Step(act="polish")]
    return (*steps, Step(act="pack"))


_BARE: Final = (Step(act="sand", grit=120), Step(act="sand", grit=150), Step(act="blow_off"))
_FILLED: Final = (*_BARE, Step(act="fill_grain", product="filler-w"), Step(act="sand", grit=180),
                  Step(act="blow_off"))  # fmt: skip
_STAINED: Final = (
    Step(act="sand", grit=150), Step(act="raise_grain"), Step(act="sand", grit=220),
    Step(act="blow_off"), Step(act="stain", product="stain-w"),
)  # fmt: skip

# Schedule -> what is told of it; the kinds above say which coats.
SCHEDULES: Final[Mapping[str, Mapping[str, Any]]] = MappingProxyType(
    {
        name: {
            "steps": _steps(before, KINDS[kind].coats, rubbed=KINDS[kind].rubbed),
            "faces": tuple(f for faces in KINDS[kind].passes for f in faces),
            "use": KINDS[kind].started["use"],
            "look": "filled" if before is _FILLED else "natural",
        }
        for name, kind, before in (
            ("bedside-4", "bedside", _BARE),
            ("bedside-dark-4", "bedside_dark", _STAINED),
            ("shelf-3", "shelf", _BARE),
            ("shelf-filled-3", "shelf_filled", _FILLED),
            ("box-3", "box", _BARE),
            ("box-lacquer-3", "box_lacquer", _BARE),
            ("box-oil-3", "box_oil", _BARE),
            ("table-5", "table", _BARE),
        )
    }
)

OFFERINGS: Final[Mapping[str, Mapping[str, Any]]] = MappingProxyType(
    {
        "bedside-ash": {
            "skus": ("BT-ASH", "BT-ASH-DARK"), "schedule": "bedside-4", "name": "bedside table",
            "species": "ash", "coat_area_m2": 1.15, "options": {"colour": ("natural", "dark")},
            "joinery_days": 5,
        },
        "shelf-oak": {
            "skus": ("SH-OAK-90", "SH-OAK-90-SMOOTH"), "schedule": "shelf-3",
            "name": "wall shelf, 90 cm", "species": "white-oak", "coat_area_m2": 0.62,
            "options": {"pores": ("open", "smooth")}, "joinery_days": 3,
        },
        "box-cherry": {
            "skus": ("JB-CHERRY", "JB-CHERRY-SHINE", "JB-CHERRY-OIL"), "schedule": "box-3",
            "name": "jewellery box", "species": "cherry", "coat_area_m2": 0.19,
            "options": {"finish": ("satin", "shine", "oil")}, "joinery_days": 4,
        },
        "table-walnut": {
            "skus": ("DT-WALNUT-210",), "schedule": "table-5", "name": "dining table, 210 cm",
            "species": "walnut", "coat_area_m2": 3.4, "joinery_days": 14,
        },
    }
)  # fmt: skip
