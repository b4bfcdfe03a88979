"""Rules of the can: stirred, strained, fresh, not frozen, mixed as its sheet allows."""

from datetime import date, timedelta

from coatledger.computations.viscosity import CUPS
from coatledger.events.coating import CoatApplied
from coatledger.events.finish import LotMixed, Parent, ViscosityMeasured
from coatledger.events.preparing import Stained
from coatledger.findings.finding import COMMON, SHEET, Hit, Rule
from coatledger.findings.place import HOUR_US, Place, seen
from coatledger.ledger.record import moment
from coatledger.subjects.lot import Lot

Applied = CoatApplied | Stained


def _not_stirred(fact: Applied, place: Place) -> Hit | None:
    lot = _used(fact, place)
    if lot is None or place.today(lot.stirred_us):
        return None
    sheet = place.sheet(lot.lot)
    if sheet is not None and not sheet.stir:
        return None
    says = (
        "was never stirred" if lot.stirred_us is None else f"was stirred on {_day(lot.stirred_us)}"
    )
    return _hit(fact, lot, f"{lot.lot} {says}")


def _not_strained(fact: Applied, place: Place) -> Hit | None:
    lot = _used(fact, place)
    sheet = place.sheet(lot.lot) if lot else None
    if lot is None or sheet is None or sheet.strain_um is None:
        return None
    since_us = lot.opened_us or lot.born_us or 0
    if lot.strained_us is None or lot.strained_us < since_us:
        return _hit(fact, lot, f"{lot.lot} was not strained through {sheet.strain_um:g} um")
    if lot.mesh_um is not None and lot.mesh_um > sheet.strain_um:
        says = f"strained through {lot.mesh_um:g} um, the sheet wants {sheet.strain_um:g} um"
        return _hit(fact, lot, f"{lot.lot} was {says}")
    return None


def _past_pot_life(fact: Applied, place: Place) -> Hit | None:
    lot = _used(fact, place)
    if lot is None or not lot.mixed or lot.born_us is None:
        return None
    ends_us = lot.pot_ends_us
    sheet = place.sheet(lot.lot)
    if ends_us is None and sheet is not None and sheet.pot_life_h is not None and _crosslinked(lot):
        ends_us = lot.born_us + round(sheet.pot_life_h * HOUR_US)
    if ends_us is None or place.at_us <= ends_us:
        return None
    late_h = (place.at_us - ends_us) / HOUR_US
    return _hit(fact, lot, f"{lot.lot} was past its pot life by {late_h:.1f} h")


def _past_use_by(fact: Applied, place: Place) -> Hit | None:
    lot = _used(fact, place)
    if lot is None:
        return None
    last = date.fromisoformat(lot.use_by) if lot.use_by else None
    sheet = place.sheet(lot.lot)
    if last is None and sheet is not None and sheet.shelf_life_days is not None and lot.born_us:
        last = place.day(lot.born_us) + timedelta(days=sheet.shelf_life_days)
    if last is None or place.day(place.at_us) <= last:
        return None
    return _hit(fact, lot, f"{lot.lot} was to be used by {last}")


def _frozen(fact: Applied, place: Place) -> Hit | None:
    lot = _used(fact, place)
    if lot is None or lot.frozen_us is None:
        return None
    sheet = place.sheet(lot.lot)
    hit = _hit(fact, lot, f"{lot.lot} was found frozen on {_day(lot.frozen_us)}")
    return hit._replace(source=SHEET if sheet is not None and sheet.freezes else COMMON)


def _discarded(fact: Applied, place: Place) -> Hit | None:
    lot = _used(fact, place)
    if lot is None or lot.discarded_us is None:
        return None
    return _hit(fact, lot, f"{lot.lot} was thrown away on {_day(lot.discarded_us)}")


def _took_more(fact: Applied, place: Place) -> Hit | None:
    lot = _used(fact, place)
    if lot is None or lot.left_l is None or fact.amount_l is None or lot.unmeasured:
        return None
    if fact.amount_l <= lot.left_l + 0.05:  # an eye's error; common practice
        return None
    says = f"{fact.amount_l:g} L taken, {lot.left_l:g} L were left in {lot.lot}"
    return _hit(fact, lot, says)


def _reducer_over(fact: LotMixed, place: Place) -> Hit | None:
    sheet = place.view.product(fact.product)
    thinned_l = sum(p.amount_l for p in fact.parents if p.part in ("reducer", "water"))
    base_l = sum(p.amount_l for p in fact.parents if p.part not in ("reducer", "water"))
    if sheet is None or sheet.reducer_max_pct is None or not base_l:
        return None
    pct = 100.0 * thinned_l / base_l
    if pct <= sheet.reducer_max_pct + 0.5:  # a graduated cup is not read closer
        return None
    return _mix(fact, f"thinned by {pct:.1f} %, at most {sheet.reducer_max_pct:g} %")


def _pot_life_unknown(fact: LotMixed, place: Place) -> Hit | None:
    sheet = place.view.product(fact.product)
    if not any(p.part == "crosslinker" for p in fact.parents) or fact.pot_life_h is not None:
        return None
    if sheet is not None and sheet.pot_life_h is not None:
        return None
    return _mix(fact, "a crosslinker is in the mix and no pot life is given")


def _water_in_solvent(fact: LotMixed, place: Place) -> Hit | None:
    sheet = place.view.product(fact.product)
    if sheet is None or sheet.kind == "water_borne":
        return None
    if not any(p.part == "water" for p in fact.parents):
        return None
    return _mix(fact, f"water in {sheet.product}, which is {sheet.kind.replace('_', '-')}")


def _kinds_mixed(fact: LotMixed, place: Place) -> Hit | None:
    sheet = place.view.product(fact.product)
    if sheet is None:
        return None
    odd = [p.lot for p in fact.parents if _other_kind(p, sheet.kind, place)]
    if not odd:
        return None
    return _mix(fact, f"{', '.join(odd)} is not {sheet.kind.replace('_', '-')}")


def _parent_past(fact: LotMixed, place: Place) -> Hit | None:
    today = place.day(place.at_us)
    old = [
        f"{lot.lot} (use by {lot.use_by})"
        for lot in (place.lot(p.lot) for p in fact.parents)
        if lot.use_by and date.fromisoformat(lot.use_by) < today
    ]
    return _mix(fact, ", ".join(old)) if old else None


def _cup_out_of_range(fact: ViscosityMeasured, place: Place) -> Hit | None:
    cup = CUPS[fact.cup]
    if cup.low_s <= fact.efflux_s <= cup.high_s:
        return None
    says = f"{fact.efflux_s:g} s from cup {fact.cup}, good for {cup.low_s:g} to {cup.high_s:g} s"
    return Hit((seen(says, fact),), (), f"lot:{fact.lot}", source=cup.source)


def _used(fact: Applied, place: Place) -> Lot | None:
    """Return the can of an act; one that nobody described is told of by another rule."""
    lot = place.lot(fact.lot) if fact.lot else None
    return None if lot is None or lot.stage == "unborn" else lot


def _crosslinked(lot: Lot) -> bool:
    return any(parent.part == "crosslinker" for parent in lot.parents)


def _other_kind(parent: Parent, kind: str, place: Place) -> bool:
    sheet = place.sheet(parent.lot) if parent.part == "base" else None
    return sheet is not None and sheet.kind != kind


def _hit(fact: Applied, lot: Lot, says: str) -> Hit:
    return Hit((seen(says),), fact.pieces, f"lot:{lot.lot}")


def _mix(fact: LotMixed, says: str) -> Hit:
    return Hit((seen(says, fact),), (), f"lot:{fact.lot}")


def _day(us: int) -> str:
    return moment(us).date().isoformat()


RULES: tuple[Rule, ...] = (
    Rule(
        "can_not_stirred", "caution", (CoatApplied, Stained),
        "Finish was used from a can not stirred that day.",
        "Flatting agent and pigment lie at the bottom: sheen and colour change through the can.",
        "Stir to the bottom, slowly, before the first coat of a day.",
        SHEET, _not_stirred, "day",
    ),
    Rule(
        "can_not_strained", "note", (CoatApplied, Stained),
        "Finish was used unstrained, or through too coarse a mesh.",
        "Skins and grit become nibs and stop the nozzle.",
        "Strain into the cup through the mesh the sheet names.",
        SHEET, _not_strained, "day",
    ),
    Rule(
        "past_pot_life", "serious", (CoatApplied, Stained),
        "A mix was used past its pot life.",
        "It has begun to set: it levels badly and may never cure to its full strength.",
        "Discard it as the safety data sheet asks; test these pieces for hardness.",
        SHEET, _past_pot_life, "day",
    ),
    Rule(
        "past_use_by", "caution", (CoatApplied, Stained),
        "Finish was used past its date.",
        "Old finish may not level, cure or keep its sheen.",
        "Try it on a board first; do not use it on dear work.",
        SHEET, _past_use_by, "day",
    ),
    Rule(
        "can_was_frozen", "serious", (CoatApplied, Stained),
        "Finish was used from a can that had frozen.",
        "A frozen water-borne finish may have broken: grains, poor film.",
        "Strain and spray a board; discard the can if it shows grains.",
        SHEET, _frozen, "day",
    ),
    Rule(
        "can_was_discarded", "caution", (CoatApplied, Stained),
        "Finish was used from a can that had been thrown away.",
        "One of the two facts is wrong, and the film of these pieces is not known.",
        "Correct the can, or void the discarding.",
        COMMON, _discarded, "day",
    ),
    Rule(
        "took_more_than_was_left", "note", (CoatApplied, Stained),
        "More was taken from a can than was left in it.",
        "What is left on the shelf is not what the ledger says.",
        "Measure the can; correct the amount if it was a slip.",
        COMMON, _took_more,
    ),
    Rule(
        "reducer_over_limit", "serious", (LotMixed,),
        "More thinner than the sheet allows.",
        "Over-thinned finish sags, loses sheen and does not form a whole film.",
        "Add finish until it is within the limit, or discard it.",
        SHEET, _reducer_over,
    ),
    Rule(
        "pot_life_unknown", "caution", (LotMixed,),
        "A crosslinker was mixed in and nobody said for how long the mix is good.",
        "Nobody will be told when it begins to set.",
        "Look the pot life up in the sheet and describe the product or amend the mix.",
        COMMON, _pot_life_unknown,
    ),
    Rule(
        "water_in_solvent_finish", "serious", (LotMixed,),
        "Water was mixed into a finish that is not water-borne.",
        "It does not mix: the film clouds and falls apart.",
        "Discard the mix as its safety data sheet asks.",
        COMMON, _water_in_solvent,
    ),
    Rule(
        "kinds_mixed", "serious", (LotMixed,),
        "Finishes of different kinds were mixed.",
        "They curdle or cure badly.",
        "Do not spray it on work; mix within one product line.",
        COMMON, _kinds_mixed,
    ),
    Rule(
        "mixed_from_old_can", "caution", (LotMixed,),
        "A mix was made from a can past its date.",
        "The mix is as old as its oldest part.",
        "Try it on a board first.",
        COMMON, _parent_past,
    ),
    Rule(
        "cup_out_of_range", "note", (ViscosityMeasured,),
        "The efflux time lies outside what this cup measures.",
        "The cup's equation does not hold there: no viscosity can be told.",
        "Take a cup with a wider or a finer hole.",
        "the cup's standard", _cup_out_of_range,
    ),
)  # fmt: skip
