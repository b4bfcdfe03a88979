"""Rules of sanding: grits on bare wood and between coats, by what, and when."""

from coatledger.computations import wood_grits
from coatledger.computations.practice import BARE_GRIT_P, BARE_GRIT_UNDER_STAIN_P, SCUFF_GRIT_P
from coatledger.events.coating import CoatApplied
from coatledger.events.preparing import Sanded, Stained
from coatledger.findings.finding import COMMON, SHEET, Hit, Rule, Seen
from coatledger.findings.place import Place, seen
from coatledger.subjects.piece import Piece, Sanding

STAINED_FINEST_P = 320  # common practice, no published source
DAMPER_BY_PCT = 3.0  # moisture above the room's balance; common practice, no published source
DAMP_PCT = 12.0  # without a reading of the air; common practice, no published source
STEPS_SKIPPED = 2  # at most one grade is left out between two; common practice


def _too_coarse(fact: CoatApplied | Stained, place: Place) -> Hit | None:
    def test(piece: Piece) -> Seen | None:
        last = _bare_sanding(piece)
        if piece.coats or last is None or last.grit >= BARE_GRIT_P:
            return None
        return seen(f"bare wood last sanded with P{last.grit}, coarser than P{BARE_GRIT_P}", last)

    return place.each(test)


def _too_fine(fact: CoatApplied, place: Place) -> Hit | None:
    sheet = place.sheet(fact.lot)
    told = None if sheet is None else sheet.bare_grit_max

    def test(piece: Piece) -> Seen | None:
        last = _bare_sanding(piece)
        if piece.coats or last is None:
            return None
        most = told or (STAINED_FINEST_P if piece.stained else BARE_GRIT_UNDER_STAIN_P)
        if last.grit <= most:
            return None
        return seen(f"bare wood last sanded with P{last.grit}, finer than P{most}", last)

    hit = place.each(test)
    return hit._replace(source=SHEET) if hit and told else hit


def _steps_skipped(fact: Sanded, place: Place) -> Hit | None:
    def test(piece: Piece) -> Seen | None:
        last = _bare_sanding(piece)
        if piece.coats or last is None or fact.stage != "bare":
            return None
        if last.grit not in wood_grits.GRAIN_UM or fact.grit not in wood_grits.GRAIN_UM:
            return None
        skipped = wood_grits.grades_skipped(last.grit, fact.grit)
        if skipped < STEPS_SKIPPED:
            return None
        return seen(f"from P{last.grit} to P{fact.grit}, {skipped} grades left out", last)

    return place.each(test)


def _never_sanded(fact: CoatApplied, place: Place) -> Hit | None:
    def test(piece: Piece) -> Seen | None:
        if piece.coats or _bare_sanding(piece) is not None:
            return None
        return seen("no sanding is recorded before the first coat")

    return place.each(test)


def _stained_machine_scuff(fact: Sanded, place: Place) -> Hit | None:
    def test(piece: Piece) -> Seen | None:
        if fact.by != "machine" or not piece.stained or len(piece.coats) != 1:
            return None
        return seen("stained work scuffed by machine on its first coat", piece.coats[0])

    return place.each(test)


def _scuff_too_coarse(fact: Sanded, place: Place) -> Hit | None:
    if fact.stage != "between_coats" or fact.abrasive not in ("paper", "film", "net"):
        return None
    told = [_sheet_grit(piece, place) for piece in place.pieces]

    def test(piece: Piece) -> Seen | None:
        least = _sheet_grit(piece, place) or SCUFF_GRIT_P[0]
        if not piece.coats or fact.grit >= least:
            return None
        return seen(f"scuffed with P{fact.grit}, coarser than P{least}", piece.coats[-1])

    hit = place.each(test)
    return hit._replace(source=SHEET) if hit and any(told) else hit


def _sanded_before_dry(fact: Sanded, place: Place) -> Hit | None:
    def test(piece: Piece) -> Seen | None:
        wait = place.wait(piece, "sandable", fact.faces) if piece.coats else None
        if wait is None or piece.in_rework:
            return None
        says = f"sanded {_passed(wait.share)} of the wait to sanding"
        return seen(says, wait.film)

    return place.each(test)


def _steel_wool(fact: Sanded, place: Place) -> Hit | None:
    if fact.abrasive != "wool":
        return None

    def test(piece: Piece) -> Seen | None:
        sheet = place.sheet(piece.coats[-1].lot) if piece.coats else None
        if sheet is None or sheet.kind != "water_borne":
            return None
        return seen("wool between water-borne coats", piece.coats[-1])

    return place.each(test)


def _wet_on_bare(fact: Sanded, place: Place) -> Hit | None:
    def test(piece: Piece) -> Seen | None:
        return seen("wet-sanded on bare wood") if fact.wet and not piece.coats else None

    return place.each(test)


def _bare_sanding(piece: Piece) -> Sanding | None:
    found = [sanding for sanding in piece.sandings if sanding.coats_before == 0]
    return found[-1] if found else None


def _sheet_grit(piece: Piece, place: Place) -> int | None:
    sheet = place.sheet(piece.coats[-1].lot) if piece.coats else None
    return None if sheet is None else sheet.scuff_grit


def _passed(share: float) -> str:
    return f"after {max(share, 0.0) * 100:.0f} %"


RULES: tuple[Rule, ...] = (
    Rule(
        "bare_sanding_too_coarse", "caution", (CoatApplied, Stained),
        "Bare wood was finished with too coarse a grit.",
        "Coarse scratches show through a clear film and hold colour in lines.",
        f"Sand to P{BARE_GRIT_P} before the next pieces; look at these under raking light.",
        COMMON, _too_coarse,
    ),
    Rule(
        "bare_sanding_too_fine", "caution", (CoatApplied,),
        "Bare wood was sanded finer than the finish wants it.",
        "Polished wood gives the first coat little to hold on to, and stain takes less colour.",
        "Try adhesion on an offcut sanded alike; stop at the sheet's grit next time.",
        COMMON, _too_fine,
    ),
    Rule(
        "grit_steps_skipped", "note", (Sanded,),
        "More than one grade was left out between two sandings.",
        "A fine grit does not take out the scratches of a grit far coarser.",
        "Go back one grade, or sand longer and look under raking light.",
        COMMON, _steps_skipped,
    ),
    Rule(
        "bare_wood_not_sanded", "caution", (CoatApplied,),
        "A first coat went on wood of which no sanding is recorded.",
        "Mill marks and an aged surface spoil look and adhesion.",
        "Record the sanding if it was done; otherwise scuff well after this coat.",
        COMMON, _never_sanded,
    ),
    Rule(
        "stained_machine_scuffed", "serious", (Sanded,),
        "Stained work was scuffed by machine on its first coat.",
        "One thin coat lies over the colour; a machine cuts through it at once.",
        "Look along the edges for light spots; scuff the first coat by hand.",
        COMMON, _stained_machine_scuff,
    ),
    Rule(
        "scuffed_too_coarse", "caution", (Sanded,),
        "The film was scuffed with a grit coarser than it wants.",
        "The next coat may not fill the scratches.",
        "Go over it with the grit the sheet names before coating.",
        COMMON, _scuff_too_coarse,
    ),
    Rule(
        "sanded_before_dry", "serious", (Sanded,),
        "A film was sanded before its clock said sandable.",
        "A soft film balls up and tears, and its dust carries live ingredients, the worse with a "
        "crosslinker in it.",
        "Stop and wait for the clock; keep the dust out of your lungs as the safety data sheet "
        "asks; wet-sand only where the data sheet allows it.",
        SHEET, _sanded_before_dry,
    ),
    Rule(
        "steel_wool_under_water_borne", "caution", (Sanded,),
        "Wool was used between water-borne coats.",
        "Steel splinters rust under water-borne finish and stain oak and ash.",
        "Blow off with care and look for specks; use a synthetic pad.",
        COMMON, _steel_wool,
    ),
    Rule(
        "wet_sanded_bare_wood", "note", (Sanded,),
        "Bare wood was sanded wet.",
        "Water raises the grain and slurry stays in the pores.",
        "Let it dry and sand dry once more.",
        COMMON, _wet_on_bare,
    ),
)  # fmt: skip
