"""Every reason to refuse has a status, a title, a meaning and something to do about it."""

import re
from pathlib import Path

import pytest
from coatledger.refusal import RULES, Fault, Refused, refuse

CORE = Path(__file__).resolve().parents[2] / "core" / "coatledger"


@pytest.mark.parametrize("name", RULES)
def test_a_rule_says_what_it_is_and_what_to_do(name: str) -> None:
    rule = RULES[name]
    assert re.fullmatch(r"[a-z][a-z_]+", name)
    assert 400 <= rule.status < 500
    assert rule.title
    assert rule.meaning.endswith(".")
    assert rule.remedy.endswith(".")


def test_every_rule_the_core_refuses_by_is_in_the_table() -> None:
    used = set()
    for path in CORE.rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        used |= set(re.findall(r'rule="([a-z_]+)"', text))
        used |= set(re.findall(r'(?:refuse|_one)\(\s*"([a-z_]+)"', text))
    assert used <= set(RULES)
    assert {"invalid", "condition_broken", "unknown_event", "id_reused"} <= used


def test_a_refusal_carries_every_fault_and_is_named_by_the_first() -> None:
    faults = (
        Fault(rule="unknown_piece", pointer="/events/0/pieces/1", detail="no piece zz"),
        Fault(rule="invalid", pointer="", detail="something is missing"),
    )
    refused = Refused(faults)
    assert (refused.rule, refused.faults) == ("unknown_piece", faults)
    assert str(refused) == "/events/0/pieces/1: no piece zz; /: something is missing"


def test_a_refusal_without_a_fault_or_by_no_rule_is_a_mistake_of_ours() -> None:
    with pytest.raises(AssertionError):
        Refused(())
    with pytest.raises(AssertionError):
        refuse("because", "", "no such rule")
    assert refuse("invalid", "/lot", "empty").faults[0].pointer == "/lot"
