"""Facts that name a can, gun, room or product nobody described: taken, and asked about."""

from coatledger.events.coating import CoatApplied, Moved
from coatledger.events.finish import LotMixed, LotOpened, LotReceived, LotStirred
from coatledger.events.preparing import GrainFilled, Stained
from coatledger.events.room_gun import GunSetUp, TestSprayed
from coatledger.findings.finding import COMMON, Hit, Rule
from coatledger.findings.place import Place, seen

Named = (
    CoatApplied | Moved | LotMixed | LotOpened | LotReceived | LotStirred | GrainFilled | Stained
    | GunSetUp | TestSprayed
)  # fmt: skip


def _lot_unknown(fact: CoatApplied | Stained | GunSetUp, place: Place) -> Hit | None:
    word = fact.lot
    if word is None or place.lot(word).born_us is not None:
        return None
    return _hit(fact, f"lot:{word}", f"nobody received or mixed {word} before")


def _gun_unknown(fact: CoatApplied | GunSetUp | TestSprayed, place: Place) -> Hit | None:
    if fact.gun is None or place.gun(fact.gun) is not None:
        return None
    return _hit(fact, f"gun:{fact.gun}", f"nobody described gun {fact.gun}")


def _room_unknown(fact: CoatApplied | Moved, place: Place) -> Hit | None:
    if fact.room is None or place.view.room(fact.room) is not None:
        return None
    return _hit(fact, f"room:{fact.room}", f"nobody described room {fact.room}")


def _product_unknown(fact: LotReceived | LotMixed, place: Place) -> Hit | None:
    if place.view.product(fact.product) is not None:
        return None
    return _hit(fact, f"product:{fact.product}", f"nobody described product {fact.product}")


def _hit(fact: Named, cause: str, says: str) -> Hit:
    return Hit((seen(says, fact),), getattr(fact, "pieces", ()), cause)


_WHY = "Without its description the clocks and rules fall back on common practice."

# One code, four rules: the subject is in the finding's `cause`.
RULES: tuple[Rule, ...] = (
    Rule(
        "not_yet_described", "note",
        (CoatApplied, Stained, GrainFilled, LotOpened, LotStirred, GunSetUp, TestSprayed),
        "A can was used that nobody had received or mixed.",
        _WHY, "Record lot_received or lot_mixed with the time it came in.",
        COMMON, _lot_unknown, "day",
    ),
    Rule(
        "not_yet_described", "note", (CoatApplied, GunSetUp, TestSprayed),
        "A gun was used that nobody had described.",
        _WHY, "Record gun_described.", COMMON, _gun_unknown, "day",
    ),
    Rule(
        "not_yet_described", "note", (CoatApplied, Moved),
        "A room was used that nobody had described.",
        _WHY, "Record room_described.", COMMON, _room_unknown, "day",
    ),
    Rule(
        "not_yet_described", "note", (LotReceived, LotMixed),
        "A can came in of a product nobody had described.",
        _WHY, "Record product_described from its data sheet.", COMMON, _product_unknown, "day",
    ),
)  # fmt: skip
