"""Cautions stand at the acts that bring them about, and at the next act before it is done."""

from collections.abc import Iterable
from typing import Any

import pytest
from bench import Bench
from coatledger.computations.cautions import Caution
from coatledger.events.base import Fact
from coatledger.events.finish import LotMixed, Parent
from coatledger.events.preparing import BlownOff, GrainFilled, Sanded, Stained
from coatledger.events.room_gun import GunFlushed, GunStripCleaned, TestSprayed
from coatledger.events.setup import GunDescribed, ProductDescribed, Step
from coatledger.findings.cautioned import CAUTIONED, cautions_ahead, cautions_of

SPRAY = {"spray_mist", "spray_residue"}


@pytest.fixture
def bench() -> Bench:
    """A shop with a water-borne clear, an oil, a lacquer and a hardener."""
    bench = Bench().open_shop()
    bench.record(ProductDescribed, product="oil", kind="oil_based", cautions=("self_heating_rags",))
    bench.record(ProductDescribed, product="nc", kind="lacquer", burns_in=True)
    bench.record(
        ProductDescribed, product="hard", kind="water_borne", use="crosslinker",
        cautions=("isocyanate", "corrosive"),
    )  # fmt: skip
    for lot, product in (("can-o", "oil"), ("can-n", "nc"), ("can-h", "hard")):
        bench.can(lot, product)
    bench.pieces("a")
    return bench


def codes(found: Iterable[Caution]) -> set[str]:
    return {caution.code for caution in found}


def of(bench: Bench, kind: type[Fact], **fields: Any) -> set[str]:
    return codes(cautions_of(bench.view(), bench.fact(kind, **fields)))


def test_residue_of_a_water_borne_finish_burns_too(bench: Bench) -> None:
    assert codes(cautions_of(bench.view(), bench.would_coat("a"))) == SPRAY
    wiped = bench.would_coat("a", method="wipe")
    assert cautions_of(bench.view(), wiped) == ()


def test_an_oil_brings_its_rags_however_it_is_put_on(bench: Bench) -> None:
    oiled = bench.would_coat("a", lot="can-o", method="wipe")
    assert codes(cautions_of(bench.view(), oiled)) == {"self_heating_rags"}
    assert of(bench, Stained, pieces=("a",), lot="can-o") == {"self_heating_rags"}
    assert of(bench, Stained, pieces=("a",), binder="oil_based") == {"self_heating_rags"}
    assert of(bench, GrainFilled, pieces=("a",), lot="can-o") == {"self_heating_rags"}
    assert of(bench, Stained, pieces=("a",), binder="water_borne") == set()


def test_a_lacquer_brings_its_solvent_and_its_residue(bench: Bench) -> None:
    sprayed = bench.would_coat("a", lot="can-n")
    found = codes(cautions_of(bench.view(), sprayed))
    assert found == SPRAY | {"nitrocellulose", "flammable_solvent"}


def test_a_crosslinker_is_warned_of_when_mixed_and_when_sprayed(bench: Bench) -> None:
    parts = (
        Parent(lot="can-1", amount_l=1.0),
        Parent(lot="can-h", amount_l=0.1, part="crosslinker"),
    )
    mixing: dict[str, Any] = {"lot": "mix", "product": "clear-w", "parents": parts}
    assert of(bench, LotMixed, **mixing) == {"isocyanate", "corrosive"}
    bench.record(LotMixed, **mixing)
    sprayed = bench.would_coat("a", lot="mix")
    assert codes(cautions_of(bench.view(), sprayed)) == SPRAY | {"isocyanate"}
    tried = of(bench, TestSprayed, gun="g1", lot="mix")
    assert tried == SPRAY | {"isocyanate"}


def test_sanding_a_film_that_is_not_cured_is_more_than_dust(bench: Bench) -> None:
    sanding = {"pieces": ("a",), "stage": "between_coats", "grit": 320}
    assert of(bench, Sanded, **sanding) == {"dust"}
    bench.coat("a")
    assert of(bench, Sanded, **sanding) == {"dust", "uncured_film"}
    bench.later(200)
    assert of(bench, Sanded, **sanding) == {"dust"}


def test_compressed_air_raises_dust_and_a_vacuum_does_not(bench: Bench) -> None:
    assert of(bench, BlownOff, pieces=("a",), by="compressed_air") == {"blow_off_dust"}
    assert of(bench, BlownOff, pieces=("a",), by="vacuum") == set()


def test_chlorinated_solvent_and_aluminium_are_kept_apart(bench: Bench) -> None:
    assert of(bench, GunStripCleaned, gun="g1", using="chlorinated_solvent") == {
        "chlorinated_in_aluminium"
    }
    bench.record(GunDescribed, gun="g2", body="steel")
    assert of(bench, GunStripCleaned, gun="g2", using="chlorinated_solvent") == set()
    assert of(bench, GunFlushed, gun="g2", using="solvent") == {"flammable_solvent"}


def test_the_next_act_is_cautioned_before_it_is_done(bench: Bench) -> None:
    piece = bench.view().piece("a")

    def ahead(**step: Any) -> set[str]:
        return codes(cautions_ahead(bench.view(), piece, Step(**step)))

    assert ahead(act="coat", product="oil") == SPRAY | {"self_heating_rags"}
    assert ahead(act="sand", grit=150) == {"dust"}
    assert ahead(act="blow_off") == {"blow_off_dust"}
    assert ahead(act="stain", product="oil") == {"self_heating_rags"}
    assert ahead(act="pack") == set()
    assert cautions_ahead(bench.view(), piece, None) == ()


def test_an_act_without_a_caution_has_none(bench: Bench) -> None:
    climate = bench.climate()
    assert type(climate) not in CAUTIONED
    assert cautions_of(bench.view(), climate) == ()
