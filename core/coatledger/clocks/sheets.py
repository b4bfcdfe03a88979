"""A product's description as the drying model wants it: what the sheet says, what is assumed.

The data sheet decides. Where it is silent, or says what cannot be, common practice stands in and
every such value is named in words, so that no answer hides it.
"""

import functools
from collections.abc import Mapping
from itertools import pairwise
from types import MappingProxyType
from typing import Final, TypeAlias

from msgspec import Struct

from coatledger.computations.drying import (
    STAGES,
    Budget,
    Kind,
    Sheet,
    Stage,
    budget,
    stage_hours,
)
from coatledger.computations.practice import PRACTICE
from coatledger.events.setup import ProductDescribed

# Wet film of one coat where neither gauge nor sheet says: common practice, no published source.
WET_FILM_UM: Final[Mapping[str, float]] = MappingProxyType(
    {"water_borne": 100.0, "lacquer": 100.0, "oil_based": 75.0}
)
LAYER_WET_FILM_UM: Final = 50.0  # stain or filler left on the wood: common practice
WINDOW_LEAST_H: Final = 0.01  # what the drying model was checked for
WET_FILM_RANGE_UM: Final = (1.0, 2000.0)  # what the drying model was checked for
STAGE_FIELDS: Final[Mapping[Stage, str]] = MappingProxyType(
    {
        "touch_dry": "touch_dry_h",
        "tack_free": "tack_free_h",
        "sandable": "recoat_h",
        "stackable": "stack_h",
        "wrap_safe": "wrap_h",
        "cured": "cure_h",
    }
)
_Hours: TypeAlias = dict[Stage, float]


class SheetRead(Struct, frozen=True, kw_only=True):
    """A sheet ready for the clock. `key` tells one version of a sheet from another; `assumed`
    tells in words what it does not say itself."""

    key: str
    product: str | None
    sheet: Sheet
    budget: Budget
    assumed_stages: tuple[bool, ...]
    assumed: tuple[str, ...]


@functools.lru_cache(maxsize=512)
def sheet_of(product: ProductDescribed, layer: bool = False) -> SheetRead:
    """Read a product's description; `layer` says that it is wiped on as a stain or filler."""
    says: list[str] = []
    hours = _hours(product, says)
    air_c, rh_pct = product.reference_air_c, product.reference_rh_pct
    if not (-20.0 <= air_c <= 60.0 and 1.0 <= rh_pct <= 95.0):
        says.append(f"a reference climate of {air_c:g} C and {rh_pct:g} % is no room; 21 C, 50 %")
        air_c, rh_pct = 21.0, 50.0
    window_h = product.recoat_max_h
    if window_h is not None and window_h < WINDOW_LEAST_H:
        says.append(f"a recoat window of {window_h:g} h is none; not used")
        window_h = None
    sheet = Sheet(
        kind=product.kind,
        reference_air_c=air_c,
        reference_rh_pct=rh_pct,
        reference_wet_film_um=_reference_film_um(product, layer, says),
        stage_hours=hours,
        recoat_window_h=window_h,
        mfft_c=product.mfft_c,
        burns_in=product.burns_in,
    )
    key = f"{product.product}:{product.id}{'~layer' if layer else ''}"
    return _read(key, product.product, sheet, tuple(says))


@functools.lru_cache(maxsize=64)
def sheet_unknown(kind: Kind, why: str, layer: bool = False) -> SheetRead:
    """Stand in for a sheet nobody gave: common practice of the kind, and said so."""
    film_um = LAYER_WET_FILM_UM if layer else WET_FILM_UM[kind]
    sheet = Sheet(
        kind=kind,
        reference_air_c=21.0,
        reference_rh_pct=50.0,
        reference_wet_film_um=film_um,
        stage_hours={},
    )
    words = kind.replace("_", "-")
    article = "an" if words[0] == "o" else "a"
    says = f"{why}: taken for {article} {words} product at 21 C and 50 % ({PRACTICE})"
    return _read(f"~{kind}{'~layer' if layer else ''}", None, sheet, (says,))


def cured_h(read: SheetRead) -> float:
    """Return the sheet's hours to the last stage."""
    parts = read.budget
    return parts.leaving_first + parts.leaving_late[-1] + parts.curing[-1]


def _read(key: str, product: str | None, sheet: Sheet, says: tuple[str, ...]) -> SheetRead:
    filled = stage_hours(sheet)
    silent = [
        f"{stage} {hours:g} h"
        for stage, hours, assumed in zip(STAGES, filled.hours, filled.assumed, strict=True)
        if assumed
    ]
    if silent and product is not None:
        says = (*says, f"the sheet of {product} is silent on {', '.join(silent)} ({PRACTICE})")
    return SheetRead(
        key=key, product=product, sheet=sheet, budget=budget(sheet), assumed=says,
        assumed_stages=filled.assumed,
    )  # fmt: skip


def _hours(product: ProductDescribed, says: list[str]) -> _Hours:
    """Take the sheet's hours; one that lies after a later stage's is left out, and named."""
    given: _Hours = {}
    for stage, field in STAGE_FIELDS.items():
        value = getattr(product, field)
        if value is not None:
            given[stage] = value
    soonest_later = float("inf")
    for stage in reversed(STAGES):
        if stage not in given:
            continue
        if given[stage] > soonest_later:
            says.append(
                f"{stage} after {given[stage]:g} h comes after a later stage in the sheet of "
                f"{product.product}; left out"
            )
            del given[stage]
        else:
            soonest_later = given[stage]
    assert all(a <= b for a, b in pairwise(given[s] for s in STAGES if s in given))
    return given


def _reference_film_um(product: ProductDescribed, layer: bool, says: list[str]) -> float:
    low, high = WET_FILM_RANGE_UM
    if product.reference_wet_film_um is not None:
        if low <= product.reference_wet_film_um <= high:
            return product.reference_wet_film_um
        says.append(f"a wet film of {product.reference_wet_film_um:g} um is no coat; not used")
    least, most = product.wet_film_min_um, product.wet_film_max_um
    if least is not None and most is not None and low <= least and most <= high:
        middle = (least + most) / 2.0
        says.append(f"the sheet's hours taken for the middle of its wet film, {middle:g} um")
        return middle
    film_um = LAYER_WET_FILM_UM if layer else WET_FILM_UM[product.kind]
    says.append(f"the sheet's hours taken for a wet film of {film_um:g} um ({PRACTICE})")
    return film_um
