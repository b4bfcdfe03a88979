"""Films to come: in which air, how long, and what that rests on."""

from datetime import timedelta

import pytest
from bench import Bench, on_day
from coatledger.clocks.ahead import Ahead, Level
from coatledger.clocks.learned import Taught
from coatledger.computations.drying import Spread
from coatledger.computations.drying_clock import BARE_WOOD_LOG_SD
from coatledger.events.coating import Moved
from coatledger.events.setup import Step

COAT = Step(act="coat", product="clear-w")


def ahead(bench: Bench, **factors: Spread) -> Ahead:
    view = bench.view()
    return Ahead(
        view, view.piece("T-1"), {name.replace("_", "-"): f for name, f in factors.items()}
    )


def hours(
    one: Ahead, step: Step = COAT, level: Level = "likely", *, bare_wood: bool = False
) -> tuple[float, list[str]]:
    """Hours to sandable for a film put on a day from now, and what they rest on."""
    at, said = on_day("5 08:00"), dict[str, None]()
    ready = one.ready(step, at, said, level, bare_wood=bare_wood)["sandable"]
    assert ready is not None
    return (ready - at) / timedelta(hours=1), list(said)


def shop() -> Bench:
    bench = Bench().open_shop()
    bench.pieces("T-1")
    return bench


def test_without_any_reading_the_sheets_own_climate_is_taken_and_said() -> None:
    wait, said = hours(ahead(shop()))
    assert wait == 3.0
    assert said == ["no reading of the room: the sheet's reference climate is taken"]


def test_the_air_of_the_piece_s_own_room_comes_before_the_room_read_last() -> None:
    bench = shop()
    bench.climate(15.0, 70.0, room="rack", at="1 09:00")
    bench.climate(21.0, 50.0, room="spray", at="1 10:00")
    assert hours(ahead(bench.at("1 11:00"))) == (3.0, ["the last reading of room spray is held"])
    bench.record(Moved, pieces=("T-1",), room="rack")
    wait, said = hours(ahead(bench))
    assert wait > 3.0
    assert said == ["the last reading of room rack is held"]


def test_a_thicker_film_and_a_slower_product_take_longer() -> None:
    thick, _ = hours(ahead(shop()), Step(act="coat", product="clear-w", wet_film_um=150.0))
    assert thick > 3.0
    slow, said = hours(ahead(shop(), clear_w=Taught(1.1, 1.5, 2.0, checks=9, coats=5)))
    assert slow == pytest.approx(4.5)
    words = "clear-w takes 1.50 times its sheet's hours here (1.10 to 2.00), by 9 check(s) on 5"
    assert any(one.startswith(words) for one in said)


def test_only_a_film_on_bare_wood_has_the_woods_own_doubt() -> None:
    narrow = Spread(1.0, 1.0, 1.0)
    sure, _ = hours(ahead(shop(), clear_w=narrow), level="sure")
    on_wood, _ = hours(ahead(shop(), clear_w=narrow), level="sure", bare_wood=True)
    assert sure == 3.0
    assert on_wood == pytest.approx(3.0 * 2.718281828 ** (1.2815515655 * BARE_WOOD_LOG_SD))


def test_a_coat_of_no_named_product_is_taken_to_be_the_last_one_used() -> None:
    bench = shop()
    unknown = Step(act="coat")
    _, said = hours(ahead(bench), unknown)
    assert any("no product is named for the next coat" in words for words in said)
    bench.coat("T-1")
    wait, said = hours(ahead(bench), unknown)
    assert wait == 3.0
    assert not any("no product is named" in words for words in said)
