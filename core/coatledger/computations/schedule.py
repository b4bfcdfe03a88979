"""A finishing schedule proposed for a piece: steps with their reasons, and what to be careful of.

Where the data sheet speaks it decides; where it is silent the trade's habit stands in and says so.
A proposal is a start for a sample board, not a promise of how a wood will look.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal

from msgspec import Struct

from coatledger.computations import practice
from coatledger.computations.practice import PRACTICE
from coatledger.computations.ranges import require
from coatledger.computations.sheen import BANDS_GU
from coatledger.computations.wood_species import Species, species

Kind = Literal["water_borne", "lacquer", "oil_based"]
Binder = Literal["water_borne", "lacquer", "oil_based", "none"]
Colour = Literal["light", "red", "brown"]
SHEET = "the product's data sheet"

# Heartwood colour by species, and woods that take stain in blotches: common practice, no published
# source. Light wood yellows under oil; cherry darkens and walnut pales in daylight.
COLOUR: Mapping[str, Colour] = MappingProxyType(
    {"cherry": "red", "mahogany": "red", "walnut": "brown", "butternut": "brown"}
)
BLOTCHES = frozenset(
    ("cherry", "hard maple", "soft maple", "yellow birch", "red alder", "basswood",
     "yellow poplar", "eastern white pine", "longleaf pine", "douglas fir")
)  # fmt: skip
TANNIN = frozenset(("white oak", "red oak", "walnut", "mahogany", "cherry"))
COATS: Mapping[str, int] = MappingProxyType(
    {"decor": 3, "box": 3, "shelf": 3, "table": 4, "hard_use": 5}
)
WET_FILM_UM = 90.0
RECOAT_H: Mapping[str, float] = MappingProxyType(
    {
        "water_borne": practice.WATER_BORNE_RECOAT_H,
        "lacquer": practice.LACQUER_RECOAT_H,
        "oil_based": practice.OIL_BASED_RECOAT_H,
    }
)


class Sheet(Struct, frozen=True):
    """What the finish's data sheet says; None where it is silent."""

    kind: Kind = "water_borne"
    wet_film_um: float | None = None
    recoat_h: float | None = None
    wrap_h: float | None = None
    coats_min: int | None = None
    coats_max: int | None = None
    bare_grit_max: int | None = None
    scuff_grit: int | None = None
    burns_in: bool = False


class Ask(Struct, frozen=True):
    """What is to be finished and how it shall look."""

    species: str
    use: Literal["decor", "shelf", "box", "table", "hard_use"]
    look: Literal["natural", "filled"] = "natural"
    stained: bool = False
    stain_binder: Binder = "water_borne"
    dear: bool = False
    sheen: str = "satin"
    widest_panel_mm: float = 0
    sheet: Sheet = Sheet()


class ProposedStep(Struct, frozen=True):
    """One step: what, with which grit, role and film, how long to wait after it, and why."""

    act: str
    reason: str
    source: str = PRACTICE
    grit_p: int | None = None
    role: str | None = None
    wet_film_um: float | None = None
    by_hand: bool = False
    wait_h: float = 0


class Proposal(Struct, frozen=True):
    """The steps in order, the coats of film, the faces to coat alike, and the cautions.

    `coats` counts the film's own coats; washcoat, sealer under a filler and tie coat come on top.
    """

    steps: tuple[ProposedStep, ...]
    coats: int
    faces: tuple[str, ...]
    cautions: tuple[str, ...]


def is_dear(declared_value: int, threshold: int) -> bool:
    """Whether a declared value (minor units) reaches the shop's own line for a dear piece."""
    require("declared_value", declared_value, 0, 1e12, "money in minor units")
    require("threshold", threshold, 1, 1e12, "the shop's own line, in minor units")
    return declared_value >= threshold


def propose(ask: Ask) -> Proposal:
    """A schedule for a species, use, stain and look.

    *Reference:* the data sheet, then pore class and hardness (USDA Wood Handbook, `wood_species`),
    then common practice, no published source. *Valid:* solid wood or veneer of the species named;
    an unknown species gets the careful schedule and a caution.
    """
    require("widest_panel_mm", ask.widest_panel_mm, 0, 5000, "one panel of a piece")
    if ask.sheen not in BANDS_GU:
        raise ValueError(f"no sheen is called {ask.sheen}; known are {', '.join(BANDS_GU)}")
    wood = species(ask.species)
    coats = _coats(ask)
    before = (*_sanding(ask), *_raising(ask), *_colouring(ask, wood), *_filling(ask, wood))
    sealed = any(step.act == "coat" for step in before)
    steps = (*before, *_coating(ask, coats, sealed=sealed), *_leaving(ask))
    faces = ("all",) if ask.widest_panel_mm >= practice.WIDE_PANEL_MM else ("show", "edges")
    return Proposal(steps, coats, faces, _cautions(ask, wood))


def _coats(ask: Ask) -> int:
    usual = COATS[ask.use] + (1 if ask.dear and COATS[ask.use] < practice.COATS_TABLE[1] else 0)
    low, high = ask.sheet.coats_min or 1, ask.sheet.coats_max or 20
    require("coats_max", high, low, 20, f"{SHEET}: coats_max is not below coats_min")
    return min(max(usual, low), high)


def _sanding(ask: Ask) -> tuple[ProposedStep, ...]:
    last = practice.BARE_GRIT_UNDER_STAIN_P if ask.stained else practice.BARE_GRIT_P
    why = practice.PRACTICES["stain_grit" if ask.stained else "bare_grit"]
    source = PRACTICE
    if ask.sheet.bare_grit_max is not None and ask.sheet.bare_grit_max < last:
        last, source = ask.sheet.bare_grit_max, SHEET
        why = f"The sheet asks for no finer than P{last} on bare wood."
    grits = [grit for grit in (120, 150, 180, 220) if grit < last] + [last]
    sanded = tuple(ProposedStep("sand", why, source, grit_p=grit) for grit in grits)
    return (*sanded, ProposedStep("blow_off", "Dust in pores comes up as nibs.", PRACTICE))


def _raising(ask: Ask) -> tuple[ProposedStep, ...]:
    wet_stain = ask.stained and ask.stain_binder == "water_borne"
    wet_and_dear = ask.sheet.kind == "water_borne" and (ask.dear or ask.use == "table")
    if not wet_stain and not wet_and_dear:
        return ()
    why = "Water raises the grain; raised and cut once, it rises less under the first coat."
    cut = practice.BARE_GRIT_UNDER_STAIN_P if ask.stained else practice.BARE_GRIT_P
    if ask.sheet.bare_grit_max is not None:
        cut = min(cut, ask.sheet.bare_grit_max)
    return (
        ProposedStep("raise_grain", why, PRACTICE, wait_h=1),
        ProposedStep(
            "sand", "Only the raised fibres are cut off.", PRACTICE, grit_p=cut, by_hand=True
        ),
        ProposedStep("blow_off", "Dust in pores comes up as nibs.", PRACTICE),
    )


def _colouring(ask: Ask, wood: Species | None) -> tuple[ProposedStep, ...]:
    if not ask.stained:
        return ()
    steps = []
    if wood is not None and wood.name in BLOTCHES:
        why = "This wood takes stain in blotches; a thin washcoat evens it."
        steps.append(ProposedStep("coat", why, PRACTICE, role="sealer", wait_h=_recoat_h(ask)))
    wait = RECOAT_H.get(ask.stain_binder, practice.WATER_BORNE_RECOAT_H)
    steps.append(ProposedStep("stain", "Colour goes on before any film.", PRACTICE, wait_h=wait))
    if ask.stain_binder == "oil_based" and ask.sheet.kind != "oil_based":
        why = "A tie coat keeps the oil of the stain from the film above."
        steps.append(ProposedStep("coat", why, PRACTICE, role="tie", wait_h=_recoat_h(ask)))
    return tuple(steps)


def _filling(ask: Ask, wood: Species | None) -> tuple[ProposedStep, ...]:
    if ask.look != "filled" or (wood is not None and wood.pores == "closed"):
        return ()
    first = "A sealer first, so that the filler colours the pores and not the wood."
    even = "What stands over the pores is levelled."
    return (
        ProposedStep("coat", first, PRACTICE, role="sealer", wait_h=_recoat_h(ask)),
        ProposedStep("fill_grain", practice.PRACTICES["pores"], PRACTICE, wait_h=24),
        ProposedStep("sand", even, PRACTICE, grit_p=_scuff_grit(ask), by_hand=True),
        ProposedStep("coat", "Ties the filler in.", PRACTICE, role="tie", wait_h=_recoat_h(ask)),
    )


def _coating(ask: Ask, coats: int, *, sealed: bool) -> tuple[ProposedStep, ...]:
    sheet = ask.sheet
    film_source = PRACTICE if sheet.wet_film_um is None else SHEET
    film = WET_FILM_UM if sheet.wet_film_um is None else sheet.wet_film_um
    steps = []
    for number in range(1, coats + 1):
        role, why = "build", "Builds the film."
        if number == coats:
            role, why = "top", f"The last coat carries the {ask.sheen.replace('_', ' ')} sheen."
        elif number == 1 and not sealed:
            role, why = "sealer", practice.PRACTICES["first_coat"]
        wait = 0.0 if number == coats else _recoat_h(ask)
        steps.append(
            ProposedStep("coat", why, film_source, role=role, wet_film_um=film, wait_h=wait)
        )
        # A finish that burns into the coat below needs scuffing only where the wood stood up.
        if number < coats and not (sheet.burns_in and number > 1):
            by_hand = ask.stained and number == 1
            why = practice.PRACTICES["stained_scuff" if by_hand else "scuff"]
            source = PRACTICE if sheet.scuff_grit is None else SHEET
            steps.append(
                ProposedStep("scuff", why, source, grit_p=_scuff_grit(ask), by_hand=by_hand)
            )
    return tuple(steps)


def _leaving(ask: Ask) -> tuple[ProposedStep, ...]:
    wait, why, source = practice.NIGHT_BEFORE_PACKING_H, practice.PRACTICES["packing"], PRACTICE
    if ask.use in ("table", "hard_use"):
        wait, why = practice.TABLE_BEFORE_HANDLING_H, practice.PRACTICES["table_wait"]
    if ask.sheet.wrap_h is not None:
        wait, source = ask.sheet.wrap_h, SHEET
        why = "The sheet's own time before anything may touch the film."
    inspect = ProposedStep("inspect", "In raking light, before it is wrapped.", PRACTICE)
    polish: tuple[ProposedStep, ...] = ()
    if ask.sheen == "gloss" and ask.look == "filled":
        polish = (ProposedStep("rub_out", "A filled gloss shows every wave.", PRACTICE),)
    pack = ProposedStep(
        "pack", "Wrap-safe is not cured: nothing that prints touches the film.", PRACTICE
    )
    return (ProposedStep("cure", why, source, wait_h=wait), *polish, inspect, pack)


def _recoat_h(ask: Ask) -> float:
    return RECOAT_H[ask.sheet.kind] if ask.sheet.recoat_h is None else ask.sheet.recoat_h


def _scuff_grit(ask: Ask) -> int:
    return practice.SCUFF_GRIT_P[1] if ask.sheet.scuff_grit is None else ask.sheet.scuff_grit


def _cautions(ask: Ask, wood: Species | None) -> tuple[str, ...]:
    said = []
    if wood is None:
        said.append(f"Nothing is known of {ask.species}: look at its pores, and make a sample.")
    else:
        said += _of_wood(ask, wood)
    if ask.sheet.kind == "oil_based" or (ask.stained and ask.stain_binder == "oil_based"):
        said.append("Oily rags heat themselves: into a closed metal can, at once.")
    if ask.sheet.kind == "lacquer":
        said.append(practice.PRACTICES["lacquer"])
    if ask.widest_panel_mm >= practice.WIDE_PANEL_MM:
        said.append("A wide panel gets the same film on both faces, or it cups.")
    if ask.sheet.recoat_h is None or ask.sheet.wrap_h is None:
        said.append(f"The sheet's times are not known; waits are {PRACTICE}.")
    said.append("The data sheet, local codes and licensed practice come before this proposal.")
    return tuple(said)


def _of_wood(ask: Ask, wood: Species) -> list[str]:
    said = []
    colour = COLOUR.get(wood.name, "light")
    if wood.pores != "closed" and ask.look == "natural":
        said.append(f"The pores of {wood.name} stay visible: that is the natural look.")
    if wood.pores == "closed" and ask.look == "filled":
        said.append(f"{wood.name} has closed pores: it needs no filler to look filled.")
    if wood.hardness == "soft":
        said.append(f"{wood.name} is soft and dents on standoff points: turn it on felt or a rack.")
    if wood.name in TANNIN and ask.sheet.kind == "water_borne":
        said.append(f"{wood.name} holds tannin: water and iron stain it black; no steel wool.")
    if colour == "light" and ask.sheet.kind == "oil_based":
        said.append(f"Oil yellows a light wood such as {wood.name}, and more with the years.")
    if colour == "red":
        said.append(f"{wood.name} darkens in daylight: let its pieces stand in even light.")
    if colour == "brown" and ask.sheet.kind == "water_borne":
        said.append(
            f"{wood.name} looks cold under a clear water-borne film; a warm tie coat helps."
        )
    return said
