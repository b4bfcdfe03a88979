"""Rules of judging, each seen to fire and to stay silent."""

import pytest
from bench import Bench
from coatledger.events.coating import DrynessChecked
from coatledger.events.judging import GlossMeasured, Inspected, ReworkFinished, ReworkStarted
from coatledger.findings import judging
from judged import Case, codes, ready


def reworked(bench: Bench) -> ReworkFinished:
    bench.later(1).record(ReworkStarted, pieces=("T-1",), remedy="rub_out")
    return bench.later(1).record(ReworkFinished, pieces=("T-1",), done="rub_out")


def satin(bench: Bench) -> object:
    return bench.pieces("S-1", sheen="satin")


CASES = (
    Case(
        "final_light_not_raking",
        lambda b: b.fact(Inspected, pieces=("T-1",), point="final", passed=True),
        lambda b: b.fact(Inspected, pieces=("T-1",), point="final", passed=True, lighting="raking"),
    ),
    Case(
        "sheen_off",
        lambda b: (satin(b), b.fact(GlossMeasured, pieces=("S-1",), gloss_gu=60.0)),
        lambda b: (satin(b), b.fact(GlossMeasured, pieces=("S-1",), gloss_gu=35.0)),
    ),
    Case(
        "reworked_again",
        lambda b: (
            reworked(b),
            reworked(b),
            b.fact(ReworkStarted, pieces=("T-1",), remedy="recoat"),
        ),
        lambda b: (reworked(b), b.fact(ReworkStarted, pieces=("T-1",), remedy="recoat")),
    ),
    Case(
        "slower_than_the_sheet",
        lambda b: (
            b.coat("T-1"),
            b.later(4).fact(DrynessChecked, pieces=("T-1",), stage="sandable", ready=False),
        ),
        lambda b: (
            b.coat("T-1"),
            b.later(2).fact(DrynessChecked, pieces=("T-1",), stage="sandable", ready=False),
        ),
    ),
)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.code)
def test_a_rule_fires_and_stays_silent(case: Case) -> None:
    assert case.code in codes(case.fires)
    assert case.code not in codes(case.silent)


def test_every_rule_has_its_case() -> None:
    assert {case.code for case in CASES} == {rule.code for rule in judging.RULES}


def test_a_piece_nobody_asked_a_sheen_of_may_have_any() -> None:
    bench = ready()
    fact = bench.fact(GlossMeasured, pieces=("T-1",), gloss_gu=95.0)
    assert "sheen_off" not in codes(lambda b: fact)
