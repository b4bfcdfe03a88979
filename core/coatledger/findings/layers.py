"""Rules of what lies over what: how thick, how many coats, of which kinds."""

from coatledger.computations.film import (
    FACE_SHARE,
    TRANSFER_EFFICIENCY,
    face_area_m2,
    wet_film_from_amount_um,
)
from coatledger.computations.practice import COATS_A_LONG_DAY
from coatledger.computations.wood_species import species
from coatledger.events.coating import CoatApplied
from coatledger.findings.finding import COMMON, SHEET, Hit, Rule, Seen
from coatledger.findings.place import Place, seen
from coatledger.subjects.piece import Piece

THICK_UM = 150.0  # one wet coat, about 6 mil; common practice, no published source


def _film_too_thick(fact: CoatApplied, place: Place) -> Hit | None:
    film_um = film_of(fact, place)
    sheet = place.sheet(fact.lot)
    told = None if sheet is None else sheet.wet_film_max_um
    most = told or THICK_UM
    if film_um is None or film_um <= most:
        return None
    hit = _act(fact, f"{film_um:.0f} um wet, at most {most:g} um")
    return hit._replace(source=SHEET if told else COMMON)


def _film_too_thin(fact: CoatApplied, place: Place) -> Hit | None:
    film_um = film_of(fact, place)
    sheet = place.sheet(fact.lot)
    least = None if sheet is None else sheet.wet_film_min_um
    if film_um is None or least is None or film_um >= least or fact.role in ("tie", "toner"):
        return None
    return _act(fact, f"{film_um:.0f} um wet, at least {least:g} um")


def _over_coats_max(fact: CoatApplied, place: Place) -> Hit | None:
    sheet = place.sheet(fact.lot)
    most = None if sheet is None else sheet.coats_max

    def test(piece: Piece) -> Seen | None:
        same = sum(1 for c in piece.coats if c.counts and _meets(c.faces, fact.faces))
        if most is None or same < most:
            return None
        return seen(f"coat {same + 1} where the sheet has at most {most}", piece.coats[-1])

    return place.each(test)


def _coats_in_a_day(fact: CoatApplied, place: Place) -> Hit | None:
    def test(piece: Piece) -> Seen | None:
        done = sum(1 for c in piece.coats if place.today(c.at_us) and _meets(c.faces, fact.faces))
        if done < COATS_A_LONG_DAY:
            return None
        return seen(f"coat {done + 1} of one day", piece.coats[-1])

    return place.each(test)


def _kinds_without_tie(fact: CoatApplied, place: Place) -> Hit | None:
    sheet = place.sheet(fact.lot)

    def test(piece: Piece) -> Seen | None:
        last = piece.coats[-1] if piece.coats else None
        below = place.sheet(last.lot) if last else None
        if last is None or below is None or sheet is None or below.kind == sheet.kind:
            return None
        if sheet.kind == "lacquer" or "tie" in (fact.role, last.role) or last.role == "sealer":
            return None
        return seen(f"{_said(sheet.kind)} over {_said(below.kind)} without a tie coat", last)

    return place.each(test)


def _lacquer_over_soft(fact: CoatApplied, place: Place) -> Hit | None:
    sheet = place.sheet(fact.lot)
    if sheet is None or sheet.kind != "lacquer":
        return None

    def test(piece: Piece) -> Seen | None:
        last = piece.coats[-1] if piece.coats else None
        below = place.sheet(last.lot) if last else None
        if last is None or below is None or below.kind == "lacquer":
            return None
        return seen(f"lacquer over {_said(below.kind)}", last)

    return place.each(test)


def _not_a_finish(fact: CoatApplied, place: Place) -> Hit | None:
    sheet = place.sheet(fact.lot)
    if sheet is None or sheet.use not in ("reducer", "extender", "crosslinker", "filler"):
        return None
    return _act(fact, f"{fact.lot} holds {sheet.product}, a {sheet.use}")


def _not_in_schedule(fact: CoatApplied, place: Place) -> Hit | None:
    product = place.lot(fact.lot).product

    def test(piece: Piece) -> Seen | None:
        schedule = place.view.schedule(piece.schedule)
        named = {s.product for s in schedule.steps if s.act == "coat"} if schedule else set()
        if product is None or schedule is None or None in named or not named or product in named:
            return None
        if piece.in_rework:
            return None
        return seen(f"{product} is no coat of schedule {schedule.schedule}", schedule)

    return place.each(test)


def _pores_unfilled(fact: CoatApplied, place: Place) -> Hit | None:
    def test(piece: Piece) -> Seen | None:
        if piece.coats or any(layer.what == "filler" for layer in piece.layers):
            return None
        schedule = place.view.schedule(piece.schedule)
        if schedule is None or schedule.look != "filled":
            return None
        known = species(piece.species) if piece.species else None
        if known is None or known.pores == "closed":
            return None
        pores = known.pores.replace("_", "-")
        return seen(f"{piece.species} has {pores} pores, a filled look was asked", schedule)

    return place.each(test)


def film_of(fact: CoatApplied, place: Place) -> float | None:
    """Return the act's wet film: as read, or from its litres over the areas of all its pieces."""
    if fact.wet_film_um is not None or fact.amount_l is None:
        return fact.wet_film_um
    areas = [piece.coat_area_m2 for piece in place.pieces]
    if not areas or None in areas:
        return None
    total_m2 = sum(area for area in areas if area is not None)
    share = face_area_m2(1.0, fact.faces, FACE_SHARE)
    efficiency = TRANSFER_EFFICIENCY[fact.method].likely_pct
    return wet_film_from_amount_um(fact.amount_l, total_m2 * share, efficiency)


def _act(fact: CoatApplied, says: str) -> Hit:
    return Hit((seen(says, fact),), fact.pieces, f"piece:{fact.pieces[0]}")


def _meets(one: tuple[str, ...], other: tuple[str, ...]) -> bool:
    return "all" in one or "all" in other or not set(one).isdisjoint(other)


def _said(kind: str) -> str:
    return kind.replace("_", "-")


RULES: tuple[Rule, ...] = (
    Rule(
        "film_too_thick", "caution", (CoatApplied,),
        "The wet film was thicker than it should be.",
        "A thick coat sags, dries slowly and traps bubbles.",
        "Give it more time; put the same finish on in two coats.",
        SHEET, _film_too_thick,
    ),
    Rule(
        "film_too_thin", "note", (CoatApplied,),
        "The wet film was thinner than the sheet wants it.",
        "A thin coat does not level and may not form a whole film.",
        "Count on one more coat, or open the gun a little.",
        SHEET, _film_too_thin,
    ),
    Rule(
        "over_coats_max", "caution", (CoatApplied,),
        "More coats than the sheet allows.",
        "A thick system turns brittle and cracks as the wood moves.",
        "Stop here; ask the maker before another coat.",
        SHEET, _over_coats_max,
    ),
    Rule(
        "too_many_coats_in_a_day", "note", (CoatApplied,),
        f"More than {COATS_A_LONG_DAY} coats on one face in one day.",
        "The lower coats go on drying under the upper ones and mark easily for days.",
        "Pack later than the clock of the last coat alone would say.",
        COMMON, _coats_in_a_day,
    ),
    Rule(
        "kinds_without_tie", "caution", (CoatApplied,),
        "One kind of finish over another without a tie coat or a sealer between.",
        "Finishes of different kinds often do not hold on each other.",
        "Try a cross cut on a hidden spot; put a tie coat between next time.",
        COMMON, _kinds_without_tie,
    ),
    Rule(
        "lacquer_over_other_kind", "serious", (CoatApplied,),
        "Lacquer over a film that is no lacquer.",
        "Strong solvent softens and lifts what lies below: it wrinkles.",
        "Stop and look; try on a spot with a sealer between.",
        COMMON, _lacquer_over_soft,
    ),
    Rule(
        "not_a_finish", "serious", (CoatApplied,),
        "What was sprayed is no finish by its own description.",
        "A reducer, extender, crosslinker or filler makes no film by itself.",
        "Correct the can if it was a slip of the pen; otherwise strip.",
        SHEET, _not_a_finish,
    ),
    Rule(
        "product_not_in_schedule", "note", (CoatApplied,),
        "The coat is not of a product its schedule names.",
        "The schedule was chosen as a whole.",
        "Correct the can or describe the schedule anew.",
        COMMON, _not_in_schedule,
    ),
    Rule(
        "pores_unfilled", "caution", (CoatApplied,),
        "A filled look was asked, and open pores were coated unfilled.",
        "Pores telegraph through any number of coats.",
        "Decide now: fill before going on, or agree on a natural look.",
        COMMON, _pores_unfilled,
    ),
)  # fmt: skip
