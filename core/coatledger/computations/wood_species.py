"""What the shop must know of a species before it sprays it: pores, weight, hardness, movement.

Numbers are means of the handbook's clear wood; a single board may differ by a tenth or more.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final, Literal, TypeAlias

import msgspec

Pores: TypeAlias = Literal["open", "semi_open", "closed"]
Hardness: TypeAlias = Literal["soft", "medium", "hard"]


class Species(msgspec.Struct, frozen=True):
    """One species: pores decide about filling, hardness about standing on points."""

    name: str
    latin: str
    specific_gravity_12: float
    pores: Pores
    hardness: Hardness
    softwood: bool
    tangential_pct: float
    radial_pct: float


def _hardwood(
    name: str, latin: str, gravity: float, pores: Pores, hard: Hardness, tang: float, rad: float
) -> Species:
    return Species(name, latin, gravity, pores, hard, False, tang, rad)


def _softwood(
    name: str, latin: str, gravity: float, hard: Hardness, tang: float, rad: float
) -> Species:
    return Species(name, latin, gravity, "closed", hard, True, tang, rad)


# Specific gravity (ovendry mass, volume at 12 %): USDA Wood Handbook GTR-282 table 5-3b; yellow
# poplar, cherry, sugar maple and white oak confirmed in text, the others from memory. Pores: ch. 3,
# ring-porous is open, diffuse-porous closed, and what lies between semi-open; hardwoods with large
# pores want a filler (ch. 16). Shrinkage green to ovendry in %, tangential and radial: table 4-3,
# from memory. Hardness classes are ours, by side hardness of table 5-3b (from memory): soft below
# 3.5 kN, hard from 5.5 kN.
_ALL: Final = (
    _hardwood("ash", "Fraxinus americana", 0.60, "open", "hard", 7.8, 4.9),
    _hardwood("white oak", "Quercus alba", 0.68, "open", "hard", 10.5, 5.6),
    _hardwood("red oak", "Quercus rubra", 0.63, "open", "hard", 8.6, 4.0),
    _hardwood("hickory", "Carya ovata", 0.72, "open", "hard", 10.5, 7.0),
    _hardwood("elm", "Ulmus americana", 0.50, "open", "medium", 9.5, 4.2),
    _hardwood("walnut", "Juglans nigra", 0.55, "semi_open", "medium", 7.8, 5.5),
    _hardwood("butternut", "Juglans cinerea", 0.38, "semi_open", "soft", 6.4, 3.4),
    _hardwood("mahogany", "Swietenia macrophylla", 0.50, "semi_open", "medium", 4.1, 3.0),
    _hardwood("cherry", "Prunus serotina", 0.50, "closed", "medium", 7.1, 3.7),
    _hardwood("hard maple", "Acer saccharum", 0.63, "closed", "hard", 9.9, 4.8),
    _hardwood("soft maple", "Acer rubrum", 0.54, "closed", "medium", 8.2, 4.0),
    _hardwood("beech", "Fagus grandifolia", 0.64, "closed", "hard", 11.9, 5.5),
    _hardwood("yellow birch", "Betula alleghaniensis", 0.62, "closed", "hard", 9.5, 7.3),
    _hardwood("red alder", "Alnus rubra", 0.41, "closed", "soft", 7.3, 4.4),
    _hardwood("basswood", "Tilia americana", 0.37, "closed", "soft", 9.3, 6.6),
    _hardwood("sweetgum", "Liquidambar styraciflua", 0.52, "closed", "medium", 10.2, 5.3),
    _hardwood("yellow poplar", "Liriodendron tulipifera", 0.42, "closed", "soft", 8.2, 4.6),
    _softwood("eastern white pine", "Pinus strobus", 0.35, "soft", 6.1, 2.1),
    _softwood("longleaf pine", "Pinus palustris", 0.59, "medium", 7.5, 5.1),
    _softwood("douglas fir", "Pseudotsuga menziesii", 0.48, "soft", 7.6, 4.8),
)

SPECIES: Final[Mapping[str, Species]] = MappingProxyType({one.name: one for one in _ALL})

# Words of the bench for the names above.
_ALSO: Final[Mapping[str, str]] = MappingProxyType(
    {
        "white ash": "ash",
        "black walnut": "walnut",
        "black cherry": "cherry",
        "sugar maple": "hard maple",
        "maple": "hard maple",
        "red maple": "soft maple",
        "oak": "white oak",
        "birch": "yellow birch",
        "american beech": "beech",
        "american basswood": "basswood",
        "american elm": "elm",
        "alder": "red alder",
        "poplar": "yellow poplar",
        "tulipwood": "yellow poplar",
        "shagbark hickory": "hickory",
        "white pine": "eastern white pine",
        "pine": "eastern white pine",
    }
)


def species(name: str) -> Species | None:
    """Return a species by the shop's word for it, or nothing when we know nothing of it."""
    words = " ".join(name.lower().replace("_", " ").replace("-", " ").split())
    return SPECIES.get(_ALSO.get(words, words))
