"""Cautions stand at the acts that bring them about, and never permit."""

from typing import get_args

import pytest
from coatledger.computations import cautions
from coatledger.events.setup import Caution as SheetCaution


def codes(found: tuple[cautions.Caution, ...]) -> set[str]:
    return {caution.code for caution in found}


def test_every_caution_a_product_can_carry_has_its_words() -> None:
    assert set(get_args(SheetCaution)) <= set(cautions.CAUTIONS)


@pytest.mark.parametrize("code", list(cautions.CAUTIONS))
def test_a_caution_names_its_source_and_permits_nothing(code: str) -> None:
    caution = cautions.CAUTIONS[code]
    assert caution.code == code
    assert caution.source
    for word in ("you may", "is safe", "no need", "permitted", "minutes left"):
        assert word not in caution.text.lower()


def test_an_oil_finish_brings_the_rags_even_when_it_is_wiped() -> None:
    assert codes(cautions.for_coating("wipe", "oil_based")) == {"self_heating_rags"}


def test_spray_residue_burns_even_where_the_finish_was_water_borne() -> None:
    found = cautions.for_coating("hvlp", "water_borne")
    assert codes(found) == {"spray_mist", "spray_residue"}
    assert "even where the finish was water-borne" in cautions.CAUTIONS["spray_residue"].text


def test_a_crosslinker_and_an_injecting_gun_add_theirs() -> None:
    found = codes(cautions.for_coating("air_assisted", "water_borne", "isocyanate"))
    assert {"isocyanate", "high_pressure_injection"} <= found
    assert "aziridine" in codes(cautions.for_coating("hvlp", "water_borne", "aziridine"))


def test_lacquer_brings_nitrocellulose_and_its_solvent() -> None:
    found = codes(cautions.for_coating("hvlp", "lacquer"))
    assert {"nitrocellulose", "flammable_solvent"} <= found


def test_a_chlorinated_solvent_and_aluminium_are_kept_apart() -> None:
    assert codes(cautions.for_gun("aluminium", "chlorinated_solvent")) == {
        "chlorinated_in_aluminium"
    }
    assert cautions.for_gun("aluminium", "water") == ()
    assert codes(cautions.for_gun("steel", "solvent")) == {"flammable_solvent"}


def test_sanding_an_uncured_film_is_more_than_dust() -> None:
    assert codes(cautions.for_sanding(cured=False)) == {"uncured_film", "dust"}
    assert codes(cautions.for_sanding(cured=True)) == {"dust"}
