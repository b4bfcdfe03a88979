"""What comes back: by wood and by product, the more believed the more was seen."""

from collections.abc import Mapping

import pytest
from bench import Bench
from coatledger.events.bare import PieceStarted
from coatledger.events.judging import Inspected, ReworkFinished, ReworkStarted
from coatledger.events.leaving import Scrapped
from coatledger.open_shop.learned import (
    ALL,
    DAYS_BACK,
    PIECES_WEIGHT,
    REWORK_PRIOR,
    SCRAP_PRIOR,
    Chances,
    Of,
    chances,
    chances_of,
)
from coatledger.subjects.asked import ask


def found(bench: Bench) -> Mapping[Of, Chances]:
    with bench.store.reading() as reader:
        place = ask(reader, bench.now)
        return chances(reader, place, place.view(reader))


def shop() -> Bench:
    bench = Bench().open_shop()
    bench.climate()
    bench.clear("satin")
    bench.can("can-2", "satin")
    return bench


def made(bench: Bench, word: str, wood: str, bad: bool, lot: str = "can-1") -> None:
    bench.record(
        PieceStarted, pieces=(word,), kind="box", species=wood, coat_area_m2=0.3, use="box"
    )
    bench.later(1.0).coat(word, lot=lot)
    if bad:
        bench.record(ReworkStarted, pieces=(word,), remedy="rub_out", because="nib")
        bench.record(ReworkFinished, pieces=(word,), done="rub_out")
    bench.later(2.0).record(Inspected, pieces=(word,), point="final", passed=True)


def shrunk(bad: float, count: float, to: float) -> float:
    return (bad + PIECES_WEIGHT * to) / (count + PIECES_WEIGHT)


def test_without_history_it_is_common_practice() -> None:
    (only,) = found(shop()).items()
    assert only == (ALL, Chances(rework=REWORK_PRIOR, scrap=SCRAP_PRIOR))


def test_a_wood_that_comes_back_more_often_is_told_from_the_others() -> None:
    bench = shop()
    for number in range(20):
        made(bench, f"p{number}", "oak" if number % 2 else "cherry", bad=number % 2 == 1)
    known = found(bench)
    whole = shrunk(10, 20, REWORK_PRIOR)
    assert known[ALL].rework == pytest.approx(whole)
    assert known["oak", ""].rework == pytest.approx(shrunk(10, 10, whole))
    assert known["cherry", ""].rework < known[ALL].rework < known["oak", ""].rework


def test_a_product_that_does_badly_on_a_wood_is_told_from_the_others_on_it() -> None:
    bench = shop()
    for number in range(24):
        bad = number % 2 == 1
        made(bench, f"p{number}", "oak", bad, lot="can-2" if bad else "can-1")
    known = found(bench)
    oak = known["oak", ""].rework
    assert known["oak", "satin"].rework == pytest.approx(shrunk(12, 12, oak))
    assert known["oak", "clear-w"].rework == pytest.approx(shrunk(0, 12, oak))


def test_what_was_never_seen_has_the_chances_of_the_nearest_that_was() -> None:
    bench = shop()
    made(bench, "p1", "oak", bad=True)
    known = found(bench)
    assert chances_of(known, "oak", "clear-w") == known["oak", "clear-w"]
    assert chances_of(known, "oak", "satin") == known["oak", ""]
    assert chances_of(known, "walnut", "satin") == known[ALL]


def test_a_lost_piece_counts_and_one_of_long_ago_does_not() -> None:
    bench = shop()
    made(bench, "p1", "oak", bad=False)
    bench.later(1.0).record(Scrapped, pieces=("p1",), why="finish")
    assert found(bench)[ALL].scrap == pytest.approx(shrunk(1, 1, SCRAP_PRIOR))
    bench.later(24.0 * (DAYS_BACK + 1))
    assert found(bench) == {ALL: Chances(rework=REWORK_PRIOR, scrap=SCRAP_PRIOR)}
