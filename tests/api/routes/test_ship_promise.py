"""Ship promises over HTTP, as a web shop's pages ask for them with a publishable word."""

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import date, datetime
from typing import Any

import pytest
from coatledger.ledger.memory import MemoryStore
from coatledger_api.app import OPERATIONS
from coatledger_api.routes.storefront import caching
from coatledger_api.service import Service
from coatledger_api.settings import Settings
from httpx import Response
from selling_shop import HOURS, SHEET, STEPS, held, open_shop, promised
from served import Served, refusal, serving

ORIGIN = "https://shop.example"
# Whatever a stranger may be told; a new field is decided here first.
PUBLIC = frozenset(
    ("position", "status", "basis", "level_pct", "ships_by", "likely", "order_before",
     "valid_until", "text", "json_ld", "lines")
)  # fmt: skip
PUBLIC_OF_LINE = (PUBLIC | {"sku", "quantity", "options"}) - {
    "position", "level_pct", "valid_until", "lines",
}  # fmt: skip


@pytest.fixture
def front() -> Iterator[Served]:
    """An open shop that allows pages of one origin, and that is not in a hurry."""
    with serving(
        MemoryStore("front"), Settings(storefront_origins=ORIGIN, storefront_wait_s=30)
    ) as one:
        yield open_shop(one)


def word_of(served: Served) -> str:
    return served.key("storefront", kind="publishable")


def ask(served: Served, *lines: str, token: str | None = "", **query: Any) -> Response:
    """Ask as a page does, its word in the header."""
    params = [*(("line", line) for line in lines), *query.items()]
    given = word_of(served) if token == "" else token
    return served.get("/v1/ship-promise", params=params, token=given)


def told(served: Served, *lines: str, **query: Any) -> dict[str, Any]:
    answer = ask(served, *lines, **query)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def test_a_page_is_told_a_day_a_cut_off_and_words_for_its_reader(front: Served) -> None:
    found = told(front, "sh-90*2;sheen=matte")
    assert found["status"] == "made_to_order"
    assert found["basis"] == "computed"
    assert found["order_before"] == "2026-03-02T17:00:00Z"
    assert date(2026, 3, 2) < date.fromisoformat(found["likely"])
    assert found["likely"] <= found["ships_by"]
    assert "not the day it arrives" in found["text"]
    assert found["lines"][0]["options"] == {"sheen": "matte"}


def test_nothing_else_of_the_shop_is_told(front: Served) -> None:
    found = told(front, "sh-90", "sh-60*3", ships="split")
    assert found.keys() == PUBLIC
    assert all(line.keys() == PUBLIC_OF_LINE for line in found["lines"])


def test_lines_ship_together_split_or_are_asked_for_one_by_one(front: Served) -> None:
    cart = ("sh-90*20", "sh-60")
    together, split = told(front, *cart), told(front, *cart, ships="split")
    single = told(front, *cart, ships="single")
    assert len({line["ships_by"] for line in together["lines"]}) == 1
    days = [line["ships_by"] for line in split["lines"]]
    assert max(days) == split["ships_by"] <= together["ships_by"]
    alone = told(front, "sh-60")
    assert single["lines"][1]["ships_by"] == alone["ships_by"] < together["ships_by"]
    assert single["ships_by"] == max(line["ships_by"] for line in single["lines"])


def test_what_stands_packed_for_nobody_leaves_with_the_next_pick_up(front: Served) -> None:
    started = {"kind": "shelf", "species": "ash", "coat_area_m2": 0.6, "use": "shelf"}
    made = {**started, "sku": "sh-90", "options": {"sheen": "matte"}, "schedule": "three"}
    front.record("piece_started", pieces=["s-1", "s-2"], **made)
    assert told(front, "sh-90;sheen=matte")["status"] == "made_to_order"
    front.record("packed", pieces=["s-1", "s-2"], touching="paper")
    found = told(front, "sh-90;sheen=matte")
    assert (found["status"], found["ships_by"]) == ("on_shelf", "2026-03-02")
    assert found["text"].startswith("On the shelf.")
    assert told(front, "sh-90;sheen=satin")["status"] == "made_to_order"
    assert told(front, "sh-90*3;sheen=matte")["status"] == "made_to_order"
    assert told(front, "sh-90;sheen=matte", "sh-60")["status"] == "made_to_order"
    assert held(front, "h-1", 2, lines=[_matte(2)]).status_code == 201
    assert told(front, "sh-90;sheen=matte")["status"] == "made_to_order"


def test_what_a_page_says_is_on_the_shelf_is_held_promised_and_given_to_the_order(
    front: Served,
) -> None:
    started = {"kind": "shelf", "species": "ash", "coat_area_m2": 0.6, "use": "shelf"}
    made = {**started, "sku": "sh-90", "options": {"sheen": "matte"}}
    front.record("piece_started", pieces=["s-1", "s-2", "s-3"], **made)
    front.record("packed", pieces=["s-1", "s-2", "s-3"], touching="paper")
    day = told(front, "sh-90*2;sheen=matte")["ships_by"]
    quote = held(front, "h-1", lines=[_matte(2)]).json()["quote"]
    assert (quote["ships_by"], quote["on_shelf"]) == (day, ["1"])
    assert promised(front, "W-1", hold="h-1").json()["ships_by"] == day
    assert [front.get(f"/v1/pieces/s-{n}").json()["order"] for n in (1, 2, 3)] == [
        "W-1", "W-1", None,
    ]  # fmt: skip
    (replayed,) = front.get("/v1/promises/W-1/replay").json()["promises"]
    assert replayed["same"], replayed["differs"]
    mixed = [_matte(1), {"sku": "sh-60", "quantity": 1}]
    split = held(front, "h-2", lines=mixed, together=False).json()["quote"]
    assert split["on_shelf"] == ["1"]
    assert split["lines"][0]["ships_by"] == day < split["lines"][1]["ships_by"]
    assert promised(front, "W-2", hold="h-2").status_code == 201
    assert told(front, "sh-90;sheen=matte")["status"] == "made_to_order"


def _matte(quantity: int) -> dict[str, Any]:
    return {"sku": "sh-90", "quantity": quantity, "options": {"sheen": "matte"}}


def test_what_is_paused_is_said_so_and_has_no_day(front: Served) -> None:
    found = told(front, "bx")
    assert (found["status"], found["ships_by"], found["json_ld"]) == ("paused", None, None)
    assert found["text"]
    both = told(front, "bx", "sh-90", ships="single")
    assert [line["status"] for line in both["lines"]] == ["paused", "made_to_order"]


def test_a_shop_that_lacks_what_a_day_needs_tells_its_stated_lead(served: Served) -> None:
    served.record("shop_described", zone="UTC", hours=[], people=2, fallback_lead_days=20)
    served.record("product_described", product="clear-w", **SHEET)
    served.record("schedule_described", schedule="three", steps=STEPS)
    served.record("offering_described", offering="shelf", skus=["sh-90"], schedule="three")
    found = told(served, "sh-90")
    assert (found["status"], found["basis"]) == ("ask_us", "stated")
    assert found["ships_by"] == "2026-03-23"  # 20 days on is a Sunday
    assert found["text"].startswith("As a rule")
    served.record("shop_described", zone="UTC", hours=[], people=2)
    assert told(served, "sh-90")["text"] == "Ask us when this can leave our workshop."


@pytest.mark.parametrize(
    ("line", "status", "kind"),
    [
        ("no-such", 404, "unknown_offering"),
        ("sh-90;sheen=gloss", 422, "invalid"),
        ("sh-90;tint=smoke", 422, "invalid"),
        ("sh-90;sheen=matte;sheen=satin", 422, "invalid"),
        ("sh-90*0", 422, "invalid"),
        ("sh-90*51", 422, "invalid"),
        ("sh-90*-1", 422, "invalid"),
        ("sh-90*2*2", 422, "invalid"),
        ("", 422, "invalid"),
        ("'; DROP TABLE fold; --", 422, "invalid"),
        ("<script>alert(1)</script>", 422, "invalid"),
        ("../../etc/passwd", 422, "invalid"),
        ("sh-90\x00", 422, "invalid"),
        ("sh-90\n", 422, "invalid"),
        ("ѕh-90", 422, "invalid"),
        ("x" * 5_000, 422, "invalid"),
    ],
)
def test_what_cannot_be_answered_is_refused_by_its_place(
    front: Served, line: str, status: int, kind: str
) -> None:
    refusal(ask(front, "sh-90", line), status, kind)


def test_no_line_too_many_and_what_nobody_knows_are_refused(front: Served) -> None:
    refusal(ask(front), 422, "invalid")
    refusal(ask(front, *["sh-90"] * 21), 422, "invalid")
    refusal(ask(front, "sh-90", colour="red"), 422, "invalid")
    refusal(ask(front, "sh-90", ships="by_air"), 422, "invalid")


def test_a_day_that_cannot_be_kept_is_refused_with_what_can(front: Served) -> None:
    answer = ask(front, "sh-90*30", no_later_than="2026-03-03")
    refusal(answer, 409, "capacity_gone")
    assert answer.json()["ship_promise"]["ships_by"] > "2026-03-03"
    assert answer.json().keys() == {"type", "title", "status", "detail", "ship_promise"}
    day = told(front, "sh-90*30")["ships_by"]
    assert told(front, "sh-90*30", no_later_than=day)["ships_by"] == day


def test_a_hold_keeps_its_day_and_is_gone_when_it_is_over(front: Served) -> None:
    assert held(front, "cart-7", 2, minutes=10).status_code == 201
    day = front.get("/v1/holds/cart-7").json()["quote"]["ships_by"]
    found = told(front, "sh-90*2", hold="cart-7")
    assert (found["ships_by"], found["valid_until"]) == (day, "2026-03-02T07:10:00Z")
    refusal(ask(front, "sh-90*3", hold="cart-7"), 404, "not_found")
    refusal(ask(front, "sh-90*2", hold="cart-8"), 404, "not_found")
    front.later(minutes=11)
    gone = ask(front, "sh-90*2", hold="cart-7")
    refusal(gone, 410, "hold_over")
    assert gone.json()["ship_promise"]["ships_by"] >= day


def test_the_day_of_the_page_is_kept_by_the_hold_and_the_promise_after_it(front: Served) -> None:
    day = told(front, "sh-90*2")["ships_by"]
    front.later(hours=9, minutes=30)  # half an hour before the cut-off
    assert held(front, "cart-9", 2).json()["quote"]["ships_by"] <= day
    assert promised(front, "W-1", hold="cart-9").json()["ships_by"] <= day


def test_an_answer_may_be_kept_until_the_cut_off_and_no_longer(front: Served) -> None:
    answer = ask(front, "sh-90")
    assert answer.headers["cache-control"] == (
        "public, max-age=60, s-maxage=60, stale-while-revalidate=600, stale-if-error=600"
    )
    assert set(answer.headers["vary"].split(", ")) >= {"Authorization", "Origin"}
    assert answer.headers["coatledger-position"] == str(answer.json()["position"])
    front.at("1 16:59")
    near = ask(front, "sh-90")
    assert near.json()["order_before"] == "2026-03-02T17:00:00Z"
    assert near.headers["cache-control"] == "public, max-age=60, s-maxage=60"
    front.later(seconds=30)
    after = ask(front, "sh-90")  # the minute is rounded up, to the cut-off itself
    assert after.json()["order_before"] == "2026-03-03T17:00:00Z"
    assert "max-age=60" in after.headers["cache-control"]


def test_the_tag_of_an_answer_stays_while_it_is_true(front: Served) -> None:
    first = ask(front, "sh-90")
    front.later(minutes=30)
    again = front.get(
        "/v1/ship-promise?line=sh-90", token=word_of(front),
        headers={"If-None-Match": first.headers["etag"]},
    )  # fmt: skip
    assert (again.status_code, again.content) == (304, b"")
    assert "max-age" in again.headers["cache-control"]


def test_seconds_that_pass_are_counted_and_not_those_of_the_clock_on_the_wall() -> None:
    # In Lisbon on 29 March 2026 the clocks go from 01:00 to 02:00.
    now = datetime.fromisoformat("2026-03-29T00:59:30+00:00")
    until = datetime.fromisoformat("2026-03-29T02:00:00+01:00")
    assert caching(now, until, 300) == "public, max-age=30, s-maxage=30"
    assert caching(until, until, 300) == "no-cache"
    autumn = datetime.fromisoformat("2026-10-25T01:59:50+01:00")
    ends = datetime.fromisoformat("2026-10-25T01:00:20+00:00")
    assert caching(autumn, ends, 300) == "public, max-age=30, s-maxage=30"


@pytest.mark.parametrize("day", ["28", "29", "30", "31"])
def test_the_cut_off_stays_on_the_wall_when_the_clocks_change(front: Served, day: str) -> None:
    front.record("shop_described", zone="Europe/Lisbon", hours=HOURS)
    front.clock = datetime.fromisoformat(f"2026-03-{day}T08:00:00+00:00")
    found = told(front, "sh-90")
    assert found["order_before"][10:] == "T17:00:00+01:00"
    assert found["json_ld"]["deliveryTime"]["cutoffTime"] == "17:00:00+01:00"


def test_a_crowd_that_asks_the_same_costs_one_simulation_a_minute(front: Served) -> None:
    service: Service = front.client.app.state.service  # type: ignore[attr-defined]
    run, asked = service.simulations.run, list[str]()

    async def counted(work: Callable[[], Any]) -> Any:
        asked.append("once")
        return await run(work)

    service.simulations.run = counted  # type: ignore[method-assign]
    token = word_of(front)
    with ThreadPoolExecutor(20) as crowd:
        answers = list(crowd.map(lambda _: ask(front, "sh-90", token=token), range(40)))
    assert {answer.status_code for answer in answers} == {200}
    assert len({answer.content for answer in answers}) == 1
    assert len(asked) == 1
    front.later(seconds=59)
    told(front, "sh-90", ships="single")
    front.later(minutes=1)
    told(front, "sh-90")
    held(front, "h-1", 1)
    told(front, "sh-90")
    front.record("climate_read", room="spray", readings=[{"air_c": 21, "rh_pct": 50}])
    told(front, "sh-90")
    assert len(asked) == 6  # one is that of the hold itself


def test_the_engine_that_is_too_slow_is_not_waited_for() -> None:
    settings = Settings(storefront_wait_s=0.0001, fallback_lead_days=10)
    with serving(MemoryStore("slow"), settings) as slow:
        open_shop(slow)
        answer = ask(slow, "sh-90")
        refusal(answer, 503, "no_day_in_time")
        assert int(answer.headers["retry-after"]) > 0
        instead = answer.json()["ship_promise"]
        assert (instead["basis"], instead["ships_by"]) == ("stated", "2026-03-12")
        assert instead["text"].startswith("As a rule")


def test_a_page_of_an_allowed_origin_may_read_what_comes_refusals_too(front: Served) -> None:
    token = word_of(front)
    for line, status in (("sh-90", 200), ("no-such", 404)):
        answer = front.get(
            f"/v1/ship-promise?line={line}&word={token}", token=None, headers={"Origin": ORIGIN}
        )
        assert answer.status_code == status, answer.text
        assert answer.headers["access-control-allow-origin"] == ORIGIN
    other = front.get(
        f"/v1/ship-promise?line=sh-90&word={token}", token=None,
        headers={"Origin": "https://elsewhere.example"},
    )  # fmt: skip
    assert "access-control-allow-origin" not in other.headers
    elsewhere = front.get("/v1/clocks", headers={"Origin": ORIGIN})
    assert "access-control-allow-origin" not in elsewhere.headers


def test_a_browser_asks_leave_and_gets_it_for_get_alone(front: Served) -> None:
    asked = {"Access-Control-Request-Method": "GET"}
    leave = front.ask(
        "OPTIONS", "/v1/ship-promise", token=None, headers={"Origin": ORIGIN, **asked}
    )
    assert leave.status_code == 204
    assert leave.headers["access-control-allow-methods"] == "GET, HEAD"
    assert "Authorization" in leave.headers["access-control-allow-headers"]
    for path, origin in (("/v1/ship-promise", "https://x.example"), ("/v1/holds", ORIGIN)):
        refused = front.ask("OPTIONS", path, token=None, headers={"Origin": origin, **asked})
        assert "access-control-allow-origin" not in refused.headers


def test_a_secret_key_works_from_a_server_and_never_from_a_page(front: Served) -> None:
    secret = front.key("storefront")
    assert ask(front, "sh-90", token=secret).status_code == 200
    from_page = front.get("/v1/ship-promise?line=sh-90", token=secret, headers={"Origin": ORIGIN})
    refusal(from_page, 403, "forbidden")
    assert "revoke" in from_page.json()["detail"]
    in_address = front.get(f"/v1/ship-promise?line=sh-90&word={secret}", token=None)
    refusal(in_address, 401, "unauthorized")
    assert "revoke" in in_address.json()["detail"]
    refusal(ask(front, "sh-90", token=None), 401, "unauthorized")


GUARDED = [o for o in OPERATIONS if o.scope is not None and o.path != "/v1/ship-promise"]


def test_the_word_of_a_page_opens_nothing_else(front: Served) -> None:
    token = word_of(front)
    for operation in GUARDED:
        path = operation.path.replace("{", "").replace("}", "")
        refusal(front.ask(operation.method, path, token=token), 403, "forbidden")
        refusal(front.ask(operation.method, f"{path}?word={token}", token=None), 401,
                "unauthorized")  # fmt: skip
    for method in ("POST", "PUT", "DELETE", "PATCH"):
        refusal(front.ask(method, "/v1/ship-promise", token=token), 405, "method_not_allowed")


def test_a_key_that_asks_too_often_is_told_so_where_the_page_can_read_it() -> None:
    settings = Settings(key_requests_per_s=0.01, key_burst=2, storefront_origins="*")
    with serving(MemoryStore("often"), settings) as often:
        token = word_of(often)
        for _ in range(3):
            answer = often.get("/v1/ship-promise?line=x", token=token, headers={"Origin": ORIGIN})
        refusal(answer, 429, "too_many_requests")
        assert answer.headers["access-control-allow-origin"] == "*"
