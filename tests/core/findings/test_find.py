"""Findings of a fact and of a whole piece: at its own place, once a day, settled and disputed."""

from collections.abc import Sequence

import pytest
from bench import Bench, on_day
from coatledger.events.about import FindingSettled
from coatledger.events.coating import CoatApplied, DrynessChecked
from coatledger.events.finish import LotReceived
from coatledger.events.leaving import Shipped
from coatledger.findings.find import findings_of, findings_of_piece
from coatledger.findings.finding import Finding
from coatledger.ledger.record import Row, micros
from coatledger.ledger.store import Reader
from coatledger.subjects.view import View
from judged import judge, ready, scuffed


def of_piece(bench: Bench, piece: str = "T-1", known: int | None = None) -> tuple[Finding, ...]:
    with bench.store.reading() as reader:
        return findings_of_piece(reader, piece, as_of_us=bench.now_us, known=known)


def codes(found: Sequence[Finding]) -> list[str]:
    return [finding.code for finding in found]


def test_work_in_order_has_no_findings() -> None:
    bench = ready()
    bench.coat("T-1")
    scuffed(bench.later(4), "T-1")
    bench.coat("T-1")
    assert of_piece(bench) == ()


def test_a_piece_keeps_what_was_found_at_each_place() -> None:
    bench = ready()
    bench.coat("T-1")
    early = bench.later(1).coat("T-1")
    assert [(f.code, f.about) for f in of_piece(bench)] == [("recoat_too_early", early.id)]


def test_the_same_is_found_when_a_fact_is_posted_and_when_its_piece_is_asked() -> None:
    bench = ready()
    bench.coat("T-1", "T-2")
    early = bench.later(1).would_coat("T-1", "T-2")
    posted = judge(bench, early)
    bench.take(early)
    assert of_piece(bench) == posted


def test_a_late_fact_is_judged_at_its_own_place() -> None:
    bench = ready()
    bench.coat("T-1", at="1 08:00")
    bench.coat("T-1", at="1 12:00")
    late = bench.at("1 17:00").would_coat("T-1", at="1 09:00")
    assert codes(judge(bench, late)) == ["recoat_too_early"]


def test_facts_of_the_future_do_not_count() -> None:
    bench = ready()
    first = bench.coat("T-1", at="1 12:00")
    bench.at("1 17:00")
    before = bench.would_coat("T-1", at="1 11:00")
    assert judge(bench, before) == ()
    bench.take(before)
    assert [(f.code, f.about) for f in of_piece(bench)] == [("recoat_too_early", first.id)]


def test_a_correction_takes_a_finding_away() -> None:
    bench = ready()
    bench.coat("T-1")
    early = bench.later(1).coat("T-1")
    known = bench.view().reader.head().size
    bench.at("1 17:00").amend(early, occurred_at=on_day("1 12:00"))
    assert of_piece(bench) == ()
    assert codes(of_piece(bench, known=known)) == ["recoat_too_early"]


def test_a_voided_fact_has_no_findings() -> None:
    bench = ready()
    bench.coat("T-1")
    bench.void(bench.later(1).coat("T-1"))
    assert of_piece(bench) == ()


@pytest.mark.parametrize("how", ["accepted", "wrong", "cured"])
def test_a_settled_finding_is_marked_and_not_left_out(how: str) -> None:
    bench = ready()
    bench.coat("T-1")
    early = bench.later(1).coat("T-1")
    bench.record(FindingSettled, about=early.id, code="recoat_too_early", how=how)
    assert [(f.code, f.settled) for f in of_piece(bench)] == [("recoat_too_early", how)]


def test_settling_another_finding_of_the_same_fact_leaves_this_one_open() -> None:
    bench = ready()
    bench.coat("T-1")
    early = bench.later(1).coat("T-1")
    bench.record(FindingSettled, about=early.id, code="no_blow_off", how="wrong")
    assert [f.settled for f in of_piece(bench)] == [None]


def test_a_later_fact_made_impossible_is_disputed() -> None:
    bench = ready()
    bench.coat("T-1")
    coat = bench.coat("T-1", at="6 08:00")
    bench.at("7 08:00").record(Shipped, pieces=("T-1",), at="5 18:00")
    (found,) = (f for f in of_piece(bench) if f.code == "order_disputed")
    assert found.about == coat.id
    assert found.seen[0].says == "coat_applied cannot have happened to T-1 there"


def test_one_finding_a_cause_and_day_on_a_pieces_page() -> None:
    bench = ready()
    bench.climate(21.0, 74.0)
    bench.coat("T-1")
    scuffed(bench.later(6), "T-1")
    bench.coat("T-1")
    bench.at("2 08:00").climate(21.0, 74.0)
    scuffed(bench, "T-1")
    bench.coat("T-1")
    days = [f.at.date().day for f in of_piece(bench) if f.code == "room_out_of_band"]
    assert days == [2, 3]


def test_a_piece_hears_of_its_can_although_another_piece_was_told_first() -> None:
    bench = ready().at("2 08:00")
    bench.climate()
    bench.coat("T-1")
    bench.later(0.1).coat("T-2")
    assert codes(of_piece(bench, "T-2")) == ["can_not_stirred"]


def test_a_film_that_got_too_cold_after_it_was_sprayed_is_void() -> None:
    bench = ready()
    coat = bench.coat("T-1")
    bench.climate(7.0, 90.0, at="1 08:10")
    bench.at("3 08:00")
    (found,) = (f for f in of_piece(bench) if f.code == "film_void")
    assert (found.severity, found.about) == ("critical", coat.id)
    assert "it needs 8 C" in found.seen[0].says


def test_facts_about_which_there_are_no_rules_have_no_findings() -> None:
    bench = ready()
    with bench.store.reading() as reader:
        fact = bench.climate()
        assert findings_of(View(reader, bench.now_us), fact) == ()


def test_the_most_severe_comes_first() -> None:
    bench = ready()
    bench.climate(11.0, 50.0)
    found = judge(bench, bench.would_coat("T-1", wet_film_um=60.0))
    assert [f.severity for f in found] == ["critical", "caution", "note"]


class Counting:
    """A reader that counts the rows it hands out."""

    def __init__(self, reader: Reader) -> None:
        self.reader = reader
        self.rows = 0

    def __getattr__(self, name: str) -> object:
        return getattr(self.reader, name)

    def of_subject(self, *args: object, **kwargs: object) -> Sequence[Row]:
        found = self.reader.of_subject(*args, **kwargs)  # type: ignore[arg-type]
        self.rows += len(found)
        return found


def test_a_finding_reads_no_more_rows_after_a_long_history() -> None:
    def rows_read(days: int) -> int:
        bench = ready()
        for day in range(2, 2 + days):
            bench.at(f"{day} 08:00").climate()
            word = f"H-{day}"
            bench.pieces(word)
            bench.coat(word)
        bench.at("90 08:00").climate()
        with bench.store.reading() as reader:
            counting = Counting(reader)
            fact = bench.would_coat("T-1", "T-2", "T-3")
            findings_of(View(counting, micros(fact.occurred_at)), fact)  # type: ignore[arg-type]
            return counting.rows

    assert rows_read(40) <= rows_read(16)


def test_unused_kinds_of_facts_break_nothing() -> None:
    bench = ready()
    bench.record(LotReceived, lot="can-7", product="clear-w", amount_l=1.0)
    coat = bench.coat("T-1", lot="can-7", gun=None, room=None, wet_film_um=None)
    assert isinstance(coat, CoatApplied)
    check = bench.fact(DrynessChecked, pieces=("T-1",), stage="cured", ready=False)
    assert judge(bench, check) == ()
