"""Film and coverage: what a litre covers, what a coat leaves, whose litres an act's litres were.

Thinner is given as volume per cent of the finish it is added to, and counts as fully volatile; for
a reducer or crosslinker that stays in the film, mix the volume solids first (`mix_solids_pct`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from types import MappingProxyType

from msgspec import Struct

from coatledger.computations.ranges import require

SOLIDS = "a finish with any film former, ISO 3233 (per cent by volume)"
FILM = "one litre spread over an area, a coat of finish"
AREA = "the area of the pieces of one job"
LITRES = "the litres of one act or one job"
REDUCER = "thinning by volume of the finish it is added to"
EFFICIENCY = "transfer efficiency, solids that stay over solids sprayed"


class Efficiency(Struct, frozen=True):
    """The share of a method's solids that ends up on the piece, and where the figure is printed."""

    likely_pct: float
    low_pct: float
    high_pct: float
    source: str


EE = "40 CFR 60 subpart EE, Table 1 (read in Wis. Adm. Code NR 440.48 Table 1)"
SCAQMD = "South Coast AQMD: a method qualifies at 65 % or by equivalence to HVLP"
PRACTICE = "common practice, no published source"

# The regulation's figures are for planning; a shop that weighs its own panels should use its own.
TRANSFER_EFFICIENCY: Mapping[str, Efficiency] = MappingProxyType(
    {
        "conventional": Efficiency(25, 20, 40, f"{EE}: air atomised; range {PRACTICE}"),
        "airless": Efficiency(25, 25, 60, f"{EE}: airless; range {PRACTICE}"),
        "air_assisted": Efficiency(50, 25, 65, PRACTICE),
        "hvlp": Efficiency(65, 50, 75, f"{SCAQMD}; range {PRACTICE}"),
        "electrostatic": Efficiency(60, 50, 70, f"{EE}: manual; range {PRACTICE}"),
        "electrostatic_automatic": Efficiency(70, 60, 80, f"{EE}; range {PRACTICE}"),
        "electrostatic_rotating": Efficiency(80, 70, 90, f"{EE}; range {PRACTICE}"),
        "dip": Efficiency(90, 85, 95, f"{EE}: dip and flow coat; range {PRACTICE}"),
        "brush": Efficiency(95, 90, 98, PRACTICE),
        "wipe": Efficiency(90, 80, 95, PRACTICE),
    }
)

# How a piece's coating area is spread over its faces when the piece itself does not say.
# Common practice, no published source.
FACE_SHARE: Mapping[str, float] = MappingProxyType(
    {"show": 0.40, "underside": 0.30, "edges": 0.12, "inside": 0.14, "end_grain": 0.04}
)


def theoretical_rate_m2_per_l(volume_solids_pct: float, dry_film_um: float) -> float:
    """Area one litre covers at a dry film when nothing is lost.

    *Reference:* 10 VS%/DFT, the metric form of 1604 VS/DFT(mil) ft²/gal (231 in³ over one mil).
    *Valid:* any flat film; texture, pores and edges take more.
    """
    require("volume_solids_pct", volume_solids_pct, 0.1, 100, SOLIDS)
    require("dry_film_um", dry_film_um, 0.1, 10_000, FILM)
    return 10 * volume_solids_pct / dry_film_um


def practical_rate_m2_per_l(
    volume_solids_pct: float, dry_film_um: float, efficiency_pct: float
) -> float:
    """Area one litre covers with the overspray lost.

    *Reference:* theoretical rate x transfer efficiency (1604 VS TE/DFT). *Valid:* as measured TE.
    """
    require("efficiency_pct", efficiency_pct, 1, 100, EFFICIENCY)
    return theoretical_rate_m2_per_l(volume_solids_pct, dry_film_um) * efficiency_pct / 100


def dry_film_um(wet_film_um: float, volume_solids_pct: float, reducer_pct: float = 0) -> float:
    """The film left when the volatile part of a wet film has gone.

    *Reference:* DFT = WFT x VS/(1 + a), a the reducer's volume over the finish's.
    *Valid:* reducer fully volatile, volumes additive.
    """
    require("wet_film_um", wet_film_um, 0.1, 10_000, FILM)
    return wet_film_um * thinned_solids_pct(volume_solids_pct, reducer_pct) / 100


def wet_film_um(dry_film_um: float, volume_solids_pct: float, reducer_pct: float = 0) -> float:
    """The wet film to read on the gauge for a wanted dry film: the inverse of `dry_film_um`."""
    require("dry_film_um", dry_film_um, 0.1, 10_000, FILM)
    return dry_film_um * 100 / thinned_solids_pct(volume_solids_pct, reducer_pct)


def thinned_solids_pct(volume_solids_pct: float, reducer_pct: float) -> float:
    """Volume solids after a fully volatile reducer: VS/(1 + a)."""
    require("volume_solids_pct", volume_solids_pct, 0.1, 100, SOLIDS)
    require("reducer_pct", reducer_pct, 0, 400, REDUCER)
    return volume_solids_pct / (1 + reducer_pct / 100)


def mix_solids_pct(parts: Sequence[tuple[float, float]]) -> float:
    """Volume solids of a mix of (litres, volume solids per cent) parts.

    *Reference:* sum(V VS)/sum(V). *Valid:* additive volumes; a part with 0 % is a thinner.
    """
    for volume_l, solids_pct in parts:
        require("volume_l", volume_l, 0, 1e6, LITRES)
        require("volume_solids_pct", solids_pct, 0, 100, SOLIDS)
    total_l = require("volume_l", sum(volume for volume, _ in parts), 1e-6, 1e6, LITRES)
    return sum(volume * solids for volume, solids in parts) / total_l


def dry_film_from_mass_um(
    mass_g: float, volume_solids_pct: float, density_g_per_l: float, area_m2: float
) -> float:
    """Dry film from the grams of finish that stayed on an area.

    *Reference:* PCRC question and answer of December 2007, with its 453.6 g/lb put back under the
    fraction where the algebra wants it (it is printed in the numerator): volume = mass/density.
    """
    require("mass_g", mass_g, 0, 1e6, "grams of finish on one job")
    require("volume_solids_pct", volume_solids_pct, 0.1, 100, SOLIDS)
    require("density_g_per_l", density_g_per_l, 500, 3000, "density of a liquid finish, ISO 2811")
    require("area_m2", area_m2, 1e-6, 1e6, AREA)
    return mass_g / density_g_per_l * volume_solids_pct / 100 / area_m2 * 1000


def wet_film_from_amount_um(amount_l: float, area_m2: float, efficiency_pct: float) -> float:
    """Mean wet film when an amount was sprayed over an area: volume that stayed over area."""
    require("amount_l", amount_l, 0, 1e6, LITRES)
    require("area_m2", area_m2, 1e-6, 1e6, AREA)
    require("efficiency_pct", efficiency_pct, 1, 100, EFFICIENCY)
    return amount_l * efficiency_pct / 100 / area_m2 * 1000


def litres_needed(
    area_m2: float,
    dry_film_um: float,
    volume_solids_pct: float,
    efficiency_pct: float,
    coats: int = 1,
) -> float:
    """Litres, unthinned, for an area, a dry film a coat and a number of coats."""
    require("area_m2", area_m2, 0, 1e6, AREA)
    require("coats", coats, 0, 50, "the coats of one schedule")
    rate = practical_rate_m2_per_l(volume_solids_pct, dry_film_um, efficiency_pct)
    return area_m2 * coats / rate


class Coat(Struct, frozen=True, forbid_unknown_fields=True):
    """One coat as it was put on: its wet film, its finish's volume solids, its thinning."""

    wet_film_um: float
    volume_solids_pct: float
    reducer_pct: float = 0


class Build(Struct, frozen=True):
    """A whole system's film: dry film of each coat, what stands after each, and the total wet."""

    dry_um: tuple[float, ...]
    standing_um: tuple[float, ...]
    total_wet_um: float
    total_dry_um: float


def system_film(coats: Sequence[Coat]) -> Build:
    """Dry film of each coat and the film standing after it; sanding between is not taken off."""
    dry = tuple(dry_film_um(c.wet_film_um, c.volume_solids_pct, c.reducer_pct) for c in coats)
    standing = tuple(math.fsum(dry[: number + 1]) for number in range(len(dry)))
    wet = math.fsum(coat.wet_film_um for coat in coats)
    return Build(dry, standing, wet, math.fsum(dry))


def face_area_m2(
    coat_area_m2: float, faces: Sequence[str], shares: Mapping[str, float] = FACE_SHARE
) -> float:
    """The part of a piece's coating area that lies on the named faces (`all` is the whole).

    *Reference:* default shares are common practice, no published source.
    """
    require("coat_area_m2", coat_area_m2, 0, 1e6, AREA)
    require("sum of face shares", math.fsum(shares.values()), 1 - 1e-6, 1 + 1e-6, "a whole piece")
    if "all" in faces:
        return coat_area_m2
    unknown = sorted(set(faces) - set(shares))
    if unknown:
        raise ValueError(f"no share is known for face {', '.join(unknown)}")
    return coat_area_m2 * math.fsum(shares[face] for face in sorted(set(faces)))


def split_by_area(amount: float, areas_m2: Mapping[str, float]) -> Mapping[str, float]:
    """Share an act's litres or minutes over its pieces in proportion to the area coated.

    *Reference:* the ledger's own definition: amounts are for the whole act, split by area and face.
    """
    require("amount", amount, 0, 1e6, "the litres or minutes of one act")
    for piece, area_m2 in areas_m2.items():
        require(f"area_m2 of {piece}", area_m2, 0, 1e6, AREA)
    total_m2 = require("area_m2", math.fsum(areas_m2.values()), 1e-9, 1e6, AREA)
    return {piece: amount * area_m2 / total_m2 for piece, area_m2 in areas_m2.items()}
