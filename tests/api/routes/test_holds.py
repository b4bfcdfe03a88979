"""Holds over HTTP: nobody else is sold what is held, and what is held can be promised."""

from collections.abc import Iterator
from contextlib import ExitStack, closing
from pathlib import Path
from threading import Barrier, Thread
from typing import Any

import pytest
from coatledger.ledger.memory import MemoryStore
from coatledger_adapters.migrate import migrate
from coatledger_adapters.sql_store import open_store
from coatledger_api.settings import Settings
from httpx import Response
from postgres_server import HASTY, Server, why_missing
from selling_shop import held, open_shop, promised, quoted, send
from served import Served, refusal, serving

MANY = 40
BUYERS = 4


@pytest.fixture
def selling(served: Served) -> Served:
    """A shop with nothing to do on a Monday morning."""
    return open_shop(served)


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def on_disk(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Served]:
    """The same shop over each database."""
    with ExitStack() as stack:
        address = f"sqlite:///{tmp_path / 'ledger.db'}"
        if request.param == "postgresql":
            if missing := why_missing():
                pytest.skip(missing)
            server = Server(*HASTY)
            stack.callback(server.stop)
            address = server.new_database()
        migrate(address)
        store = stack.enter_context(closing(open_store(address, "trial")))
        yield open_shop(stack.enter_context(serving(store)))


def told(answer: Response, status: int = 201) -> dict[str, Any]:
    assert answer.status_code == status, answer.text
    found: dict[str, Any] = answer.json()
    return found


def at_once(served: Served, *asks: Any) -> list[Response]:
    """Send calls from threads that begin together."""
    gate, answers = Barrier(len(asks)), list[Response]()

    def send_one(ask: Any) -> None:
        gate.wait()
        answers.append(ask())

    threads = [Thread(target=send_one, args=(ask,)) for ask in asks]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(120)
    assert len(answers) == len(asks)
    return answers


def test_what_is_held_is_not_sold_to_the_next(selling: Served) -> None:
    size = selling.size
    alone = quoted(selling, MANY, replications=1_000)["ships_by"]
    hold = told(held(selling, "cart-1", MANY))
    assert hold["quote"]["ships_by"] == alone
    assert (hold["state"], hold["until"]) == ("live", "2026-03-02T07:15:00Z")
    behind = quoted(selling, MANY, replications=1_000)["ships_by"]
    assert behind > alone
    assert selling.size == size, "a hold is no event"
    assert selling.ask("DELETE", "/v1/holds/cart-1").status_code == 204
    assert quoted(selling, MANY, replications=1_000)["ships_by"] == alone


def test_a_hold_ends_by_the_clock(selling: Served) -> None:
    alone = quoted(selling, MANY)["ships_by"]
    told(held(selling, "cart-1", MANY, minutes=5))
    selling.later(minutes=4, seconds=59)
    assert quoted(selling, MANY)["ships_by"] > alone
    selling.later(seconds=1)
    assert quoted(selling, MANY)["ships_by"] == alone
    assert selling.get("/v1/holds").json()["holds"] == []
    assert selling.get("/v1/holds/cart-1").json()["state"] == "over"


def test_the_same_word_is_one_hold(selling: Served) -> None:
    first = held(selling, "cart-1")
    again = held(selling, "cart-1")
    assert (first.status_code, again.status_code) == (201, 200)
    assert again.content == first.content
    refusal(held(selling, "cart-1", 3), 409, "hold_reused")
    assert [one["hold"] for one in selling.get("/v1/holds").json()["holds"]] == ["cart-1"]


def test_holds_stand_in_the_order_they_were_placed(selling: Served) -> None:
    days = [told(held(selling, f"cart-{n}", MANY))["quote"]["ships_by"] for n in range(3)]
    assert days == sorted(set(days))
    holds = selling.get("/v1/holds").json()["holds"]
    assert [one["hold"] for one in holds] == ["cart-0", "cart-1", "cart-2"]


def test_a_released_hold_is_released_again_without_harm(selling: Served) -> None:
    told(held(selling, "cart-1"))
    for _ in range(2):
        assert selling.ask("DELETE", "/v1/holds/cart-1").status_code == 204
    assert selling.get("/v1/holds/cart-1").json()["state"] == "released"
    refusal(selling.ask("DELETE", "/v1/holds/none"), 404, "not_found")
    refusal(selling.get("/v1/holds/none"), 404, "not_found")


def test_a_hold_that_would_be_too_late_is_not_placed(selling: Served) -> None:
    answer = held(selling, "cart-1", MANY, no_later_than="2026-03-03")
    refusal(answer, 409, "capacity_gone")
    assert answer.json()["quote"]["ships_by"] > "2026-03-03"
    refusal(selling.get("/v1/holds/cart-1"), 404, "not_found")


# ---- from a hold to a promise


def test_what_was_held_is_promised_by_the_orders_word(selling: Served) -> None:
    hold = told(held(selling, "cart-1", MANY))
    told(held(selling, "cart-2", MANY))
    made = told(promised(selling.later(minutes=9), "o-1", hold="cart-1"))
    assert made["ships_by"] == hold["quote"]["ships_by"]
    assert made["quoted_at"] == hold["quote"]["as_of"]
    stood = selling.get("/v1/holds/cart-1").json()
    assert (stood["state"], stood["order"]) == ("promised", "o-1")
    refusal(selling.ask("DELETE", "/v1/holds/cart-1"), 409, "hold_taken")
    refusal(promised(selling, "o-2", hold="cart-1"), 409, "hold_taken")
    assert promised(selling, "o-1", hold="cart-1").status_code == 200
    second = told(promised(selling, "o-2", hold="cart-2"))
    assert (second["holds_before"], made["holds_before"]) == (1, 0)
    for order in ("o-1", "o-2"):
        (one,) = selling.get(f"/v1/promises/{order}/replay").json()["promises"]
        assert one["same"], one


def test_the_order_may_be_taken_between_hold_and_payment(selling: Served) -> None:
    hold = told(held(selling, "cart-1"))
    lines = [{"line": "1", "quantity": 2, "sku": "sh-90"}]
    selling.later(minutes=1).record("order_taken", order="o-1", lines=lines)
    made = told(promised(selling.later(minutes=1), "o-1", hold="cart-1"))
    assert made["ships_by"] == hold["quote"]["ships_by"]
    assert selling.get("/v1/promises/o-1/replay").json()["promises"][0]["same"]


@pytest.mark.parametrize("together", [True, False])
def test_a_late_payment_gets_the_held_day_while_it_can_be_kept(
    selling: Served, together: bool
) -> None:
    lines = [{"sku": "sh-90", "quantity": 3}, {"sku": "sh-60", "quantity": 6}]
    hold = told(held(selling, "cart-1", lines=lines, together=together, minutes=5))
    late = promised(selling.later(minutes=7), "o-1", hold="cart-1")
    made = told(late)
    assert made["ships_by"] == hold["quote"]["ships_by"]
    assert all(one["chance_pct"] >= 80.0 for one in made["days"])
    assert promised(selling, "o-1", hold="cart-1").content == late.content
    assert all(one["same"] for one in selling.get("/v1/promises/o-1/replay").json()["promises"])


def test_a_late_payment_is_told_a_new_day_when_the_old_one_is_gone(selling: Served) -> None:
    told(held(selling, "cart-1", MANY, minutes=5))
    selling.later(minutes=6)
    told(promised(selling, "o-other", lines=[{"sku": "sh-60", "quantity": 60}]))
    size = selling.size
    gone = promised(selling, "o-1", hold="cart-1")
    refusal(gone, 410, "hold_over")
    fresh = gone.json()["quote"]
    assert fresh["ships_by"] > selling.get("/v1/holds/cart-1").json()["quote"]["ships_by"]
    assert selling.size == size
    assert selling.get("/v1/holds").json()["holds"] == []
    made = told(promised(selling, "o-1", lines=[{"sku": "sh-90", "quantity": MANY}]))
    assert made["ships_by"] == fresh["ships_by"]


def test_a_hold_nobody_placed_is_not_promised(selling: Served) -> None:
    refusal(promised(selling, "o-1", hold="none"), 404, "not_found")
    told(held(selling, "cart-1"))
    both = promised(selling, "o-1", hold="cart-1", lines=[{"sku": "sh-90"}])
    assert refusal(both, 422, "invalid") == [("invalid", "/lines")]


# ---- at once


def test_of_buyers_who_race_each_is_priced_behind_the_one_before(on_disk: Served) -> None:
    """Only one can have the first day; nobody is told a day that another one holds."""
    first = quoted(on_disk, MANY, replications=1_000)["ships_by"]

    def buy(number: int) -> Any:
        return lambda: held(on_disk, f"cart-{number}", MANY)

    answers = at_once(on_disk, *(buy(n) for n in range(BUYERS)))
    days = sorted(told(answer)["quote"]["ships_by"] for answer in answers)
    assert days[0] == first
    assert len(set(days)) == BUYERS
    holds = on_disk.get("/v1/holds").json()["holds"]
    placed = [one["quote"]["ships_by"] for one in holds]
    assert placed == days


def test_two_who_need_the_last_capacity_by_a_day_are_not_both_promised_it(on_disk: Served) -> None:
    day = quoted(on_disk, MANY, replications=1_000)["ships_by"]
    lines = [{"sku": "sh-90", "quantity": MANY}]

    def buy(number: int) -> Any:
        return lambda: promised(on_disk, f"o-{number}", lines=lines, no_later_than=day)

    answers = at_once(on_disk, *(buy(n) for n in range(BUYERS)))
    assert sorted(answer.status_code for answer in answers) == [201] + [409] * (BUYERS - 1)
    for answer in answers:
        if answer.status_code == 409:
            refusal(answer, 409, "capacity_gone")
    assert len(on_disk.get("/v1/promises").json()["promises"]) == 1


def test_the_same_payment_told_many_times_at_once_is_one_promise(on_disk: Served) -> None:
    told(held(on_disk, "cart-1"))
    size = on_disk.size
    answers = at_once(on_disk, *[lambda: promised(on_disk, "o-1", hold="cart-1")] * BUYERS)
    assert sorted(answer.status_code for answer in answers) == [200] * (BUYERS - 1) + [201]
    assert len({answer.content for answer in answers}) == 1
    assert on_disk.size == size + 2


def test_two_orders_that_race_for_one_hold(on_disk: Served) -> None:
    told(held(on_disk, "cart-1"))

    def pay(number: int) -> Any:
        return lambda: promised(on_disk, f"o-{number}", hold="cart-1")

    answers = at_once(on_disk, *(pay(n) for n in range(BUYERS)))
    assert sorted(answer.status_code for answer in answers) == [201] + [409] * (BUYERS - 1)


def test_who_asks_when_too_much_is_simulated_is_told_to_come_back() -> None:
    tight = Settings(simulations_max=1, simulations_waiting_max=0, retry_after_s=7)
    with serving(MemoryStore("trial"), tight) as served:
        open_shop(served)
        body = {"lines": [{"sku": "sh-90", "quantity": 200}], "replications": 2_000}
        answers = at_once(
            served, *[lambda: send(served, "/v1/promises/quote", body)] * (BUYERS * 2)
        )
        busy = [answer for answer in answers if answer.status_code == 503]
        assert busy
        assert len(busy) < len(answers)
        refusal(busy[0], 503, "busy")
        assert busy[0].headers["retry-after"] == "7"
        assert quoted(served)["ships_by"]
