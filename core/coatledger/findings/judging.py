"""Rules of judging: light, sheen, slow films, and pieces that come round again and again."""

from coatledger.computations.sheen import BANDS_GU
from coatledger.events.coating import DrynessChecked
from coatledger.events.judging import GlossMeasured, Inspected, ReworkStarted
from coatledger.findings.finding import COMMON, Hit, Rule, Seen
from coatledger.findings.place import Place, seen
from coatledger.subjects.piece import Piece

SHEEN_SLACK_GU = 5.0  # a band's edge is no line; common practice
TIMES_REWORKED = 2


def _not_raking(fact: Inspected, place: Place) -> Hit | None:
    if fact.point not in ("final", "before_packing") or not fact.passed:
        return None
    if fact.lighting in ("raking", "daylight"):
        return None
    light = "not said" if fact.lighting == "unknown" else fact.lighting
    return Hit((seen(f"final inspection passed, light: {light}", fact),), fact.pieces, "shop")


def _sheen_off(fact: GlossMeasured, place: Place) -> Hit | None:
    if fact.angle_deg != 60:
        return None

    def test(piece: Piece) -> Seen | None:
        low, high = BANDS_GU.get(piece.sheen or "", (0.0, 2000.0))
        if low - SHEEN_SLACK_GU <= fact.gloss_gu <= high + SHEEN_SLACK_GU:
            return None
        asked = (piece.sheen or "").replace("_", " ")
        return seen(f"{fact.gloss_gu:g} GU at 60 degrees, {asked} is {low:g} to {high:g} GU", fact)

    return place.each(test)


def _reworked_again(fact: ReworkStarted, place: Place) -> Hit | None:
    def test(piece: Piece) -> Seen | None:
        if len(piece.reworks) < TIMES_REWORKED:
            return None
        return seen(f"rework number {len(piece.reworks) + 1}", piece.reworks[-1])

    return place.each(test)


def _slower_than_clock(fact: DrynessChecked, place: Place) -> Hit | None:
    if fact.ready:
        return None

    def test(piece: Piece) -> Seen | None:
        last = next((c for c in reversed(piece.coats) if c.on(fact.face)), None)
        if last is None or place.reach.wait(piece, fact.stage, place.at_us, (fact.face,)):
            return None
        hours = place.hours_since(last.ended_us or last.at_us)
        return seen(f"not {fact.stage.replace('_', '-')} after {hours:.1f} h", last)

    return place.each(test)


RULES: tuple[Rule, ...] = (
    Rule(
        "final_light_not_raking", "note", (Inspected,),
        "A final inspection was passed in a light that hides faults, or none was named.",
        "Scratches, runs and dry spray only show under raking light or at a window.",
        "Look once more with a lamp held low.",
        COMMON, _not_raking,
    ),
    Rule(
        "sheen_off", "caution", (GlossMeasured,),
        "The sheen is not the one that was asked.",
        "It will not match its neighbours or the sample.",
        "Check the stirring and the film; rub out or coat once more, and measure again.",
        "ISO 2813 for the reading; the bands are " + COMMON, _sheen_off,
    ),
    Rule(
        "reworked_again", "caution", (ReworkStarted,),
        f"A piece goes into rework after {TIMES_REWORKED} or more times before.",
        "What is done does not reach the cause.",
        "Stop and look for the cause: what the faults have in common is in the rework answer.",
        COMMON, _reworked_again,
    ),
    Rule(
        "slower_than_the_sheet", "note", (DrynessChecked,),
        "A film was not ready although the sheet's hours, in this air, were over.",
        "A thicker film, an old can, or air unlike what was read; the clock learns from it.",
        "Wait and check again; read the air near the piece.",
        COMMON, _slower_than_clock,
    ),
)  # fmt: skip
