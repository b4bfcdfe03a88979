"""A phone, offline and its clock wrong, sends its day late; what disagrees is left to settle."""

from typing import Any

from served import Served, refusal

LENIENT = {"Prefer": "handling=lenient"}
AHEAD_MS = 40 * 60 * 1000


def told(served: Served, tag: str, at: str, **fields: Any) -> dict[str, Any]:
    """A fact as the phone writes it: at a true time, on a clock that is 40 minutes ahead."""
    hour, _, minute = at.partition(":")
    late = int(hour) * 60 + int(minute) + 40
    time = f"2026-03-02T{late // 60:02}:{late % 60:02}:00Z"
    return served.fact(tag, occurred_at=time, **fields)


def bench_day(served: Served) -> dict[str, Any]:
    """What the bench recorded meanwhile: T-1 started, sanded and coated at 14:00."""
    served.pieces("T-1", "T-2")
    served.at("1 08:00").record("sanded", pieces=["T-1"], stage="bare", grit=150)
    return served.at("1 14:00").record("coat_applied", pieces=["T-1"], lot="can-1")


def queue(served: Served) -> list[dict[str, Any]]:
    return [
        told(served, "blown_off", "12:30", pieces=["T-1"], by="vacuum"),
        told(served, "shipped", "13:00", pieces=["T-1"]),
        told(served, "coat_applied", "15:00", pieces=["T-1"], lot="can-1"),
        told(served, "turned", "15:10", pieces=["T-9"]),
        told(served, "turned", "15:20", pieces=["T-2"]),
    ]


def send(served: Served, *facts: dict[str, Any], **fields: Any) -> Any:
    sent = (served.clock.replace(minute=served.clock.minute + 40)).isoformat()
    return served.post(served.batch(*facts, sent_at=sent, **fields), headers=LENIENT)


def open_disputes(served: Served, piece: str) -> list[str]:
    answer = served.get(f"/v1/pieces/{piece}").json()
    return [
        f["about"]
        for f in answer["findings"]
        if f["code"] == "order_disputed" and "settled" not in f
    ]


def test_late_facts_stand_where_they_happened_and_a_disagreement_is_told(
    served_on_each: Served,
) -> None:
    served = served_on_each
    coat = bench_day(served)
    facts = queue(served)
    answer = send(served.at("1 16:00"), *facts)
    assert answer.status_code == 200
    assert answer.json()["clock_offset_ms"] == AHEAD_MS
    blown, shipped, again, unknown, turned = answer.json()["events"]
    # Taken in at their own place; the bench's later coat cannot have happened after a shipment.
    assert [blown["position"], shipped["position"], turned["position"]] == [4, 5, 6]
    assert "disputes" not in blown
    assert shipped["disputes"] == [coat["id"]]
    assert again["problem"]["type"] == "/problems/impossible_order"
    assert unknown["problem"]["type"] == "/problems/unknown_piece"
    assert served.size == 6

    piece = served.get("/v1/pieces/T-1").json()
    assert piece["stage"] == "shipped"
    assert open_disputes(served, "T-1") == [coat["id"]]
    history = served.get("/v1/pieces/T-1/history").json()["entries"]
    assert [one["type"] for one in history] == [
        "piece_started", "sanded", "blown_off", "shipped", "coat_applied",
    ]  # fmt: skip
    stored = served.get(f"/v1/events/{facts[1]['id']}").json()
    assert stored["offset_ms"] == AHEAD_MS
    assert stored["event"]["occurred_at"] == "2026-03-02T13:40:00.000000Z"  # as the phone wrote it
    # Before the late fact was known, the coat stood; then it did not.
    assert served.get("/v1/pieces/T-1?as_of=2026-03-02T13:30:00Z").json()["stage"] == "shipped"
    assert served.get("/v1/pieces/T-1?known_at=2026-03-02T15:00:00Z").json()["stage"] == "coated"


def test_the_queue_sent_again_after_a_lost_answer_is_answered_as_at_first(
    served_on_each: Served,
) -> None:
    served = served_on_each
    bench_day(served)
    facts = queue(served)
    first = send(served.at("1 16:00"), *facts).json()["events"]
    again = send(served.at("1 16:10"), *facts).json()["events"]
    assert [one.get("position") for one in again] == [one.get("position") for one in first]
    assert [one.get("repeated", False) for one in again] == [True, True, False, False, True]
    assert served.size == 6


def test_a_dispute_ends_when_somebody_settles_it(served_on_each: Served) -> None:
    served = served_on_each
    coat = bench_day(served)
    send(served.at("1 16:00"), *queue(served))
    served.later(hours=1).record(
        "finding_settled", about=coat["id"], code="order_disputed", how="wrong"
    )
    assert open_disputes(served, "T-1") == []
    assert served.get("/v1/pieces/T-1").json()["stage"] == "shipped"


def test_a_dispute_ends_when_the_fact_behind_it_is_put_right(served_on_each: Served) -> None:
    served = served_on_each
    bench_day(served)
    facts = queue(served)
    send(served.at("1 16:00"), *facts)
    served.later(hours=1).record("event_voided", original=facts[1]["id"], reason="wrong_piece")
    assert open_disputes(served, "T-1") == []
    assert served.get("/v1/pieces/T-1").json()["stage"] == "coated"


def test_a_device_that_asks_for_an_unchanged_piece_is_refused_whole_and_may_send_again(
    served_on_each: Served,
) -> None:
    """Its condition is about all it sends, so that lenient handling does not weaken it."""
    served = served_on_each
    coat = bench_day(served)
    facts = queue(served)
    condition = [{"subject": "piece:T-1", "after": 1}]
    answer = send(served.at("1 16:00"), *facts, conditions=condition)
    assert refusal(answer, 409, "condition_broken") == [("condition_broken", "/conditions/0/after")]
    assert "position 3" in answer.json()["detail"]
    assert served.size == 3
    taken = send(served, *facts)
    assert taken.json()["events"][1]["disputes"] == [coat["id"]]
    # What was recorded under a condition is repeated as it was, although the condition broke since.
    mine = told(served, "turned", "15:30", pieces=["T-2"])
    held = [{"subject": "piece:T-2", "after": 6}]
    assert send(served, mine, conditions=held).json()["events"][0]["position"] == 7
    assert send(served, mine, conditions=held).json()["events"][0]["repeated"]


def test_a_phone_that_is_ahead_does_not_tell_the_future(served: Served) -> None:
    bench_day(served)
    served.at("1 16:00")
    ahead = told(served, "turned", "15:50", pieces=["T-2"])
    # 16:30 on the phone is 15:50; without `sent_at` nobody could know.
    assert refusal(served.post(ahead), 409, "occurs_in_future")
    assert send(served, ahead).json()["events"][0]["position"] == 4
    future = told(served, "turned", "16:05", pieces=["T-2"])
    (one,) = send(served, future).json()["events"]
    assert one["problem"]["type"] == "/problems/occurs_in_future"
