"""What the events of a pack tell: lag, corrections side by side, what came before what."""

import json
from typing import Any

from bench import Bench
from coatledger.events.coating import Turned
from coatledger.events.judging import DefectFound
from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.record import recorded
from coatledger.subjects.dossier import Evidence, told_bytes, told_of
from proof_shop import PHOTO, lived

STORE = MemoryStore("dune-end", "first")
lived(STORE)
EVENTS = [recorded(row) for row in STORE.rows(0, 1000)]
TOLD: Any = json.loads(told_bytes(told_of("T-1", EVENTS)))


def of_type(tag: str) -> list[Any]:
    return [fact for fact in TOLD["facts"] if fact["type"] == tag]


def test_every_event_that_names_the_piece_is_told_in_order_of_position() -> None:
    named = [row.position for row in EVENTS if "piece:T-1" in row.previous]
    assert [fact["position"] for fact in TOLD["facts"]] == named
    assert TOLD["is_a"] == "ash bedside top"


def test_the_lag_of_a_late_fact_is_told_in_seconds() -> None:
    late = of_type("sanded")[-1]
    assert late["occurred_at"] == "2026-03-02T08:30:00.000000Z"
    assert late["lag_s"] == (3 * 24 + 1.5) * 3600
    assert of_type("piece_started")[0]["lag_s"] == 0


def test_corrections_stand_side_by_side_with_what_they_replaced() -> None:
    void, first, second = TOLD["amendments"]
    assert (void["reason"], void["after"]) == ("never_happened", None)
    assert void["before"]["pieces"] == ["T-1", "S-1"]
    films = [(a["before"]["wet_film_um"], a["after"]["wet_film_um"]) for a in (first, second)]
    assert films == [(90, 110), (110, 100)]


def test_a_correction_says_whether_a_defect_or_a_claim_was_known_by_then() -> None:
    _, before, after = TOLD["amendments"]
    assert (before["after_defect"], before["after_claim"]) == (None, None)
    assert after["after_claim"] == of_type("returned")[0]["position"]
    assert after["after_defect"] == of_type("defect_found")[0]["position"]


def test_what_became_of_each_fact_is_told() -> None:
    assert [fact["standing"] for fact in of_type("coat_applied")] == ["amended", "voided", "stands"]
    assert {fact["standing"] for fact in of_type("event_amended")} == {"correction"}


def test_a_fact_amended_to_other_pieces_stands_elsewhere() -> None:
    bench = Bench()
    bench.pieces("A", "B")
    turned = bench.record(Turned, pieces=("A",))
    bench.amend(turned, pieces=("B",))
    events = [recorded(row) for row in bench.store.rows(0, 9)]  # type: ignore[attr-defined]
    by_piece = {word: told_of(word, events) for word in ("A", "B")}
    assert [f.standing for f in by_piece["A"].facts] == ["stands", "elsewhere", "correction"]
    assert [f.type for f in by_piece["B"].facts] == ["piece_started", "event_amended"]


def test_how_it_looked_before_and_after_is_told_with_photographs() -> None:
    sights = [(s["type"], s["says"], s["photo_sha256"], s["when"]) for s in TOLD["sights"]]
    assert sights == [
        ("condition_recorded", "sound", PHOTO, "before"),
        ("photo_taken", "after, show", PHOTO, "after"),
        ("inspected", "final: passed", None, "after"),
        ("defect_found", "imprint on show, found by customer", None, "after"),
    ]


def test_a_settlement_is_told_with_what_it_was_about() -> None:
    (settled,) = TOLD["settlements"]
    assert (settled["code"], settled["how"]) == ("packed_before_wrap_safe", "accepted")
    assert settled["about"] == of_type("defect_found")[0]["event"]


def test_a_piece_never_coated_looks_as_before() -> None:
    bench = Bench()
    bench.pieces("A")
    bench.record(DefectFound, pieces=("A",), kind="dent")
    told = told_of("A", [recorded(row) for row in bench.store.rows(0, 9)])  # type: ignore[attr-defined]
    assert [sight.when for sight in told.sights] == ["before"]
    assert (told.coats, told.lots, told.guns, told.air, told.instruments) == ((), (), (), (), ())


def test_the_order_in_which_events_are_handed_in_changes_nothing() -> None:
    assert told_bytes(told_of("T-1", reversed(EVENTS))) == told_bytes(told_of("T-1", EVENTS))


def test_evidence_finds_by_id_and_by_subject() -> None:
    evidence = Evidence(EVENTS)
    assert evidence.find(EVENTS[0].event.id) == EVENTS[0]
    assert [row.position for row in evidence.naming("product:clear-w")] == [4, 5]
