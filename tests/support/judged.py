"""Given a bench in order, when a fact comes, then these findings: one case a rule, both ways."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

from bench import Bench
from coatledger.events.base import Fact
from coatledger.events.preparing import BlownOff, Sanded
from coatledger.findings.find import findings_of
from coatledger.findings.finding import Finding
from coatledger.ledger.record import micros
from coatledger.subjects.view import View

Told = Callable[[Bench], Any]


class Case(NamedTuple):
    """One rule: a history that brings it about and one, as like it as can be, that does not.

    Each returns the fact to judge, or a tuple of steps whose last is that fact.
    """

    code: str
    fires: Told
    silent: Told


def ready() -> Bench:
    """A shop at 8 in the morning with T-1, T-2 and T-3 sanded and blown off, the air read."""
    bench = Bench().open_shop()
    bench.pieces("T-1", "T-2", "T-3")
    prepare(bench, "T-1", "T-2", "T-3")
    bench.at("1 07:45").climate()
    return bench.at("1 08:00")


def prepare(bench: Bench, *words: str) -> BlownOff:
    """Sand to P150 and blow off."""
    bench.record(Sanded, pieces=words, stage="bare", grit=150)
    return bench.record(BlownOff, pieces=words, by="vacuum")


def scuffed(bench: Bench, *words: str, **fields: Any) -> BlownOff:
    """Scuff by hand between coats and blow off."""
    given = {"stage": "between_coats", "grit": 320}
    bench.record(Sanded, pieces=words, **{**given, **fields})
    return bench.record(BlownOff, pieces=words, by="vacuum")


def judge(bench: Bench, fact: Fact) -> tuple[Finding, ...]:
    """Return the findings of a fact nobody has recorded yet."""
    with bench.store.reading() as reader:
        return findings_of(View(reader, micros(fact.occurred_at)), fact)


def codes(told: Told) -> set[str]:
    """Tell a history on a bench in order and return the codes found for its last fact."""
    bench = ready()
    steps = told(bench)
    fact = steps[-1] if isinstance(steps, tuple) else steps
    assert isinstance(fact, Fact)
    return {finding.code for finding in judge(bench, fact)}
