"""The table of rules as a whole."""

import re

import pytest
from coatledger.events.about import FindingSettled
from coatledger.events.catalogue import EVENT_TYPES
from coatledger.events.coating import CoatApplied
from coatledger.findings.finding import Rule
from coatledger.findings.table import CODES, RULES, RULES_OF, STANDING, standing


def test_every_code_can_be_settled() -> None:
    pattern = FindingSettled.__annotations__["code"].__metadata__[0].pattern
    assert all(re.fullmatch(pattern, code) for code in CODES)


def test_there_are_at_least_forty_rules_and_each_code_is_one_rule() -> None:
    own = [rule.code for rule in RULES if rule.code != "not_yet_described"]
    assert len(own) == len(set(own)) >= 40


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.code)
def test_a_rule_says_when_why_what_to_do_and_who_says_so(rule: Rule) -> None:
    for text in (rule.when, rule.why, rule.what_to_do):
        assert text[0].isupper() or text[0] == "2"
        assert text.endswith((".", "?"))
    assert rule.source
    assert "|" not in rule.when + rule.why + rule.what_to_do + rule.source


def test_every_rule_looks_at_facts_or_stands_for_a_state() -> None:
    for rule in RULES:
        assert (rule in STANDING) == (rule.on == ())
    assert standing("film_void").severity == "critical"


def test_sensor_readings_cost_nothing() -> None:
    quiet = {kind.__name__ for kind in EVENT_TYPES if not RULES_OF[kind]}
    assert "ClimateRead" in quiet
    assert len(RULES_OF[CoatApplied]) > 20
