"""Rules of the gun: its nozzle and setting, and how clean it is."""

from datetime import timedelta

from coatledger.computations.gun import PRESSURE_LIMITS
from coatledger.computations.practice import (
    DISTANCE_MM,
    FAN_WIDTH_MM,
    GENERAL_NOZZLE_MM,
    OVERLAP_PCT,
    STRIP_CLEAN_DAYS,
)
from coatledger.events.coating import CoatApplied
from coatledger.events.room_gun import GunFlushed, GunSetUp, GunStripCleaned, TestSprayed
from coatledger.findings.finding import COMMON, SHEET, Hit, Rule
from coatledger.findings.place import Place, seen
from coatledger.ledger.correct import Placed

DAY_US = 24 * 3_600_000_000
NOZZLE_MM = (GENERAL_NOZZLE_MM - 0.3, GENERAL_NOZZLE_MM + 0.5)  # common practice
Spraying = CoatApplied | GunSetUp | TestSprayed
SPRAYINGS = (CoatApplied, GunSetUp, TestSprayed)
TRIALS = (TestSprayed, GunSetUp)


def _wrong_nozzle(fact: GunSetUp, place: Place) -> Hit | None:
    if fact.nozzle_mm is None:
        return None
    sheet = place.sheet(fact.lot)
    low = None if sheet is None else sheet.nozzle_min_mm
    high = None if sheet is None else sheet.nozzle_max_mm
    source = COMMON if low is None and high is None else SHEET
    if low is None and high is None:
        low, high = NOZZLE_MM
    low, high = low or 0.0, high or 99.0
    if low <= fact.nozzle_mm <= high:
        return None
    says = f"a {fact.nozzle_mm:g} mm nozzle, wanted {low:g} to {high:g} mm"
    return _hit(fact, fact.gun, says)._replace(source=source)


def _not_flushed(fact: Spraying, place: Place) -> Hit | None:
    gun = fact.gun
    last = place.uncleaned_use(gun) if gun else None
    if gun is None or last is None:
        return None
    before, now = place.sheet(_lot(last)), place.sheet(fact.lot)
    if before is None or now is None or before.product == now.product:
        return None
    says = f"{gun} sprayed {before.product}, then {now.product}, and was not flushed between"
    hit = _hit(fact, gun, says, last)
    return hit if before.kind == now.kind else hit._replace(severity="serious")


def _dried_in_gun(fact: Spraying, place: Place) -> Hit | None:
    gun = fact.gun
    last = place.uncleaned_use(gun) if gun else None
    if gun is None or last is None or place.today(last.at_us):
        return None
    sheet = place.sheet(_lot(last))
    if sheet is None or sheet.kind != "water_borne":
        return None
    return _hit(fact, gun, f"{gun} was last used on {place.day(last.at_us)} and not flushed", last)


def _strip_clean_overdue(fact: CoatApplied | GunSetUp, place: Place) -> Hit | None:
    if fact.gun is None:
        return None
    described = place.gun(fact.gun)
    told = described.strip_clean_every_days if described else None
    days = STRIP_CLEAN_DAYS if told is None else told
    cleaned = place.view.last(f"gun:{fact.gun}", ("gun_strip_cleaned",))
    since = cleaned[-1].fact if cleaned else described
    if since is None:
        return None
    age = fact.occurred_at - since.occurred_at
    if age <= timedelta(days=days):
        return None
    age_days = age.total_seconds() / 86_400.0
    what = "stripped clean" if cleaned else "described, and never stripped clean since,"
    says = f"{fact.gun} was {what} {age_days:.0f} days before, every {days} days is wanted"
    return _hit(fact, fact.gun, says, since)._replace(
        source=COMMON if told is None else "the shop's own interval"
    )


def _setting_off(fact: GunSetUp | TestSprayed, place: Place) -> Hit | None:
    says = [
        f"{name} {value:g} {unit}, usual {low:g} to {high:g} {unit}"
        for name, value, unit, (low, high) in (
            ("overlap", fact.overlap_pct, "%", OVERLAP_PCT),
            ("fan", fact.fan_width_mm, "mm", FAN_WIDTH_MM),
            ("distance", fact.distance_mm, "mm", DISTANCE_MM),
        )
        if value is not None and not low <= value <= high
    ]
    return _hit(fact, fact.gun, "; ".join(says)) if says else None


def _over_pressure(fact: GunSetUp, place: Place) -> Hit | None:
    described = place.gun(fact.gun)
    if fact.cap_pressure_kpa is None or described is None:
        return None
    limit, source = described.cap_pressure_max_kpa, "the gun's own limit"
    hvlp = PRESSURE_LIMITS["hvlp_cap"]
    if limit is None and described.method == "hvlp":
        limit, source = hvlp.high_kpa, hvlp.source
    if limit is None or fact.cap_pressure_kpa <= limit + 0.5:
        return None
    says = f"{fact.cap_pressure_kpa:g} kPa at the cap, at most {limit:.0f} kPa"
    return _hit(fact, fact.gun, says)._replace(source=source)


def _chlorinated_in_aluminium(fact: GunStripCleaned, place: Place) -> Hit | None:
    described = place.gun(fact.gun)
    if fact.using != "chlorinated_solvent":
        return None
    if described is not None and described.body != "aluminium":
        return None
    body = "aluminium" if described else "a body nobody described"
    return _hit(fact, fact.gun, f"chlorinated solvent in {fact.gun}, {body}")


def _flushed_with_wrong(fact: GunFlushed, place: Place) -> Hit | None:
    last = place.uncleaned_use(fact.gun)
    sheet = place.sheet(_lot(last)) if last else None
    if last is None or sheet is None or fact.using == "cleaner":
        return None
    wanted = "water" if sheet.kind == "water_borne" else "solvent"
    if fact.using == wanted:
        return None
    says = f"{sheet.product} is {sheet.kind.replace('_', '-')}, flushed with {fact.using}"
    return _hit(fact, fact.gun, says, last)


def _bad_trial(fact: CoatApplied, place: Place) -> Hit | None:
    trials = [p for p in place.uses(fact.gun) if isinstance(p.fact, TRIALS)] if fact.gun else []
    last = trials[-1].fact if trials else None
    if not isinstance(last, TestSprayed) or last.result == "good" or not fact.gun:
        return None
    if not place.today(trials[-1].at_us):
        return None
    says = f"the last trial came out {last.result.replace('_', ' ')}, no other since"
    return _hit(fact, fact.gun, says, trials[-1])


def _other_can_in_gun(fact: CoatApplied, place: Place) -> Hit | None:
    fillings = [p for p in place.uses(fact.gun) if isinstance(p.fact, GunSetUp)] if fact.gun else []
    filled = fillings[-1].fact if fillings else None
    if not isinstance(filled, GunSetUp) or not fact.gun or filled.lot == fact.lot:
        return None
    if not place.today(fillings[-1].at_us):
        return None
    return _hit(fact, fact.gun, f"{fact.gun} was filled from {filled.lot}, not {fact.lot}", filled)


def _lot(placed: Placed) -> str | None:
    fact = placed.fact
    return fact.lot if isinstance(fact, SPRAYINGS) else None


def _hit(fact: object, gun: str, says: str, event: object = None) -> Hit:
    source = event.fact if isinstance(event, Placed) else event
    return Hit((seen(says, source or fact),), getattr(fact, "pieces", ()), f"gun:{gun}")


RULES: tuple[Rule, ...] = (
    Rule(
        "wrong_nozzle", "caution", (GunSetUp,),
        "The nozzle does not suit the finish.",
        "Too small starves and dry-sprays, too large floods and foams.",
        "Change the nozzle, or thin within the sheet's limit and try on a board.",
        SHEET, _wrong_nozzle,
    ),
    Rule(
        "gun_not_flushed", "caution", (CoatApplied, GunSetUp, TestSprayed),
        "A gun went from one product to another without a flush.",
        "Rests of one in the other curdle, spot the film or change its sheen.",
        "Flush now with what the first product asks for; look at what was sprayed.",
        COMMON, _not_flushed,
    ),
    Rule(
        "finish_dried_in_gun", "caution", (CoatApplied, GunSetUp, TestSprayed),
        "Water-borne finish stood in the gun since an earlier day.",
        "It skins in the passages and comes out as specks.",
        "Strip the gun clean and spray paper until it is clean; flush at breaks and day's end.",
        COMMON, _dried_in_gun,
    ),
    Rule(
        "strip_clean_overdue", "note", (CoatApplied, GunSetUp),
        "A gun in use is overdue for stripping and cleaning.",
        "Passages narrow slowly: a heavy side, a split fan, specks.",
        "Take it apart and clean it before the next filling.",
        COMMON, _strip_clean_overdue, "day",
    ),
    Rule(
        "gun_setting_off", "note", (GunSetUp, TestSprayed),
        "Fan, distance or overlap lie outside what is usual.",
        "Stripes, dry edges or sags.",
        "Spray paper and look; a setting that works for you may stand.",
        COMMON, _setting_off,
    ),
    Rule(
        "cap_pressure_over_limit", "serious", (GunSetUp,),
        "The cap pressure is above the gun's limit.",
        "More mist, less finish on the piece; above its limit the gun is no longer what the rules "
        "call it.",
        "Turn it down; follow the gun's manual and local rules.",
        COMMON, _over_pressure,
    ),
    Rule(
        "chlorinated_in_aluminium", "critical", (GunStripCleaned,),
        "A chlorinated solvent went into a gun of aluminium.",
        "The two can react and burst the gun or pot.",
        "Stop; follow the maker's warning and the solvent's safety data sheet; never pressurise.",
        "makers' warnings on spray equipment, " + COMMON, _chlorinated_in_aluminium,
    ),
    Rule(
        "flushed_with_wrong_liquid", "caution", (GunFlushed,),
        "The gun was flushed with what its finish does not dissolve in.",
        "The rest curdles in the passages.",
        "Flush again with what the data sheet names before anything else goes in.",
        COMMON, _flushed_with_wrong,
    ),
    Rule(
        "trial_was_bad", "caution", (CoatApplied,),
        "Work was sprayed after a trial that came out badly.",
        "What was wrong on paper is wrong on the piece.",
        "Stop, put the gun right, try again on paper.",
        COMMON, _bad_trial,
    ),
    Rule(
        "other_can_in_gun", "note", (CoatApplied,),
        "The gun had been filled from another can than the coat names.",
        "One of the two is wrong, and with it what is left in both cans.",
        "Correct the can, or record the filling.",
        COMMON, _other_can_in_gun,
    ),
)  # fmt: skip
