"""Judged on its way in, a fact is told the same as when it is judged at its place afterwards."""

from typing import Any

import pytest
from any_history import any_history
from bench import Bench
from coatledger.events.finish import LotOpened
from coatledger.events.room_gun import ClimateRead, Reading
from coatledger.findings.find import findings_of
from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.record import micros
from coatledger.recording import beforehand
from coatledger.recording.beforehand import can_be_judged_at_once, is_looked_at
from coatledger.recording.session import Receipt
from coatledger.subjects.view import View


def afterwards(bench: Bench, fact: Any, receipt: Receipt) -> object:
    """Judge a recorded fact at its place, as the service does for what it did not judge yet."""
    with bench.store.reading() as reader:
        view = View(reader, micros(fact.occurred_at), before=receipt.position)
        return findings_of(view, fact)


class Judged(Bench):
    """A bench that has every fact judged on its way in and asks again afterwards."""

    told = 0

    def post(self, *facts: Any, **request: Any) -> tuple[Receipt, ...]:
        receipts = super().post(*facts, **{**request, "judged": True})
        once = can_be_judged_at_once(facts)
        for fact, receipt in zip(facts, receipts, strict=True):
            if receipt.faults or not is_looked_at(fact) or not once:
                assert receipt.judged is None
            elif len(facts) == 1 or fact is facts[-1]:
                assert receipt.judged is not None
                assert receipt.judged.findings == afterwards(self, fact, receipt)
                type(self).told += len(receipt.judged.findings)
        return receipts


def test_both_ways_of_judging_say_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("any_history.Bench", Judged)
    Judged.told = 0
    for seed in range(12):
        any_history(MemoryStore("trial"), seed)
    assert Judged.told > 50


def test_a_batch_out_of_order_is_judged_afterwards() -> None:
    bench = Bench().open_shop()
    bench.pieces("A")
    late = bench.fact(
        ClimateRead, at="1 06:30", room="spray", readings=(Reading(air_c=20.0, rh_pct=50.0),)
    )
    coat = bench.would_coat("A")
    (first, _) = bench.post(coat, late, judged=True)
    assert first.judged is None
    (second, _) = bench.post(bench.would_coat("A"), bench.would_coat("A"), judged=True)
    assert second.judged is not None


def test_a_rule_that_fails_keeps_no_fact_out(monkeypatch: pytest.MonkeyPatch) -> None:
    def failing(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(beforehand, "findings_of", failing)
    bench = Bench().open_shop()
    bench.pieces("A")
    (receipt,) = bench.post(bench.would_coat("A"), judged=True)
    assert receipt.position
    assert receipt.judged is None


def test_what_is_imported_raises_nothing() -> None:
    bench = Bench().open_shop()
    fact = bench.fact(LotOpened, lot="can-9")
    assert is_looked_at(fact)
    imported = bench.fact(LotOpened, lot="can-9", source="import")
    (receipt,) = bench.post(imported, judged=True)
    assert receipt.judged is None
