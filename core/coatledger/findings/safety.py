"""Rules of safety. They defer to data sheet, local codes and licensed practice; none permits."""

from coatledger.computations.cautions import CAUTIONS, DEFERENCE
from coatledger.events.coating import CoatApplied
from coatledger.events.finish import LotMixed
from coatledger.events.preparing import BlownOff, GrainFilled, Stained
from coatledger.findings.finding import Hit, Rule
from coatledger.findings.place import HOUR_US, Place, seen

SPRAYED = ("hvlp", "air_assisted", "conventional")
WET_FOR_US = HOUR_US  # what was coated within the last hour takes dust; common practice
_RAGS = CAUTIONS["self_heating_rags"]
_DUST = CAUTIONS["blow_off_dust"]
_SOLVENT = CAUTIONS["nitrocellulose"]


def oily(fact: CoatApplied | Stained | GrainFilled, place: Place) -> str | None:
    """Name what makes the rags of this act heat themselves, or None."""
    sheet = place.sheet(fact.lot)
    if isinstance(fact, Stained) and fact.binder == "oil_based":
        return "an oil-based stain"
    if sheet is None:
        return None
    if "self_heating_rags" in sheet.cautions:
        return f"{sheet.product}, by its own caution"
    return f"{sheet.product}, an oil-based finish" if sheet.kind == "oil_based" else None


def _rags_today(fact: CoatApplied | Stained | GrainFilled, place: Place) -> Hit | None:
    what = oily(fact, place)
    if what is None:
        return None
    cause = f"lot:{fact.lot}" if fact.lot else f"piece:{fact.pieces[0]}"
    return Hit((seen(f"worked with {what}", fact),), fact.pieces, cause)


def _crosslinker(fact: LotMixed, place: Place) -> Hit | None:
    for parent in fact.parents:
        sheet = place.sheet(parent.lot)
        for code in ("isocyanate", "aziridine"):
            if sheet is not None and code in sheet.cautions:
                says = f"{parent.lot} holds {sheet.product}: {CAUTIONS[code].text}"
                return Hit((seen(says, fact),), (), f"lot:{fact.lot}")
    return None


def _dust_over_wet(fact: BlownOff, place: Place) -> Hit | None:
    room = place.room()
    if fact.by != "compressed_air" or room is None:
        return None
    placed = place.view.last(f"room:{room}", ("coat_applied",), 1)
    wet = placed[-1] if placed and place.at_us - placed[-1].at_us <= WET_FOR_US else None
    if wet is None or not isinstance(wet.fact, CoatApplied):
        return None
    minutes = (place.at_us - wet.at_us) / 60_000_000
    says = (
        f"blown off in {room} {minutes:.0f} min after {len(wet.fact.pieces)} piece(s) were coated"
    )
    return Hit((seen(says, wet.fact),), fact.pieces, f"room:{room}")


def _lacquer_sprayed(fact: CoatApplied, place: Place) -> Hit | None:
    sheet = place.sheet(fact.lot)
    if sheet is None or fact.method not in SPRAYED:
        return None
    if sheet.kind == "water_borne" and "flammable_solvent" not in sheet.cautions:
        return None
    says = f"{sheet.product} was sprayed: a flammable solvent"
    return Hit((seen(says, fact),), fact.pieces, f"lot:{fact.lot}")


RULES: tuple[Rule, ...] = (
    Rule(
        "oily_rags_today", "caution", (CoatApplied, Stained, GrainFilled),
        "Oil-based work was done; its rags can catch fire by themselves.",
        _RAGS.text,
        "Put the rags away before you leave and record rags_dealt_with. " + DEFERENCE,
        _RAGS.source, _rags_today, "day",
    ),
    Rule(
        "crosslinker_protection", "caution", (LotMixed,),
        "A mix holds a _crosslinker that can sensitise.",
        "Once sensitised, traces are enough to make a person ill.",
        "Protection as the safety data sheet names it, before opening the can. " + DEFERENCE,
        "the _crosslinker's safety data sheet", _crosslinker,
    ),
    Rule(
        "dust_over_wet_film", "caution", (BlownOff,),
        "Dust was blown up in a room where work was wet.",
        _DUST.text,
        "Blow off elsewhere or with a vacuum; look for nibs on what was wet. " + DEFERENCE,
        _DUST.source, _dust_over_wet, "day",
    ),
    Rule(
        "flammable_spraying", "caution", (CoatApplied,),
        "A flammable finish was sprayed.",
        "Mist, vapour and dry overspray burn. " + _SOLVENT.text,
        "Airflow as the code and the sheet ask, no source of ignition, residues wet. " + DEFERENCE,
        "29 CFR 1910.94, 1910.106, 1910.107", _lacquer_sprayed, "day",
    ),
)  # fmt: skip
