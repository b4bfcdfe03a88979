"""Rules of time and place while finish dries: recoating, turning, standing."""

from coatledger.computations.wood_species import species
from coatledger.events.coating import CoatApplied, Moved, Turned
from coatledger.findings.finding import COMMON, SHEET, Hit, Rule, Seen, Severity
from coatledger.findings.place import HOUR_US, Place, seen
from coatledger.ledger.record import moment
from coatledger.subjects.piece import Piece

FAR_TOO_EARLY = 0.7  # below this share of the wait a recoat is serious; common practice


def _recoat_too_early(fact: CoatApplied, place: Place) -> Hit | None:
    return _too_early(fact, place, layers=False)


def _stain_not_dry(fact: CoatApplied, place: Place) -> Hit | None:
    return _too_early(fact, place, layers=True)


def _too_early(fact: CoatApplied, place: Place, *, layers: bool) -> Hit | None:
    worst = [1.0]
    assumed = [False]

    def test(piece: Piece) -> Seen | None:
        wait = place.wait(piece, "sandable", fact.faces)
        if wait is None or (wait.film.what != "coat") != layers:
            return None
        worst[0] = min(worst[0], wait.share)
        assumed[0] = assumed[0] or wait.assumed
        ready = "never in this air" if wait.ready_us is None else _clock(wait.ready_us)
        waited = (place.at_us - wait.film.applied_us) / HOUR_US
        return seen(f"{wait.film.what} of {waited:.1f} h before; ready {ready}", wait.film)

    hit = place.each(test)
    if hit is None:
        return None
    severity: Severity = "serious" if worst[0] < FAR_TOO_EARLY else "caution"
    return hit._replace(severity=severity, source=COMMON if assumed[0] else SHEET)


def _window_passed(fact: CoatApplied, place: Place) -> Hit | None:
    def test(piece: Piece) -> Seen | None:
        under = [coat for coat in piece.coats if _meets(coat.faces, fact.faces)]
        last = under[-1] if under else None
        sheet = place.sheet(last.lot) if last else None
        if last is None or sheet is None or sheet.burns_in or sheet.recoat_max_h is None:
            return None
        waited = (place.at_us - (last.ended_us or last.at_us)) / HOUR_US
        scuffed = any(s.at_us > last.at_us for s in piece.sandings)
        if scuffed or waited <= sheet.recoat_max_h:
            return None
        return seen(f"{waited:.0f} h after the coat below, at most {sheet.recoat_max_h:g} h", last)

    return place.each(test)


def _while_held(fact: CoatApplied, place: Place) -> Hit | None:
    return place.each(lambda piece: seen("the piece was held") if piece.held else None)


def _turned_before_dry(fact: Turned | Moved, place: Place) -> Hit | None:
    if fact.resting_on not in ("points", "rack", "bench"):
        return None

    def test(piece: Piece) -> Seen | None:
        wait = place.wait(piece, "tack_free") if piece.coats else None
        if wait is None or not isinstance(fact, Turned):
            return None
        return seen(f"turned {wait.share * 100:.0f} % into the wait to tack-free", wait.film)

    return place.each(test)


def _softwood_on_points(fact: Turned | Moved, place: Place) -> Hit | None:
    if fact.resting_on != "points":
        return None

    def test(piece: Piece) -> Seen | None:
        known = species(piece.species) if piece.species else None
        if known is None or not (known.softwood or known.hardness == "soft"):
            return None
        return seen(f"{piece.species} stands on points")

    return place.each(test)


def _meets(one: tuple[str, ...], other: tuple[str, ...]) -> bool:
    return "all" in one or "all" in other or not set(one).isdisjoint(other)


def _clock(us: int) -> str:
    return moment(us).strftime("%Y-%m-%d %H:%MZ")


RULES: tuple[Rule, ...] = (
    Rule(
        "recoat_too_early", "caution", (CoatApplied,),
        "A coat went over one that was not ready for it.",
        "Water or solvent is shut in: the film stays soft, clouds, wrinkles or lifts.",
        "Give these pieces longer than the clock says now, and look before the next coat.",
        SHEET, _recoat_too_early,
    ),
    Rule(
        "stain_not_dry", "caution", (CoatApplied,),
        "A coat went over stain or filler that was not dry.",
        "The colour bleeds or smears, and the film may not hold.",
        "Look for bleeding and lifting; wait for the stain's clock next time.",
        SHEET, _stain_not_dry,
    ),
    Rule(
        "recoat_window_passed", "serious", (CoatApplied,),
        "The recoat window had closed and the film was not abraded.",
        "A closed film gives the next coat no hold: it peels in sheets.",
        "Try a cross cut on a hidden spot; where it fails, sand back. Scuff after the window.",
        SHEET, _window_passed,
    ),
    Rule(
        "coated_while_held", "caution", (CoatApplied,),
        "A piece was coated while it was held.",
        "Somebody had a reason to stop it.",
        "Ask who held it; release it if the question is answered.",
        COMMON, _while_held,
    ),
    Rule(
        "turned_before_dry", "caution", (Turned,),
        "A piece was turned onto something before its film was tack-free.",
        "What it lies on prints into the film.",
        "Look at the face it lay on before the next coat.",
        SHEET, _turned_before_dry,
    ),
    Rule(
        "softwood_on_points", "caution", (Turned, Moved),
        "Soft wood stands on points.",
        "Points dent soft wood through the film.",
        "Put it on strips or a rack; look for dents.",
        COMMON, _softwood_on_points,
    ),
)  # fmt: skip
