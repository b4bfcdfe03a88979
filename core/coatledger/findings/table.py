"""The one table of rules, in the order findings are told, and which of them look at which fact.

The page of the table in the docs is written from here.
"""

from collections.abc import Mapping
from types import MappingProxyType

from coatledger.events.base import Fact
from coatledger.events.catalogue import EVENT_TYPES
from coatledger.findings import (
    climate,
    coating,
    described,
    finish,
    gun,
    judging,
    layers,
    leaving,
    preparing,
    safety,
    sanding,
)
from coatledger.findings.finding import COMMON, SHEET, Hit, Rule, Severity
from coatledger.findings.place import Place


def _asked_elsewhere(fact: Fact, place: Place) -> Hit | None:
    """Rules about a state, not about one fact: `find` and `shop` look at those."""
    return None


# What no single fact shows: a film's later fate, a disputed order of facts, the shop at day's end.
STANDING: tuple[Rule, ...] = (
    Rule(
        "film_void", "critical", (),
        "A film dried below its film-formation temperature.",
        "Its particles did not flow together: it is powdery or cracked, and time does not mend it.",
        "Rub it with a nail, try a cross cut; a void film comes off before anything goes on.",
        SHEET, _asked_elsewhere,
    ),
    Rule(
        "order_disputed", "caution", (),
        "A fact cannot have happened where it stands among the others.",
        "A later entry or correction made it impossible; the state was left as it was.",
        "Correct the time of one of the two, or settle this finding.",
        "the ledger's own table of what may follow what", _asked_elsewhere,
    ),
    Rule(
        "rags_not_dealt_with", "critical", (),
        "Oil-based work was done and nobody recorded what became of the rags.",
        "Rags wet with an oil heat themselves and can catch fire hours later, with nobody there.",
        "Go and look now. Put them in an approved metal can as its maker and local code ask, and "
        "record rags_dealt_with.",
        "29 CFR 1910.107(g)(3); self-heating: NFPA practice, from memory", _asked_elsewhere,
    ),
    Rule(
        "pot_life_running_out", "caution", (),
        "A mix nears the end of its pot life, or is past it, and is not used up.",
        "It begins to set in the cup and in the gun.",
        "Use it or discard it as its safety data sheet asks, and flush the gun.",
        SHEET, _asked_elsewhere,
    ),
    Rule(
        "air_not_read_today", "note", (),
        "Work was coated today in a room whose air nobody has read today.",
        "The clocks rest on an old reading or on the sheet's climate.",
        "Read the air now.",
        COMMON, _asked_elsewhere,
    ),
)  # fmt: skip

RULES: tuple[Rule, ...] = (
    *coating.RULES, *layers.RULES, *climate.RULES, *sanding.RULES, *preparing.RULES,
    *finish.RULES, *gun.RULES, *leaving.RULES, *judging.RULES, *safety.RULES,
    *described.RULES, *STANDING,
)  # fmt: skip
RULES_OF: Mapping[type[Fact], tuple[Rule, ...]] = MappingProxyType(
    {kind: tuple(rule for rule in RULES if kind in rule.on) for kind in EVENT_TYPES}
)
CODES: tuple[str, ...] = tuple(dict.fromkeys(rule.code for rule in RULES))
WEIGHT: Mapping[Severity, int] = MappingProxyType(
    {"critical": 0, "serious": 1, "caution": 2, "note": 3}
)


def standing(code: str) -> Rule:
    """Return the rule of a standing finding."""
    return next(rule for rule in STANDING if rule.code == code)


INTRODUCTION = (
    "Bad practice is never refused: it is recorded and answered with a finding. The data sheet "
    "decides; where it is silent, common practice speaks and says so. Safety text defers to data "
    "sheets, local codes and licensed practice."
)
