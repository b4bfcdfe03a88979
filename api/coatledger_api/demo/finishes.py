"""The finishes on the invented shop's shelf, each as its (invented) data sheet gives it."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, Final

_CLEAR: Final[Mapping[str, Any]] = MappingProxyType(
    {
        "kind": "water_borne", "volume_solids_pct": 32.0, "reference_air_c": 21.0,
        "reference_rh_pct": 50.0, "reference_wet_film_um": 100.0, "touch_dry_h": 0.5,
        "tack_free_h": 0.8, "recoat_h": 2.5, "recoat_max_h": 48.0, "stack_h": 10.0,
        "wrap_h": 20.0, "cure_h": 168.0, "mfft_c": 7.0, "air_min_c": 15.0, "air_max_c": 28.0,
        "rh_min_pct": 30.0, "rh_max_pct": 70.0, "wet_film_min_um": 80.0,
        "wet_film_max_um": 125.0, "nozzle_min_mm": 1.1, "nozzle_max_mm": 1.4, "scuff_grit": 320,
        "bare_grit_max": 180, "strain_um": 190.0, "reducer_max_pct": 10.0,
        "shelf_life_days": 365, "freezes": True,
    }
)  # fmt: skip

# Product -> its sheet. The values are invented, of the size such sheets give.
PRODUCTS: Final[Mapping[str, Mapping[str, Any]]] = MappingProxyType(
    {
        "sealer-w": {
            **_CLEAR, "name": "water-borne sanding sealer", "use": "sealer", "touch_dry_h": 0.4,
            "recoat_h": 2.0, "wrap_h": 16.0, "coats_max": 1, "volume_solids_pct": 30.0,
            "bare_grit_max": 240,
        },
        "clear-w": {
            **_CLEAR, "name": "water-borne clear, satin", "coats_min": 3, "coats_max": 5,
        },
        "clear-2k": {
            **_CLEAR, "name": "water-borne clear for tables, crosslinked", "coats_min": 3,
            "volume_solids_pct": 35.0, "cure_h": 120.0, "pot_life_h": 4.0,
            "cautions": ("isocyanate",),
        },
        "hardener-x": {
            "kind": "water_borne", "name": "crosslinker for clear-2k", "use": "crosslinker",
            "stir": False, "cautions": ("isocyanate",), "shelf_life_days": 180,
        },
        "extender-w": {
            "kind": "water_borne", "name": "slow water-borne extender", "use": "extender",
            "stir": False, "freezes": True,
        },
        "stain-w": {
            "kind": "water_borne", "name": "water-borne stain, dark oak", "use": "stain",
            "touch_dry_h": 0.5, "recoat_h": 3.0, "stack_h": 4.0, "wrap_h": 6.0, "cure_h": 24.0,
            "freezes": True,
        },
        "filler-w": {
            "kind": "water_borne", "name": "water-borne grain filler", "use": "filler",
            "touch_dry_h": 0.5, "recoat_h": 12.0, "stack_h": 12.0, "wrap_h": 14.0, "cure_h": 48.0,
            "freezes": True,
        },
        "lacquer-n": {
            "kind": "lacquer", "name": "nitrocellulose lacquer, satin", "volume_solids_pct": 18.0,
            "reference_wet_film_um": 90.0, "touch_dry_h": 0.2, "tack_free_h": 0.4,
            "recoat_h": 1.0, "stack_h": 8.0, "wrap_h": 24.0, "cure_h": 168.0, "burns_in": True,
            "air_min_c": 16.0, "air_max_c": 30.0, "rh_max_pct": 65.0, "wet_film_min_um": 70.0,
            "wet_film_max_um": 120.0, "nozzle_min_mm": 1.3, "nozzle_max_mm": 1.6,
            "cautions": ("flammable_solvent",),
        },
        "oil-rub": {
            "kind": "oil_based", "name": "wiping oil", "volume_solids_pct": 60.0,
            "reference_wet_film_um": 30.0, "touch_dry_h": 6.0, "tack_free_h": 8.0,
            "recoat_h": 16.0, "stack_h": 36.0, "wrap_h": 60.0, "cure_h": 500.0,
            "air_min_c": 12.0, "wet_film_min_um": 15.0, "wet_film_max_um": 45.0,
            "cautions": ("flammable_solvent", "self_heating_rags"),
        },
    }
)  # fmt: skip

# How much slower each dries in this shop than its sheet says. The ledger is never told: its clock
# has to learn it from the dryness checks.
HIDDEN_FACTOR: Final[Mapping[str, float]] = MappingProxyType(
    {"sealer-w": 1.05, "clear-w": 1.2, "clear-2k": 1.1, "lacquer-n": 0.95, "oil-rub": 1.15}
)
WET_FILM_UM: Final[Mapping[str, float]] = MappingProxyType(
    {"sealer-w": 95.0, "clear-w": 105.0, "clear-2k": 110.0, "lacquer-n": 90.0, "oil-rub": 28.0}
)
NOZZLE_MM: Final[Mapping[str, float]] = MappingProxyType(
    {"sealer-w": 1.3, "clear-w": 1.3, "clear-2k": 1.3, "lacquer-n": 1.4}
)
GUN_OF: Final[Mapping[str, str]] = MappingProxyType(
    {"sealer-w": "gun-1", "clear-w": "gun-1", "clear-2k": "gun-2", "lacquer-n": "gun-3"}
)
# Product -> litres in a can, cans on the shelf on the first day, litres below which more is asked.
CANS: Final[Mapping[str, tuple[float, int, float]]] = MappingProxyType(
    {
        "sealer-w": (5.0, 2, 4.0), "clear-w": (5.0, 2, 5.0), "clear-2k": (4.0, 1, 2.0),
        "hardener-x": (0.5, 1, 0.2), "extender-w": (1.0, 1, 0.3), "stain-w": (1.0, 1, 0.4),
        "filler-w": (2.0, 1, 0.6), "lacquer-n": (2.5, 1, 0.8), "oil-rub": (1.0, 1, 0.3),
    }
)  # fmt: skip
