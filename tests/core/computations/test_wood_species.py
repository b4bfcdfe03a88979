"""Species against recorded values, and the shop's own words for them."""

import csv
from pathlib import Path

import pytest
from coatledger.computations.wood_species import SPECIES, Species, species

GOLDEN = Path(__file__).parents[2] / "golden" / "computations" / "wood_species.csv"
# The handbook's names where ours are shorter.
OURS = {"shagbark hickory": "hickory", "Douglas-fir (coast)": "douglas fir"}
PORES = {"open": ("open", "semi_open"), "closed": ("closed",)}


def rows() -> list[dict[str, str]]:
    lines = GOLDEN.read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@pytest.mark.parametrize("row", rows(), ids=lambda row: row["species"])
def test_a_species_has_the_handbooks_gravity_and_pores(row: dict[str, str]) -> None:
    """Table 5-3b to its two decimals; classes of chapter 3."""
    one = species(OURS.get(row["species"], row["species"]))
    assert one is not None
    assert one.latin == row["latin"]
    assert one.specific_gravity_12 == float(row["sg_12"])
    assert one.pores in PORES[row["grain_class"]]
    assert one.softwood is ("softwood" in row["pores"])
    assert ("semi-ring" in row["pores"]) is (one.pores == "semi_open")


@pytest.mark.parametrize(
    ("word", "name"),
    [("White_Oak", "white oak"), ("black-walnut", "walnut"), ("  ash ", "ash"), ("pine", None)],
)
def test_the_shops_word_finds_its_species(word: str, name: str | None) -> None:
    one = species(word)
    assert one is not None
    assert one.name == (name or "eastern white pine")


def test_a_wood_we_do_not_know_is_not_guessed() -> None:
    assert species("driftwood") is None


@pytest.mark.parametrize("one", SPECIES.values(), ids=lambda one: one.name)
def test_every_species_moves_more_along_the_rings_than_across(one: Species) -> None:
    assert 0.0 < one.radial_pct < one.tangential_pct < 15.0
    assert not one.softwood or one.pores == "closed"
