"""Rules of preparing, each seen to fire and to stay silent."""

import pytest
from bench import Bench
from coatledger.events.bare import ConditionRecorded, WoodMoistureRead
from coatledger.events.preparing import BlownOff, GrainRaised, Sanded, Stained
from coatledger.findings import preparing
from judged import Case, codes, judge, prepare, ready


def sand(bench: Bench) -> Sanded:
    return bench.record(Sanded, pieces=("T-1",), stage="bare", grit=150)


def cloth(bench: Bench, kind: str) -> BlownOff:
    return bench.record(BlownOff, pieces=("T-1",), by="tack_cloth", cloth=kind)


def moisture(bench: Bench, pct: float) -> WoodMoistureRead:
    return bench.record(WoodMoistureRead, pieces=("T-1",), moisture_pct=pct)


CASES = (
    Case(
        "raised_grain_not_cut",
        lambda b: (b.record(GrainRaised, pieces=("T-1",)), b.would_coat("T-1")),
        lambda b: (
            b.record(GrainRaised, pieces=("T-1",)),
            prepare(b.later(1), "T-1"),
            b.would_coat("T-1"),
        ),
    ),
    Case(
        "no_blow_off",
        lambda b: (sand(b), b.would_coat("T-1")),
        lambda b: (
            sand(b),
            b.record(BlownOff, pieces=("T-1",), by="compressed_air"),
            b.would_coat("T-1"),
        ),
    ),
    Case(
        "waxy_tack_cloth",
        lambda b: (cloth(b, "waxy"), b.would_coat("T-1")),
        lambda b: (cloth(b, "water_borne_safe"), b.would_coat("T-1")),
    ),
    Case(
        "wood_too_damp",
        lambda b: (moisture(b, 13.0), b.would_coat("T-1")),
        lambda b: (moisture(b, 9.5), b.would_coat("T-1")),
    ),
    Case(
        "contaminated_surface",
        lambda b: b.fact(ConditionRecorded, pieces=("T-1",), state="contaminated"),
        lambda b: b.fact(ConditionRecorded, pieces=("T-1",), state="marked"),
    ),
    Case(
        "refinish_not_sealed",
        lambda b: (b.pieces("R-1", refinish=True), b.would_coat("R-1", role="build")),
        lambda b: (b.pieces("R-1", refinish=True), b.would_coat("R-1", role="sealer")),
    ),
    Case(
        "stained_over_film",
        lambda b: (b.coat("T-1"), b.later(4).fact(Stained, pieces=("T-1",))),
        lambda b: b.fact(Stained, pieces=("T-1",)),
    ),
)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.code)
def test_a_rule_fires_and_stays_silent(case: Case) -> None:
    assert case.code in codes(case.fires)
    assert case.code not in codes(case.silent)


def test_every_rule_has_its_case() -> None:
    assert {case.code for case in CASES} == {rule.code for rule in preparing.RULES}


def test_a_cloth_of_an_unknown_kind_counts_as_waxy_and_a_solvent_finish_does_not_mind() -> None:
    bench = ready()
    bench.record(BlownOff, pieces=("T-1",), by="tack_cloth")
    (found,) = judge(bench, bench.would_coat("T-1"))
    assert found.seen[0].says == "wiped with a tack cloth (kind not said)"
    assert found.seen[0].event is not None
    bench.clear("nc", kind="lacquer", mfft_c=None)
    bench.can("can-nc", "nc")
    assert "waxy_tack_cloth" not in {
        f.code for f in judge(bench, bench.would_coat("T-1", lot="can-nc"))
    }


def test_only_the_dusty_pieces_of_an_act_are_named() -> None:
    bench = ready()
    sand(bench)
    (found,) = judge(bench, bench.would_coat("T-1", "T-2"))
    assert (found.code, found.pieces, found.cause) == ("no_blow_off", ("T-1",), "piece:T-1")


def test_damp_wood_names_the_balance_of_this_air() -> None:
    bench = ready()
    moisture(bench, 13.0)
    (found,) = judge(bench, bench.would_coat("T-1"))
    # Wood Handbook table 4-2: 21.1 C and 50 % keep wood at 9.2 %.
    assert found.seen[0].says == "the wood was at 13 %, this air keeps it at 9.2 %"
