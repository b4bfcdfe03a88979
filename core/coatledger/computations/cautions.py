"""What to be careful of at each act, in words that defer: never a permission, never a countdown.

One table; the ledger shows a caution where the act that brings it about stands.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from msgspec import Struct

DEFERENCE = (
    "The product's data sheet and safety data sheet, local codes and licensed practice come first."
)


class Caution(Struct, frozen=True):
    """One caution: what may happen, what to do about it, and who says so."""

    code: str
    text: str
    source: str


CAUTIONS: Mapping[str, Caution] = MappingProxyType(
    {
        caution.code: caution
        for caution in (
            Caution(
                "self_heating_rags",
                "Rags wet with an oil or alkyd finish heat themselves and can catch fire hours "
                "later. Put them in an approved metal waste can, under water where the can is made "
                "for it, and empty the can at least daily or at the end of the shift.",
                "29 CFR 1910.107(g)(3); self-heating: NFPA practice, from memory",
            ),
            Caution(
                "spray_residue",
                "Dry residue in the booth, its filters and duct burns even where the finish was "
                "water-borne. Change loaded filters, clean with non-sparking tools, and keep "
                "incompatible residues apart.",
                "29 CFR 1910.107(b)(5), (g); NFPA 33, from memory",
            ),
            Caution(
                "spray_mist",
                "Mist and vapour harm the lungs and may burn. Airflow first, then a respirator of "
                "the kind the safety data sheet names; no flame, spark or hot surface near by.",
                "29 CFR 1910.94(c), 1910.107, 1910.134",
            ),
            Caution(
                "isocyanate",
                "An isocyanate crosslinker can sensitise the lungs for good: after that, traces "
                "bring on asthma. Mix and spray only with the protection its safety data sheet "
                "names; anyone already sensitised stays away.",
                "safety data sheets of isocyanates; exposure limits from memory, not shown",
            ),
            Caution(
                "aziridine",
                "An aziridine crosslinker can sensitise skin and lungs and is held to be "
                "mutagenic. Gloves and eye protection as its safety data sheet names; the mix "
                "has a pot life.",
                "safety data sheets of aziridines, from memory",
            ),
            Caution(
                "uncured_film",
                "Sanding a film that is not cured raises dust with live ingredients, the worse "
                "with a crosslinker in it. Wait for the clock, sand wet or with extraction.",
                "common practice, no published source; 29 CFR 1910.1000 for dust",
            ),
            Caution(
                "chlorinated_in_aluminium",
                "Never put a chlorinated solvent (methylene chloride and its kind) into a gun or "
                "pot with aluminium or galvanised parts: they can react and burst.",
                "makers' warnings on spray equipment, common practice",
            ),
            Caution(
                "blow_off_dust",
                "Blowing off raises the dust that then settles on wet films and is breathed. Keep "
                "the air below 207 kPa (30 psi) at the nozzle, with chip guarding and eye "
                "protection; better, use a vacuum.",
                "29 CFR 1910.242(b)",
            ),
            Caution(
                "high_pressure_injection",
                "An airless or air-assisted gun can inject finish through the skin; it looks like "
                "a small cut and is an emergency. Lock the trigger and let the pressure off before "
                "touching the tip.",
                "makers' warnings on spray equipment, common practice",
            ),
            Caution(
                "nitrocellulose",
                "Nitrocellulose lacquer and its dry overspray burn fast. Keep residues wet until "
                "they leave the building and never mix them with oil-finish residues.",
                "29 CFR 1910.107(g), (m), from memory",
            ),
            Caution(
                "dust",
                "Fine dust of hardwoods harms the nose and lungs and can explode in a collector. "
                "Extract it where it is made.",
                "29 CFR 1910.1000 Table Z-1 and NFPA dust standards, from memory",
            ),
            Caution(
                "flammable_solvent",
                "Keep solvent-borne finishes closed and in the cabinet local codes ask for; only "
                "the day's need stands in the spraying area.",
                "29 CFR 1910.106, 1910.107(e)",
            ),
            Caution(
                "corrosive",
                "The product burns skin and eyes and attacks metal. Gloves, eye protection and "
                "water to rinse with within reach, as its safety data sheet names.",
                "the product's safety data sheet; 29 CFR 1910.151(c), from memory",
            ),
        )
    }
)

SPRAY_METHODS = frozenset(("hvlp", "air_assisted", "airless", "conventional", "electrostatic"))


def for_coating(method: str, kind: str, crosslinker: str | None = None) -> tuple[Caution, ...]:
    """Cautions of putting on a coat: by how it is put on, the finish's kind and its crosslinker.

    Kinds are `water_borne`, `lacquer` and `oil_based`; an alkyd is oil based here.
    """
    codes = []
    if method in SPRAY_METHODS:
        codes += ["spray_mist", "spray_residue"]
    if method in ("air_assisted", "airless"):
        codes.append("high_pressure_injection")
    if kind == "oil_based":
        codes.append("self_heating_rags")
    if kind == "lacquer":
        codes += ["nitrocellulose", "flammable_solvent"]
    if crosslinker in ("isocyanate", "aziridine"):
        codes.append(crosslinker)
    return tuple(CAUTIONS[code] for code in codes)


def for_gun(body: str, using: str) -> tuple[Caution, ...]:
    """Cautions of rinsing a gun of some metal with some liquid."""
    if body == "aluminium" and using == "chlorinated_solvent":
        return (CAUTIONS["chlorinated_in_aluminium"],)
    return (CAUTIONS["flammable_solvent"],) if using == "solvent" else ()


def for_sanding(*, cured: bool) -> tuple[Caution, ...]:
    """Cautions of sanding wood or a film, and of sanding one that has not cured."""
    codes = ("dust",) if cured else ("uncured_film", "dust")
    return tuple(CAUTIONS[code] for code in codes)
