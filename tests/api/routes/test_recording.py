"""Facts in over HTTP: what is recorded, what is repeated, what is refused and leaves no trace."""

import pytest
from served import Served, refusal

LENIENT = {"Prefer": "handling=lenient"}


def test_a_new_fact_is_created_and_told_with_its_place(served_on_each: Served) -> None:
    served = served_on_each
    fact = served.fact("rags_dealt_with", how="spread_outdoors")
    answer = served.post(fact)
    assert answer.status_code == 201
    assert answer.headers["coatledger-position"] == "1"
    (told,) = answer.json()["events"]
    assert told == {"id": fact["id"], "position": 1, "recorded_at": "2026-03-02T07:00:00Z"}
    assert answer.json()["cursor"].endswith(".1")


def test_the_same_fact_again_gives_the_first_answer_and_records_nothing(
    served_on_each: Served,
) -> None:
    served = served_on_each
    fact = served.fact("lot_received", lot="can-1", product="clear", amount_l=5, note="dented lid")
    first = served.post(fact).json()["events"][0]
    again = served.later(hours=3).post({**fact, "amount_l": 5.0, "source": "bench"})
    assert again.status_code == 200
    assert again.json()["events"] == [{**first, "repeated": True}]
    assert served.size == 1


def test_a_batch_is_recorded_in_its_order_and_sees_its_own_facts(served_on_each: Served) -> None:
    served = served_on_each
    started = served.fact(
        "piece_started", pieces=["T-1", "T-2"], kind="shelf", species="white-oak",
        coat_area_m2=0.7, use="shelf",
    )  # fmt: skip
    sanded = served.fact("sanded", pieces=["T-1", "T-2"], stage="bare", grit=150)
    answer = served.post(served.batch(started, sanded))
    assert answer.status_code == 201
    assert [e["position"] for e in answer.json()["events"]] == [1, 2]
    mixed = served.post(served.batch(sanded, served.fact("blown_off", pieces=["T-1"], by="vacuum")))
    assert mixed.status_code == 201
    assert [e.get("repeated", False) for e in mixed.json()["events"]] == [True, False]


def test_a_fact_is_answered_with_what_the_rules_of_the_trade_say(served_on_each: Served) -> None:
    served = served_on_each
    served.record("gun_described", gun="gun-1", body="aluminium")
    cleaned = served.fact("gun_strip_cleaned", gun="gun-1", using="chlorinated_solvent")
    told = served.post(cleaned).json()["events"][0]
    (finding,) = told["findings"]
    assert (finding["code"], finding["about"]) == ("chlorinated_in_aluminium", cleaned["id"])
    assert finding["what_to_do"]
    assert served.post(cleaned).json()["events"][0]["findings"] == told["findings"]
    amended = served.fact(
        "event_amended", original=cleaned["id"], replacement={**cleaned, "using": "water"}
    )
    quiet = served.post(amended).json()["events"][0]
    assert "findings" not in quiet


def test_acts_are_answered_with_what_to_be_careful_of_once_a_request(
    served_on_each: Served,
) -> None:
    served = served_on_each
    served.record("product_described", product="oil", kind="oil_based")
    served.record("lot_received", lot="can-o", product="oil", amount_l=1)
    served.record(
        "piece_started", pieces=["T-1"], kind="box", species="ash", coat_area_m2=1, use="box"
    )
    ahead = served.get("/v1/pieces/T-1").json()
    assert (ahead["next"]["act"], ahead["cautions"][0]["code"]) == ("sand", "dust")
    coats = [
        served.fact("coat_applied", pieces=["T-1"], lot="can-o", method="wipe", faces=[face])
        for face in ("show", "underside")
    ]
    told = served.post(served.batch(*coats)).json()
    (caution,) = told["cautions"]
    assert caution["code"] == "self_heating_rags"
    assert caution["events"] == [coat["id"] for coat in coats]
    assert "local codes and licensed practice come first" in told["deference"]
    assert "cautions" not in served.post(served.batch(*coats)).json()  # told when it was new
    coat = served.fact("coat_applied", pieces=["T-1"], lot="can-o", method="wipe")
    quiet = served.post(coat, headers={"Prefer": "return=minimal"}).json()
    assert "cautions" not in quiet
    lenient = served.fact("coat_applied", pieces=["T-1"], lot="can-o", method="wipe")
    told = served.post(lenient, headers={"Prefer": "handling=lenient"}).json()
    assert told["cautions"][0]["events"] == [lenient["id"]]


def test_findings_are_left_out_when_nobody_waits_for_them(served: Served) -> None:
    can = {"lot": "can-1"}
    told = served.post(served.fact("lot_opened", **can)).json()["events"][0]
    assert [finding["code"] for finding in told["findings"]] == ["not_yet_described"]
    can = {"lot": "can-2"}
    minimal = served.post(served.fact("lot_opened", **can), headers={"Prefer": "return=minimal"})
    assert minimal.headers["preference-applied"] == "return=minimal"
    assert "findings" not in minimal.json()["events"][0]
    imported = served.post(served.fact("lot_opened", **can, source="import"))
    assert "findings" not in imported.json()["events"][0]
    many = [served.fact("lot_opened", **can) for _ in range(101)]
    long = served.post(served.batch(*many)).json()
    assert long["findings_left_out"] is True
    assert not any("findings" in event for event in long["events"])


def test_one_wrong_fact_refuses_a_batch_as_a_whole(served_on_each: Served) -> None:
    served = served_on_each
    good = served.fact("lot_opened", lot="can-1")
    answer = served.post(served.batch(good, served.fact("sanded", pieces=["X"], stage="bare",
                                                        grit=150)))  # fmt: skip
    assert refusal(answer, 409, "unknown_piece") == [("unknown_piece", "/events/1/pieces/0")]
    assert served.size == 0


def test_lenient_handling_records_what_can_be_and_tells_the_rest(served_on_each: Served) -> None:
    served = served_on_each
    unreadable = {"type": "lot_stired", "id": "no"}
    unknown = served.fact("sanded", pieces=["X"], stage="bare", grit=150)
    good = served.fact("lot_opened", lot="can-1")
    answer = served.post(served.batch(unreadable, good, unknown), headers=LENIENT)
    assert answer.status_code == 200
    assert answer.headers["preference-applied"] == "handling=lenient"
    first, second, third = answer.json()["events"]
    assert first["problem"]["faults"][0]["pointer"] == "/events/0/type"
    assert "did you mean `lot_stirred`" in first["problem"]["detail"]
    assert second["position"] == 1
    assert third["id"] == unknown["id"]
    assert third["problem"]["type"] == "/problems/unknown_piece"
    assert third["problem"]["faults"][0]["pointer"] == "/events/2/pieces/0"
    assert served.size == 1


def test_lenient_handling_of_one_fact_and_of_none_that_can_be_read(served: Served) -> None:
    alone = served.post(served.fact("lot_opened", lot="can-1"), headers=LENIENT)
    assert (alone.status_code, alone.json()["events"][0]["position"]) == (200, 1)
    lost = served.post(served.fact("sanded", pieces=["X"], stage="bare", grit=150), headers=LENIENT)
    assert lost.json()["events"][0]["problem"]["faults"][0]["pointer"] == "/pieces/0"
    nothing = served.post(served.batch({"type": "turned"}), headers=LENIENT)
    assert nothing.status_code == 200
    assert nothing.json()["position"] == 1
    framed_wrong = served.post(served.batch({"type": "turned"}, sent_at="noon"), headers=LENIENT)
    assert refusal(framed_wrong, 422, "invalid") == [("invalid", "/sent_at")]


WRONG_BODIES = {
    "not json": (b'{"type":', 400, "malformed", [("malformed", "")]),
    "nothing": (b"", 400, "malformed", [("malformed", "")]),
    "not utf-8": (b'{"type":"\xff"}', 400, "malformed", [("malformed", "")]),
    "half a surrogate pair": (b'{"type":"\\ud800"}', 400, "malformed", [("malformed", "")]),
    "a number beyond all bounds": (b'{"type":1e999}', 400, "malformed", [("malformed", "")]),
    "an array of 200,000 arrays": (b"[" * 200_000, 400, "malformed", [("malformed", "")]),
    "arrays deep in a fact": (
        b'{"type":"turned","pieces":' + b"[" * 200_000, 400, "malformed", [("malformed", "")],
    ),
    "not an object": (b"[]", 422, "invalid", [("invalid", "")]),
    "no type": (b"{}", 422, "invalid", [("invalid", "/type")]),
    "another type": (b'{"type":"teleported"}', 422, "invalid", [("invalid", "/type")]),
    "an empty batch": (b'{"type":"batch","events":[]}', 422, "invalid", [("invalid", "/events")]),
    "1,001 events": (
        b'{"type":"batch","events":[' + b",".join([b"{}"] * 1001) + b"]}", 422, "invalid",
        [("invalid", "/events")],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", WRONG_BODIES)
def test_a_body_that_cannot_be_read_is_refused(served: Served, name: str) -> None:
    body, status, kind, faults = WRONG_BODIES[name]
    assert refusal(served.post(body), status, kind) == faults
    assert served.size == 0


def test_every_fault_is_named_with_its_place(served: Served) -> None:
    fact = served.fact(
        "climate_read", room="spray room", source="phone", actor=7, wether="damp",
        readings=[{"air_c": "21", "rh_pct": 50}, {"rh_pct": 101, "at": "2026-03-02T06:00:00"}],
    )  # fmt: skip
    del fact["occurred_at"]
    answer = served.post(served.batch(served.fact("lot_opened", lot="can-1"), fact))
    assert sorted(place for _, place in refusal(answer, 422, "invalid")) == [
        "/events/1/actor",
        "/events/1/occurred_at",
        "/events/1/readings/0/air_c",
        "/events/1/readings/1/air_c",
        "/events/1/readings/1/at",
        "/events/1/readings/1/rh_pct",
        "/events/1/room",
        "/events/1/source",
        "/events/1/wether",
    ]
    assert served.size == 0


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("grit", "150"),
        ("grit", 150.5),
        ("grit", True),
        ("grit", None),
        ("wet", "true"),
        ("wet", 1),
        ("occurred_at", 1772434800),
        ("occurred_at", "1772434800"),
        ("occurred_at", "2026-03-02T07:00:00"),
        ("occurred_at", "2026-03-02"),
        ("id", "T-1"),
        ("pieces", "T-1"),
        ("hands_on_min", "4"),
    ],
)
def test_no_value_of_another_kind_is_taken_for_the_one_wanted(
    served: Served, field: str, value: object
) -> None:
    served.pieces("T-1")
    fact = served.fact("sanded", pieces=["T-1"], stage="bare", grit=150)
    answer = served.post({**fact, field: value})
    assert refusal(answer, 422, "invalid") == [("invalid", f"/{field}")]
    assert served.size == 1


def test_a_whole_number_may_be_written_with_a_point(served: Served) -> None:
    served.pieces("T-1")
    served.record("sanded", pieces=["T-1"], stage="bare", grit=150.0)


def test_a_quantity_past_three_decimals_is_refused(served: Served) -> None:
    fact = served.fact("lot_received", lot="can-1", product="clear", amount_l=4.7311)
    assert refusal(served.post(fact), 422, "invalid") == [("invalid", "/amount_l")]
    assert served.size == 0


def test_a_fact_of_the_future_is_refused(served_on_each: Served) -> None:
    served = served_on_each
    fact = served.fact("lot_opened", lot="can-1", occurred_at="2026-03-02T07:00:01Z")
    answer = served.post(fact)
    assert refusal(answer, 409, "occurs_in_future") == [("occurs_in_future", "/occurred_at")]
    assert served.size == 0


def test_a_time_that_no_calendar_can_move_is_refused(served: Served) -> None:
    for time in ("0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00"):
        answer = served.post(served.fact("lot_opened", lot="can-1", occurred_at=time))
        assert refusal(answer, 422, "invalid") == [("invalid", "/occurred_at")]
    batch = served.batch(served.fact("lot_opened", lot="can-1"), sent_at="0001-01-01T00:00:00Z")
    assert refusal(served.post(batch), 422, "invalid") == [("invalid", "/sent_at")]
    assert served.size == 0


def test_an_unknown_piece_is_refused(served: Served) -> None:
    answer = served.post(served.fact("sanded", pieces=["T-9"], stage="bare", grit=150))
    assert refusal(answer, 409, "unknown_piece") == [("unknown_piece", "/pieces/0")]
    assert served.size == 0


def test_a_coat_on_a_piece_that_is_away_is_refused(served_on_each: Served) -> None:
    served = served_on_each
    served.pieces("T-1", "T-2")
    served.record("packed", pieces=["T-1"], touching="paper")
    served.record("shipped", pieces=["T-1"])
    size = served.size
    answer = served.post(served.fact("coat_applied", pieces=["T-2", "T-1"], lot="can-1"))
    assert refusal(answer, 409, "impossible_order") == [("impossible_order", "/pieces/1")]
    assert served.size == size


def test_an_id_with_other_content_is_refused(served_on_each: Served) -> None:
    served = served_on_each
    fact = served.record("lot_opened", lot="can-1")
    answer = served.post({**fact, "lot": "can-2"})
    assert refusal(answer, 409, "id_reused") == [("id_reused", "/id")]
    assert served.size == 1


def test_a_broken_condition_is_refused(served: Served) -> None:
    served.record("lot_opened", lot="can-1")
    stirred = served.fact("lot_stirred", lot="can-1")
    broken = served.batch(stirred, conditions=[{"subject": "lot:can-1", "after": 0}])
    answer = served.post(broken)
    assert refusal(answer, 409, "condition_broken") == [("condition_broken", "/conditions/0/after")]
    assert served.size == 1
    held = served.batch(stirred, conditions=[{"subject": "lot:can-1", "after": 1}])
    assert served.post(held).status_code == 201


def test_a_device_whose_clock_is_ahead_is_corrected_and_told(served_on_each: Served) -> None:
    served = served_on_each
    fact = served.fact("lot_opened", lot="can-1", occurred_at="2026-03-02T07:09:00Z")
    answer = served.post(served.batch(fact, sent_at="2026-03-02T07:10:00Z"))
    assert answer.status_code == 201
    assert answer.json()["clock_offset_ms"] == 600_000
    stored = served.get(f"/v1/events/{fact['id']}").json()
    assert stored["offset_ms"] == 600_000
    assert stored["event"]["occurred_at"] == "2026-03-02T07:09:00.000000Z"
    again = served.later(minutes=1).post(served.batch(fact, sent_at="2026-03-02T07:11:00Z"))
    assert again.status_code == 200


def test_a_clock_two_minutes_off_is_left_alone(served: Served) -> None:
    fact = served.fact("lot_opened", lot="can-1")
    answer = served.post(served.batch(fact, sent_at="2026-03-02T07:02:00Z"))
    assert answer.status_code == 201
    assert "clock_offset_ms" not in answer.json()


def test_a_body_over_the_limit_is_refused(served: Served) -> None:
    refusal(served.post(b" " * (1024 * 1024 + 1)), 413, "too_large")
    chunks = (b" " * 65_536 for _ in range(17))  # sent without saying how much will come
    headers = {"Content-Type": "application/json"}
    answer = served.ask("POST", "/v1/events", content=chunks, headers=headers)
    refusal(answer, 413, "too_large")
    assert served.size == 0


@pytest.mark.parametrize(
    "headers",
    [
        {"Content-Type": "text/plain"},
        {"Content-Type": ""},
        {"Content-Type": "application/json; charset=latin-1"},
        {"Content-Encoding": "gzip"},
    ],
)
def test_a_body_in_another_form_is_refused(served: Served, headers: dict[str, str]) -> None:
    fact = served.fact("lot_opened", lot="can-1")
    refusal(served.post(fact, headers=headers), 415, "unsupported_media_type")
    assert served.size == 0
