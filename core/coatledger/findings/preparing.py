"""Rules of preparing: raised grain, dust, moisture and how a piece came in."""

from coatledger.computations import wood
from coatledger.events.bare import ConditionRecorded
from coatledger.events.coating import CoatApplied
from coatledger.events.preparing import Stained
from coatledger.findings.finding import COMMON, Hit, Rule, Seen
from coatledger.findings.place import Place, seen
from coatledger.subjects.piece import Piece

STAINED_FINEST_P = 320  # common practice, no published source
DAMPER_BY_PCT = 3.0  # moisture above the room's balance; common practice, no published source
DAMP_PCT = 12.0  # without a reading of the air; common practice, no published source
STEPS_SKIPPED = 2  # at most one grade is left out between two; common practice


def _raised_not_cut(fact: CoatApplied, place: Place) -> Hit | None:
    def test(piece: Piece) -> Seen | None:
        raised = piece.raised_us
        if piece.coats or raised is None or any(s.at_us > raised for s in piece.sandings):
            return None
        return seen("grain raised, then not sanded again")

    return place.each(test)


def _not_blown_off(fact: CoatApplied | Stained, place: Place) -> Hit | None:
    def test(piece: Piece) -> Seen | None:
        last = piece.sandings[-1] if piece.sandings else None
        if last is None or (piece.blown is not None and piece.blown.at_us >= last.at_us):
            return None
        return seen(f"sanded with P{last.grit} and not blown off since", last)

    return place.each(test)


def _waxy_cloth(fact: CoatApplied, place: Place) -> Hit | None:
    sheet = place.sheet(fact.lot)
    if sheet is None or sheet.kind != "water_borne":
        return None

    def test(piece: Piece) -> Seen | None:
        blown = piece.blown
        newest_us = piece.coats[-1].at_us if piece.coats else 0
        if blown is None or blown.by != "tack_cloth" or blown.at_us < newest_us:
            return None
        if blown.cloth == "water_borne_safe":
            return None
        return seen(f"wiped with a tack cloth ({blown.cloth or 'kind not said'})", blown)

    return place.each(test)


def _damp_wood(fact: CoatApplied | Stained, place: Place) -> Hit | None:
    def test(piece: Piece) -> Seen | None:
        if piece.coats or piece.moisture_pct is None:
            return None
        row = place.reading(place.room())
        if row is None:
            if piece.moisture_pct <= DAMP_PCT:
                return None
            return seen(f"the wood was at {piece.moisture_pct:g} %")
        balance = wood.emc_pct(max(row.air_c, -20.0), row.rh_pct)
        if piece.moisture_pct - balance <= DAMPER_BY_PCT:
            return None
        return seen(
            f"the wood was at {piece.moisture_pct:g} %, this air keeps it at {balance:.1f} %"
        )

    return place.each(test)


def _contaminated(fact: ConditionRecorded, place: Place) -> Hit | None:
    if fact.state != "contaminated":
        return None
    words = tuple(piece.piece for piece in place.pieces)
    return Hit((seen("came in contaminated", fact),), words, f"piece:{words[0]}")


def _refinish_unsealed(fact: CoatApplied, place: Place) -> Hit | None:
    def test(piece: Piece) -> Seen | None:
        if piece.coats or not piece.refinish or fact.role in ("sealer", "tie"):
            return None
        return seen(f"first coat on refinished work is a {fact.role} coat")

    return place.each(test)


def _stained_over_film(fact: Stained, place: Place) -> Hit | None:
    def test(piece: Piece) -> Seen | None:
        return seen("stain over a film", piece.coats[-1]) if piece.coats else None

    return place.each(test)


RULES: tuple[Rule, ...] = (
    Rule(
        "raised_grain_not_cut", "caution", (CoatApplied,),
        "The grain was raised and not cut off before the first coat.",
        "Standing fibres are locked into the film and feel rough.",
        "Scuff well after this coat; next time sand lightly once the wetted wood is dry.",
        COMMON, _raised_not_cut,
    ),
    Rule(
        "no_blow_off", "caution", (CoatApplied, Stained),
        "Sanding dust was not taken off before finish went on.",
        "Dust becomes nibs in the film and dulls a stain.",
        "Blow off, vacuum or wipe before each coat; expect nibs on these pieces.",
        COMMON, _not_blown_off,
    ),
    Rule(
        "waxy_tack_cloth", "caution", (CoatApplied,),
        "A tack cloth not known to suit water-borne finish was used under one.",
        "Wax or resin left behind makes fish eyes.",
        "Look for fish eyes before the next coat; use a damp lint-free cloth or a safe one.",
        COMMON, _waxy_cloth,
    ),
    Rule(
        "wood_too_damp", "serious", (CoatApplied, Stained),
        "The wood was damper than the room it was finished in will keep it.",
        "It will shrink under the film: open joints, cracks along them, lifting.",
        "Let the piece come to the room's balance and read it again before coating.",
        "USDA Wood Handbook GTR-282 ch. 4 for the balance; the margin is " + COMMON, _damp_wood,
    ),
    Rule(
        "contaminated_surface", "caution", (ConditionRecorded,),
        "A piece came in _contaminated.",
        "Silicone, wax or oil under a finish makes fish eyes and spoils adhesion.",
        "Clean, try a spot, and seal before the finish; keep it away from clean work.",
        COMMON, _contaminated,
    ),
    Rule(
        "refinish_not_sealed", "note", (CoatApplied,),
        "Refinished work got no sealer as its first coat.",
        "Polish residues from its former life come up as fish eyes.",
        "Look for fish eyes before going on; seal first next time.",
        COMMON, _refinish_unsealed,
    ),
    Rule(
        "stained_over_film", "note", (Stained,),
        "Stain was put over a film.",
        "It cannot soak in: it lies as a glaze that rubs off until it is sealed.",
        "Seal it with a thin coat and do not scuff it.",
        COMMON, _stained_over_film,
    ),
)  # fmt: skip
