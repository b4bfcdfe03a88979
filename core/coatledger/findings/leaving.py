"""Rules of leaving: rubbed out, packed, shipped; is the film ready and the work whole?"""

from coatledger.computations.practice import (
    COATS_DECOR,
    COATS_TABLE,
    TABLE_BEFORE_HANDLING_H,
    WIDE_PANEL_MM,
)
from coatledger.events.leaving import HandedOver, Packed, Polished, RubbedOut, Shipped
from coatledger.findings.finding import COMMON, SHEET, Hit, Rule, Seen
from coatledger.findings.place import HOUR_US, Place, seen
from coatledger.ledger.record import moment
from coatledger.subjects.piece import Piece

HARD_USED = ("table", "hard_use")
CLINGING = ("plastic_film", "bubble")
UNBALANCED_BY = 2  # coats more on one side of a wide panel; common practice
Gone = Shipped | HandedOver


def _packed_too_soon(fact: Packed, place: Place) -> Hit | None:
    return _not_wrap_safe(place, "packed")


def _shipped_too_soon(fact: Gone, place: Place) -> Hit | None:
    return _not_wrap_safe(place, "left")


def _not_wrap_safe(place: Place, did: str) -> Hit | None:
    assumed = [False]

    def test(piece: Piece) -> Seen | None:
        wait = place.wait(piece, "wrap_safe") if piece.coats and piece.stage != "shipped" else None
        if wait is None:
            return None
        assumed[0] = assumed[0] or wait.assumed
        ready = "never in this air" if wait.ready_us is None else _clock(wait.ready_us)
        hours = (place.at_us - wait.film.applied_us) / HOUR_US
        return seen(f"{did} {hours:.0f} h after its last coat; wrap-safe {ready}", wait.film)

    hit = place.each(test)
    return hit._replace(source=COMMON if assumed[0] else SHEET) if hit else None


def _table_too_soon(fact: Gone, place: Place) -> Hit | None:
    def test(piece: Piece) -> Seen | None:
        if piece.use not in HARD_USED or not piece.coats or piece.stage == "shipped":
            return None
        hours = place.hours_since(piece.coats[-1].at_us)
        if hours >= TABLE_BEFORE_HANDLING_H:
            return None
        says = f"a {piece.use.replace('_', ' ')} piece left {hours:.0f} h after its last coat"
        return seen(says, piece.coats[-1])

    return place.each(test)


def _clinging_pack(fact: Packed, place: Place) -> Hit | None:
    if fact.touching not in CLINGING:
        return None

    def test(piece: Piece) -> Seen | None:
        wait = place.wait(piece, "cured") if piece.coats else None
        if wait is None:
            return None
        return seen(f"{fact.touching.replace('_', ' ')} against a film not cured", wait.film)

    return place.each(test)


def _too_few_coats(fact: Packed | Gone, place: Place) -> Hit | None:
    sheet_says = [False]

    def test(piece: Piece) -> Seen | None:
        if piece.stage == "shipped" or (piece.packing is not None and not isinstance(fact, Packed)):
            return None
        schedule = place.view.schedule(piece.schedule)
        faces = ("show",) if schedule is None else schedule.faces
        done = piece.coat_number(faces)
        sheet = place.sheet(piece.coats[-1].lot) if piece.coats else None
        told = sheet.coats_min if sheet is not None else None
        least = told or (COATS_TABLE[0] if piece.use in HARD_USED else COATS_DECOR)
        if done >= least:
            return None
        sheet_says[0] = sheet_says[0] or told is not None
        use = (piece.use or "decor").replace("_", " ")
        last = piece.coats[-1] if piece.coats else None
        return seen(f"{done} coat(s), at least {least} for {use}", last)

    hit = place.each(test)
    return hit._replace(source=SHEET if sheet_says[0] else COMMON) if hit else None


def _panel_unbalanced(fact: Packed | Gone, place: Place) -> Hit | None:
    def test(piece: Piece) -> Seen | None:
        if piece.packing is not None and not isinstance(fact, Packed):
            return None
        if (piece.width_mm or 0.0) < WIDE_PANEL_MM or piece.substrate not in ("solid", "veneer"):
            return None
        show, under = piece.coats_on("show"), piece.coats_on("underside")
        if abs(show - under) < UNBALANCED_BY:
            return None
        return seen(f"{piece.width_mm:g} mm wide, {show} coats above and {under} below")

    return place.each(test)


def _no_final_look(fact: Packed, place: Place) -> Hit | None:
    def test(piece: Piece) -> Seen | None:
        looks = [i for i in piece.inspections if i.point in ("final", "before_packing")]
        newest_us = piece.coats[-1].at_us if piece.coats else 0
        if looks and looks[-1].passed and looks[-1].at_us >= newest_us:
            return None
        if looks and looks[-1].at_us >= newest_us:
            return seen("the last final inspection was failed", looks[-1])
        return seen("no final inspection since its last coat")

    return place.each(test)


def _unfinished_rework(fact: Packed | Gone, place: Place) -> Hit | None:
    def test(piece: Piece) -> Seen | None:
        return (
            seen("rework was begun and not ended", piece.reworks[-1]) if piece.in_rework else None
        )

    return place.each(test)


def _open_defect(fact: Packed | Gone, place: Place) -> Hit | None:
    def test(piece: Piece) -> Seen | None:
        if piece.packing is not None and not isinstance(fact, Packed):
            return None
        if piece.stage == "shipped" or not piece.open_defects:
            return None
        last = piece.open_defects[-1]
        return seen(f"{last.kind.replace('_', ' ')} found and nothing done since", last)

    return place.each(test)


def _held_and_left(fact: Packed | Gone, place: Place) -> Hit | None:
    return place.each(lambda piece: seen("the piece was held") if piece.held else None)


def _not_packed(fact: Shipped, place: Place) -> Hit | None:
    def test(piece: Piece) -> Seen | None:
        return seen("no packing is recorded") if piece.packing is None else None

    return place.each(test)


def _cancelled_order(fact: Gone, place: Place) -> Hit | None:
    def test(piece: Piece) -> Seen | None:
        word = fact.order or piece.order
        order = place.view.order(word) if word else None
        if order is None or order.stage != "cancelled":
            return None
        return seen(f"order {word} was cancelled")

    return place.each(test)


def _rubbed_too_soon(fact: RubbedOut | Polished, place: Place) -> Hit | None:
    def test(piece: Piece) -> Seen | None:
        wait = place.wait(piece, "wrap_safe") if piece.coats and not piece.in_rework else None
        if wait is None:
            return None
        did = "rubbed out" if isinstance(fact, RubbedOut) else "polished"
        return seen(f"{did} {wait.share * 100:.0f} % into the wait to wrap-safe", wait.film)

    return place.each(test)


def _clock(us: int) -> str:
    return moment(us).strftime("%Y-%m-%d %H:%MZ")


RULES: tuple[Rule, ...] = (
    Rule(
        "packed_before_ready", "serious", (Packed,),
        "A piece was packed before its film was wrap-safe.",
        "Packing prints into a film that is only touch-dry, and sticks to it.",
        "Unpack it, let it stand until the clock says, and look for prints.",
        SHEET, _packed_too_soon,
    ),
    Rule(
        "shipped_before_ready", "serious", (Shipped, HandedOver),
        "A piece left before its film was wrap-safe.",
        "It will be marked by what it leans on or is wrapped in.",
        "Tell whoever has it to unwrap it and keep it free until the clock says.",
        SHEET, _shipped_too_soon,
    ),
    Rule(
        "table_left_too_soon", "caution", (Shipped, HandedOver),
        f"A table or hard-used piece left within {TABLE_BEFORE_HANDLING_H:.0f} h of its last coat.",
        "It is used before it is hard: rings, prints, scratches.",
        "Tell the customer until when to use it gently; the clock's cured date is in the answer.",
        COMMON, _table_too_soon,
    ),
    Rule(
        "clinging_wrap", "caution", (Packed,),
        "Plastic lies against a film that has not cured.",
        "It shuts in what still leaves the film and prints its folds and bubbles.",
        "Put paper or a soft cloth between.",
        COMMON, _clinging_pack,
    ),
    Rule(
        "too_few_coats", "caution", (Packed, Shipped, HandedOver),
        "Fewer coats than the use asks for.",
        "A thin system wears through where hands and cups are.",
        "Count again; coat once more if it has not left.",
        COMMON, _too_few_coats,
    ),
    Rule(
        "panel_unbalanced", "caution", (Packed, Shipped, HandedOver),
        "A wide panel has far more coats on one side.",
        "The bare side takes up water faster and the panel cups.",
        "Coat the other side as well.",
        COMMON, _panel_unbalanced,
    ),
    Rule(
        "packed_without_final_look", "caution", (Packed,),
        "A piece was packed without a passed final inspection.",
        "The customer will be the first to look.",
        "Look under raking light before it leaves, and record it.",
        COMMON, _no_final_look,
    ),
    Rule(
        "left_in_rework", "serious", (Packed, Shipped, HandedOver),
        "A piece in rework was packed or left.",
        "What it came back for may not be put right.",
        "Finish the rework, or record that it is finished.",
        COMMON, _unfinished_rework,
    ),
    Rule(
        "left_with_defect", "serious", (Packed, Shipped, HandedOver),
        "A piece with a defect found, and nothing done since, was packed or left.",
        "It comes back.",
        "Put it right, or inspect it and record that it passes.",
        COMMON, _open_defect,
    ),
    Rule(
        "left_while_held", "serious", (Packed, Shipped, HandedOver),
        "A held piece was packed or left.",
        "Somebody had a reason to stop it.",
        "Ask who held it before it goes further.",
        COMMON, _held_and_left,
    ),
    Rule(
        "shipped_unpacked", "note", (Shipped,),
        "A piece was shipped and no packing is recorded.",
        "Nobody can say later what lay against its film.",
        "Record the packing.",
        COMMON, _not_packed,
    ),
    Rule(
        "left_for_cancelled_order", "serious", (Shipped, HandedOver),
        "A piece left for an order that was cancelled.",
        "Nobody waits for it.",
        "Call the carrier back, or correct the order.",
        COMMON, _cancelled_order,
    ),
    Rule(
        "rubbed_before_hard", "caution", (RubbedOut, Polished),
        "A film was rubbed out or polished before it was hard.",
        "It dulls again as it shrinks, and may be rubbed through.",
        "Wait; check the sheen again once it has cured.",
        SHEET, _rubbed_too_soon,
    ),
)  # fmt: skip
