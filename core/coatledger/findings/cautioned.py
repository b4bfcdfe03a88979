"""What to be careful of, at the act that brings it about or is about to: never a permission.

The words stand in one table (`computations.cautions`); here is which act, with which finish, calls
for which of them. What the product's own description asks for is added.
"""

from collections.abc import Callable, Iterable, Mapping
from types import MappingProxyType
from typing import Any

from coatledger.computations.cautions import (
    CAUTIONS,
    Caution,
    for_coating,
    for_gun,
    for_sanding,
)
from coatledger.events.base import Fact
from coatledger.events.coating import CoatApplied
from coatledger.events.finish import LotMixed
from coatledger.events.preparing import BlownOff, GrainFilled, Sanded, Stained
from coatledger.events.room_gun import GunFlushed, GunStripCleaned, TestSprayed
from coatledger.events.setup import ProductDescribed, Step
from coatledger.subjects.piece import Piece
from coatledger.subjects.view import View

SENSITISERS = ("isocyanate", "aziridine")
CURES_WITHIN_H = 168.0  # where the sheet is silent; common practice, no published source
HOUR_US = 3_600_000_000
Found = Iterable[Caution]


def cautions_of(view: View, fact: Fact) -> tuple[Caution, ...]:
    """Return what to be careful of at an act, most general first, each once."""
    look = _LOOKS.get(type(fact))
    return () if look is None else tuple(dict.fromkeys(look(view, fact)))


def cautions_ahead(view: View, piece: Piece, step: Step | None) -> tuple[Caution, ...]:
    """Return what to be careful of at a piece's next step."""
    if step is None:
        return ()
    found: list[Caution] = []
    sheet = view.product(step.product)
    if step.act == "coat":
        last = piece.coats[-1] if piece.coats else None
        sheet = sheet or (view.product_of_lot(last.lot) if last else None)
        found += _coating(view, "hvlp" if last is None else last.method, sheet, None)
    elif step.act in ("stain", "fill_grain"):
        found += _wiped(sheet, "none")
    elif step.act in ("sand", "scuff"):
        found += for_sanding(cured=_is_cured(view, piece))
    elif step.act == "blow_off":
        found.append(CAUTIONS["blow_off_dust"])
    return tuple(dict.fromkeys(found))


def _of_coat(view: View, fact: CoatApplied) -> Found:
    return _coating(view, fact.method, view.product_of_lot(fact.lot), fact.lot)


def _of_trial(view: View, fact: TestSprayed) -> Found:
    gun = view.gun_described(fact.gun)
    method = "hvlp" if gun is None else gun.method
    return _coating(view, method, view.product_of_lot(fact.lot), fact.lot)


def _coating(view: View, method: str, sheet: ProductDescribed | None, lot: str | None) -> Found:
    yield from for_coating(method, "" if sheet is None else sheet.kind)
    yield from _asked_by(sheet)
    for parent in () if lot is None else view.lot(lot).parents:
        yield from _sensitisers(view.product_of_lot(parent.lot))


def _of_stain(view: View, fact: Stained) -> Found:
    return _wiped(view.product_of_lot(fact.lot), fact.binder)


def _of_filler(view: View, fact: GrainFilled) -> Found:
    return _wiped(view.product_of_lot(fact.lot), "none")


def _wiped(sheet: ProductDescribed | None, binder: str) -> Found:
    kind = binder if sheet is None else sheet.kind
    if "oil_based" in (binder, kind):
        yield CAUTIONS["self_heating_rags"]
    if "lacquer" in (binder, kind):
        yield CAUTIONS["flammable_solvent"]
    yield from _asked_by(sheet)


def _of_mix(view: View, fact: LotMixed) -> Found:
    for parent in fact.parents:
        yield from _asked_by(view.product_of_lot(parent.lot))
    yield from _asked_by(view.product(fact.product))


def _of_sanding(view: View, fact: Sanded) -> Found:
    cured = all(_is_cured(view, view.piece(word)) for word in fact.pieces)
    return for_sanding(cured=cured)


def _of_blowing_off(view: View, fact: BlownOff) -> Found:
    return (CAUTIONS["blow_off_dust"],) if fact.by == "compressed_air" else ()


def _of_rinsing(view: View, fact: GunFlushed | GunStripCleaned) -> Found:
    gun = view.gun_described(fact.gun)
    # A body nobody described may be aluminium, as most are.
    return for_gun("aluminium" if gun is None else gun.body, fact.using)


def _is_cured(view: View, piece: Piece) -> bool:
    """Whether there is no film, or it is older than its sheet's cure; the clock knows better."""
    if not piece.coats:
        return True
    sheet = view.product_of_lot(piece.coats[-1].lot)
    hours = CURES_WITHIN_H if sheet is None or sheet.cure_h is None else sheet.cure_h
    return view.at_us - piece.coats[-1].at_us >= hours * HOUR_US


def _asked_by(sheet: ProductDescribed | None) -> Found:
    return () if sheet is None else [CAUTIONS[code] for code in sheet.cautions]


def _sensitisers(sheet: ProductDescribed | None) -> Found:
    return [caution for caution in _asked_by(sheet) if caution.code in SENSITISERS]


# Each look takes a fact of its own type, so the table's is Any.
_LOOKS: Mapping[type[Fact], Callable[[View, Any], Found]] = MappingProxyType(
    {
        CoatApplied: _of_coat,
        TestSprayed: _of_trial,
        Stained: _of_stain,
        GrainFilled: _of_filler,
        LotMixed: _of_mix,
        Sanded: _of_sanding,
        BlownOff: _of_blowing_off,
        GunFlushed: _of_rinsing,
        GunStripCleaned: _of_rinsing,
    }
)
CAUTIONED: frozenset[type[Fact]] = frozenset(_LOOKS)
