"""Ship dates over HTTP: quotes, promises, what they are worth, and how they are computed again."""

from typing import Any

import pytest
from coatledger_api.selling.asked import ADDRESSES
from selling_shop import held, open_shop, promised, quoted, send
from served import Served, refusal

TWO = [{"sku": "sh-90", "quantity": 2}]


@pytest.fixture
def selling(served: Served) -> Served:
    """A shop with nothing to do on a Monday morning."""
    return open_shop(served)


def test_a_quote_tells_the_day_its_chance_and_where_the_days_go(selling: Served) -> None:
    size = selling.size
    told = quoted(selling, ways=True, quantity=12)
    assert [one["level_pct"] for one in told["quantiles"]] == [50.0, 80.0, 90.0, 95.0]
    days = [one["ships_by"] for one in told["quantiles"]]
    assert days == sorted(days)
    assert told["ships_by"] == days[1]
    assert told["chance"] >= 0.8
    assert told["level_pct"] == 80.0
    assert set(told["takes"]) == {
        "queue_days", "hands_on_days", "drying_days", "cure_days", "rework_days", "pick_up_days",
    }  # fmt: skip
    assert told["assumed"]
    assert told["position"] == size
    assert selling.size == size


def test_the_same_question_has_the_same_bytes(selling: Served) -> None:
    body = {"lines": TWO, "seed": 9, "replications": 300}
    first, again = (send(selling, "/v1/promises/quote", body) for _ in range(2))
    assert first.content == again.content
    other = send(selling, "/v1/promises/quote", {**body, "seed": 10})
    assert other.content != first.content


def test_lines_are_quoted_together_or_each_alone(selling: Served) -> None:
    lines = [{"line": "few", "sku": "sh-90"}, {"sku": "sh-60", "quantity": 40}]
    alone = quoted(selling, lines=lines, together=False)
    assert [one["line"] for one in alone["lines"]] == ["few", "2"]
    assert alone["lines"][0]["ships_by"] < alone["lines"][1]["ships_by"] == alone["ships_by"]
    assert quoted(selling, lines=lines)["lines"] == []


def test_free_work_a_wish_and_a_past_place_are_quoted_too(selling: Served) -> None:
    free = {"species": "cherry", "coat_area_m2": 1.5, "use": "table", "quantity": 1}
    told = quoted(selling, lines=[free], wanted_by="2026-03-04")
    assert told["wanted_by"] == "2026-03-04"
    assert 0.0 <= told["wanted_chance"] <= 1.0
    at = selling.clock.isoformat()
    before = quoted(selling)
    selling.later(hours=5).record(
        "closure_announced", first_day="2026-03-03", last_day="2026-03-17"
    )
    assert quoted(selling)["ships_by"] > "2026-03-17"
    assert quoted(selling, as_of=at, known_at=at)["quantiles"] == before["quantiles"]


@pytest.mark.parametrize(
    ("line", "status", "kind", "places"),
    [
        ({"sku": "none"}, 404, "unknown_offering", [("unknown_offering", "/lines/0/sku")]),
        ({"offering": "x"}, 404, "unknown_offering", [("unknown_offering", "/lines/0/offering")]),
        ({"sku": "bx"}, 409, "not_offered", [("not_offered", "/lines/0/sku")]),
        ({"sku": "sh-90", "options": {"sheen": "glass"}}, 422, "invalid",
         [("invalid", "/lines/0/options/sheen")]),
        ({"sku": "sh-90", "options": {"lid": "loose"}}, 422, "invalid",
         [("invalid", "/lines/0/options/lid")]),
        ({"sku": "sh-90", "quantity": 0}, 422, "invalid", [("invalid", "/lines/0/quantity")]),
        ({"sku": "sh-90", "colour": "red"}, 422, "invalid", [("invalid", "/lines/0/colour")]),
        ({}, 422, "invalid", [("invalid", "/lines/0")]),
        ({"schedule": "nine"}, 409, "cannot_promise", [("cannot_promise", "")]),
    ],
)  # fmt: skip
def test_what_cannot_be_quoted_is_refused_by_name(
    selling: Served, line: dict[str, Any], status: int, kind: str, places: list[tuple[str, str]]
) -> None:
    answer = send(selling, "/v1/promises/quote", {"lines": [line]})
    assert refusal(answer, status, kind) == places


@pytest.mark.parametrize(
    ("lacks", "says"),
    [
        ({"people": 0}, "people in shop_described"),
        ({"hours": []}, "hours in shop_described"),
        ({"pickup_days": []}, "pick-up days in shop_described"),
    ],
)
def test_a_shop_that_cannot_ship_says_what_it_lacks(
    served: Served, lacks: dict[str, Any], says: str
) -> None:
    answer = send(open_shop(served, **lacks), "/v1/promises/quote", {"lines": TWO})
    refusal(answer, 409, "cannot_promise")
    assert [fault["detail"] for fault in answer.json()["faults"]] == [says]


def test_a_product_without_a_sheet_is_named(selling: Served) -> None:
    selling.record("schedule_described", schedule="odd", steps=[{"act": "coat", "product": "mist"}])
    answer = send(selling, "/v1/promises/quote", {"lines": [{"schedule": "odd"}]})
    refusal(answer, 409, "cannot_promise")
    assert "the data sheet of product mist" in answer.json()["detail"]


# ---- promising


def test_a_promise_takes_the_order_and_keeps_all_it_was_computed_from(selling: Served) -> None:
    size = selling.size
    answer = promised(selling, "o-1", lines=TWO, customer="c-7", price=9900, currency="EUR")
    assert answer.status_code == 201, answer.text
    told = answer.json()
    assert selling.size == size + 2
    assert told["position"] == size + 2
    assert answer.headers["coatledger-position"] == str(size + 2)
    made = selling.get(f"/v1/events/{told['days'][0]['event']}").json()["event"]
    assert made["type"] == "promise_made"
    assert (made["engine"], made["seed"], made["position"]) == (told["engine"], 1, size)
    assert made["calendar"].startswith("tz 20")
    assert made["chance_pct"] >= 80.0
    assert "holds" not in made
    order = selling.get("/v1/promises/o-1").json()
    assert order["outcome"] == "open"
    assert [one["ships_by"] for one in order["told"]] == [told["ships_by"]]


def test_the_same_call_twice_is_one_promise_and_another_is_refused(selling: Served) -> None:
    first = promised(selling, "o-1", lines=TWO)
    size = selling.size
    again = promised(selling.later(hours=3), "o-1", lines=TWO)
    assert (first.status_code, again.status_code) == (201, 200)
    assert again.content == first.content
    refusal(promised(selling, "o-1", lines=[{"sku": "sh-90"}]), 409, "promised_otherwise")
    assert selling.size == size


def test_an_order_the_ledger_holds_is_promised_where_it_stands(selling: Served) -> None:
    refusal(promised(selling, "o-1"), 404, "not_found")
    selling.pieces("a", "b")
    lines = [{"line": "1", "quantity": 2, "sku": "sh-90"}]
    selling.record("order_taken", order="o-1", lines=lines, together=True)
    selling.record("piece_allotted", pieces=["a"], order="o-1", line="1")
    refusal(promised(selling, "o-1", lines=[{"sku": "bx"}]), 409, "promised_otherwise")
    answer = promised(selling, "o-1")
    assert answer.status_code == 201, answer.text
    assert selling.get("/v1/promises/o-1/replay").json()["promises"][0]["same"]


def test_a_day_that_is_required_is_promised_or_refused(selling: Served) -> None:
    gone = promised(selling, "o-1", lines=TWO, no_later_than="2026-03-02")
    refusal(gone, 409, "capacity_gone")
    assert gone.json()["quote"]["ships_by"] > "2026-03-02"
    assert selling.get("/v1/promises").json()["promises"] == []
    assert promised(selling, "o-1", lines=TWO, no_later_than="2026-03-20").status_code == 201


def test_no_order_is_promised_by_a_word_that_is_an_address_of_its_own(selling: Served) -> None:
    beside = {
        path.removeprefix("/v1/promises/")
        for path in selling.get("/openapi.json").json()["paths"]
        if path.startswith("/v1/promises/") and "{" not in path
    }
    assert beside == ADDRESSES
    for word in sorted(beside):
        answer = promised(selling, word, lines=TWO)
        assert refusal(answer, 422, "invalid") == [("invalid", "/order")]
        assert word in answer.json()["detail"]
    assert selling.get("/v1/promises").json()["promises"] == []
    assert promised(selling, "score-1", lines=TWO).status_code == 201


def test_an_order_that_is_off_is_not_promised(selling: Served) -> None:
    selling.record("order_taken", order="o-1", lines=[{"line": "1", "sku": "sh-90"}])
    selling.record("order_cancelled", order="o-1")
    refusal(promised(selling, "o-1"), 409, "impossible_order")


def test_open_promises_are_listed_with_what_endangers_them(selling: Served) -> None:
    first = promised(selling, "o-1", lines=TWO).json()
    promised(selling, "o-2", lines=[{"line": "a", "sku": "sh-90"}, {"line": "b", "sku": "sh-60"}],
             together=False)  # fmt: skip
    listed = selling.get("/v1/promises?replications=200").json()["promises"]
    assert {(one["order"], one.get("line")) for one in listed} == {
        ("o-1", None), ("o-2", "a"), ("o-2", "b"),
    }  # fmt: skip
    assert all(one["chance"] > 0.6 for one in listed)
    selling.record("closure_announced", first_day="2026-03-03", last_day="2026-03-16")
    later = selling.get("/v1/promises?replications=200").json()["promises"]
    assert all(one["in_danger"] for one in later)
    assert any("closed on 2026-03-03" in text for text in later[0]["because"])
    (mine,) = selling.get("/v1/promises/o-1").json()["now"]
    assert mine["first"]["ships_by"] == first["ships_by"]
    assert mine["ships_by"] > "2026-03-16"


def test_a_promise_is_replayed_to_the_byte_after_all_that_came_since(selling: Served) -> None:
    selling.pieces("s1", "s2")
    promised(selling, "o-0", lines=TWO)
    at = selling.clock.isoformat()
    selling.later(minutes=7)
    answer = promised(selling, "o-1", lines=[{"sku": "sh-60", "quantity": 3}, {"sku": "sh-90"}])
    assert answer.status_code == 201
    selling.later(hours=5)
    selling.record("held", pieces=["s1"], why="other", occurred_at=at)  # told late
    coat = selling.record("coat_applied", pieces=["s2"], lot="can-1", hands_on_min=90)
    promised(selling, "o-2", lines=[{"sku": "sh-60", "quantity": 30}])
    shop = selling.get("/v1/events?limit=1").json()["events"][0]["event"]
    amended = {**shop, "people": 3}
    selling.record("event_amended", original=shop["id"], replacement=amended, reason="wrong_value")
    selling.record("event_voided", original=coat["id"], reason="never_happened")
    for order in ("o-0", "o-1"):
        replay = selling.get(f"/v1/promises/{order}/replay")
        assert replay.status_code == 200, replay.text
        (one,) = replay.json()["promises"]
        assert one["same"], one
        assert one["differs"] == []
        assert one["recorded_sha256"] == one["computed_sha256"]


def test_what_cannot_be_replayed_says_why(selling: Served) -> None:
    refusal(selling.get("/v1/promises/none/replay"), 404, "not_found")
    selling.record("order_taken", order="o-1", lines=[{"line": "1", "sku": "sh-90"}])
    refusal(selling.get("/v1/promises/o-1/replay"), 404, "not_found")
    told = {"order": "o-1", "ships_by": "2026-03-09", "level_pct": 80}
    selling.record("promise_made", **told)
    refusal(selling.get("/v1/promises/o-1/replay"), 409, "not_computed")
    selling.record("order_taken", order="o-2", lines=[{"line": "1", "sku": "sh-90"}])
    selling.record(
        "promise_made", **{**told, "order": "o-2"}, seed=1, replications=100, position=5,
        quoted_at=selling.clock.isoformat(), engine="open-shop-0",
    )  # fmt: skip
    answer = selling.get("/v1/promises/o-2/replay")
    refusal(answer, 409, "engine_differs")
    assert "open-shop-0" in answer.json()["detail"]


def test_an_order_nobody_took_has_no_promise(selling: Served) -> None:
    refusal(selling.get("/v1/promises/none"), 404, "not_found")


def test_parts_leave_and_the_promise_is_kept(selling: Served) -> None:
    made = promised(selling, "o-1", lines=TWO).json()
    selling.pieces("a", "b")
    selling.record("piece_allotted", pieces=["a", "b"], order="o-1", line="1")
    for piece in ("a", "b"):
        selling.later(hours=2).record("packed", pieces=[piece], touching="paper")
        selling.record("shipped", pieces=[piece], order="o-1")
        line = selling.get("/v1/promises/o-1").json()["lines"][0]
        assert line["rest"] == (1 if piece == "a" else 0)
    assert line["outcome"] == "kept"
    assert line["parts"] == [{"shipped_on": "2026-03-02", "pieces": ["a", "b"]}]
    assert made["ships_by"] >= "2026-03-02"
    assert selling.get("/v1/promises").json()["promises"] == []


def stocked(selling: Served, count: int) -> tuple[str, ...]:
    """Pack shelves that nobody ordered."""
    words = tuple(f"s-{n}" for n in range(1, count + 1))
    selling.record(
        "piece_started", pieces=words, kind="shelf", species="ash", coat_area_m2=0.6, use="shelf",
        sku="sh-90",
    )  # fmt: skip
    selling.record("packed", pieces=words, touching="paper")
    return words


def test_a_hold_takes_what_stands_there_and_its_promise_gives_the_order_just_that(
    selling: Served,
) -> None:
    words = stocked(selling, 2)
    quote = held(selling, "cart-1", quantity=6).json()["quote"]
    assert (quote["on_shelf"], quote["from_shelf"]) == ([], {"1": 2})
    # What is held is gone from the shelf for who asks now, and what lacks of it is work to do.
    assert quoted(selling, quantity=1)["from_shelf"] == {}
    assert promised(selling, "w-1", hold="cart-1").status_code == 201
    (row,) = selling.get("/v1/promises").json()["promises"]
    assert (row["packed"], row["not_begun"]) == (2, 4)
    for word in words:
        assert selling.get(f"/v1/pieces/{word}").json()["order"] == "w-1"
    (one,) = selling.get("/v1/promises/w-1/replay").json()["promises"]
    assert one["same"]
