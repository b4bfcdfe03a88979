"""Ship dates on the command line: quoted, promised, listed, told from the start, computed again."""

from datetime import UTC, datetime
from typing import Any

import pytest
from bench import Bench
from coatledger_api.commands.asked_lines import body_of
from promise_shop import shop
from shell import Running, asked, call

NOTHING: dict[str, Any] = {
    "by_offering": False, "alone": False, "wanted_by": None, "quantity": 1, "use": None,
    "schedule": None, "species": None, "area_m2": None,
}  # fmt: skip


@pytest.fixture
def selling(service: Running, now: list[datetime]) -> Bench:
    """The shop that sells shelves."""
    bench = shop(store=service.store)
    now[0] = bench.now.astimezone(UTC)
    return bench


def test_what_is_asked_for_is_written_as_the_service_takes_it() -> None:
    assert body_of((), **NOTHING) == {}
    both = body_of(("a=3", "b"), **{**NOTHING, "alone": True})
    assert both == {"lines": [{"sku": "a", "quantity": 3}, {"sku": "b"}], "together": False}
    free = body_of((), **{**NOTHING, "species": "ash", "area_m2": 0.5, "quantity": 2})
    assert free == {"lines": [{"quantity": 2, "species": "ash", "coat_area_m2": 0.5}]}
    assert body_of(("a",), **{**NOTHING, "by_offering": True}) == {"lines": [{"offering": "a"}]}


@pytest.mark.usefixtures("selling")
def test_a_quote_says_the_day_the_chance_and_where_the_days_go() -> None:
    said = call("quote", "sh-90=12", "--wanted-by", "2026-03-20").stdout
    assert "Ships by 2026-03-0" in said
    assert "that is not the day on which it arrives" in said
    assert "By 2026-03-20, as wished: chance" in said
    assert "Where the days go:" in said
    assert "Assumed: the last reading of room spray is held." in said
    alone = call("quote", "sh-90", "sh-90=30", "--alone", "--no-ways").stdout
    assert "line 1" in alone
    assert "line 2" in alone
    assert asked("quote", "sh-90", "--seed", "4")["seed"] == 4


@pytest.mark.usefixtures("selling")
def test_a_web_shops_own_key_is_enough_to_quote_and_to_promise(
    service: Running, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COATLEDGER_KEY", service.key_for("promise"))
    assert "Ships by 2026-03-0" in call("quote", "sh-90=2").stdout
    made = call("promise", "o-1", "sh-90=2")
    assert made.exit_code == 0, made.stderr
    assert "Order o-1: ships by 2026-03-0" in made.stdout


@pytest.mark.usefixtures("selling")
def test_a_word_of_an_order_is_never_read_as_an_address() -> None:
    call("promise", "o-1", "sh-90=2")
    assert call("promises", "o-1").exit_code == 0
    assert call("promises", "o-1?replications=50").exit_code == 1
    assert call("promises", "o-1/replay").exit_code == 1


@pytest.mark.usefixtures("selling")
def test_what_cannot_be_quoted_is_said() -> None:
    assert call("quote").exit_code == 2
    assert call("quote", "sh-90=many").exit_code == 2
    unknown = call("quote", "none")
    assert unknown.exit_code == 1
    assert "nothing of the word none is sold" in unknown.stderr


@pytest.mark.usefixtures("selling")
def test_an_order_is_promised_once_and_its_promise_can_be_looked_at() -> None:
    said = call("promise", "o-1", "sh-90=2", "--customer", "c-7").stdout
    assert "Order o-1: ships by 2026-03-0" in said
    assert call("promise", "o-1", "sh-90=2", "--customer", "c-7").stdout == said
    other = call("promise", "o-1", "sh-90=3")
    assert other.exit_code == 1
    assert "promised otherwise" in other.stderr
    late = call("promise", "o-2", "sh-90=2", "--no-later-than", "2026-03-02")
    assert "Not by that day" in late.stderr

    listed = call("promises").stdout
    assert "1 open promise." in listed
    assert "0 of 2" in listed
    assert asked("promises")["promises"][0]["order"] == "o-1"
    story = call("promises", "o-1").stdout
    assert "Order o-1, taken" in story
    assert "2 " in story
    assert "the same to the byte" in call("promises", "o-1", "--replay").stdout
    assert call("promises", "--replay").exit_code == 2
    assert call("promises", "none").exit_code == 1


def test_what_endangers_a_promise_is_told(selling: Bench, now: list[datetime]) -> None:
    call("promise", "o-1", "sh-90=2")
    now[0] = selling.at("4 08:00").now.astimezone(UTC)
    said = call("promises").stdout
    assert "in danger" in said
    assert "line 1: 2 of 2 not begun" in said
    assert "line 1: 2 of 2 not begun" in call("promises", "o-1").stdout


def test_how_promises_came_out_is_told(selling: Bench, now: list[datetime]) -> None:
    call("promise", "o-1", "sh-90=2")
    early = call("promises", "score").stdout
    assert "0 of 0 promises kept by the first day told, 0 overdue, 1 open, 0 off" in early
    assert "day told at" not in early
    now[0] = selling.at("40 08:00").now.astimezone(UTC)
    said = call("promises", "score").stdout
    assert "0 of 1 promise kept by the first day told, 1 overdue" in said
    assert "80 %" in said
    assert "the next quote takes what is simulated at" in said
    assert asked("promises", "score")["overdue"] == 1
