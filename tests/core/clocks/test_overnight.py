"""The clocks learn overnight: this morning's factors stand all day, whatever the day brings."""

import pytest
from bench import Bench, on_day
from coatledger.answers.pieces import piece_answer
from coatledger.clocks.learned import Taught, in_words
from coatledger.clocks.overnight import Overnight, disturbs, midnight_us
from coatledger.clocks.shop_learning import learned
from coatledger.computations.drying import Spread, spread
from coatledger.events.coating import DrynessChecked
from coatledger.ledger.record import micros
from coatledger.subjects.asked import ask


def slow_shop() -> Bench:
    """Monday: four coats, each not ready at the sheet's three hours, ready an hour later."""
    bench = Bench().open_shop()
    for n in range(4):
        bench.pieces(f"p{n}")
        bench.climate()
        bench.coat(f"p{n}")
        tried(bench.later(3), n, ready=False)
        tried(bench.later(1), n, ready=True)
    return bench


def tried(bench: Bench, n: int, *, ready: bool) -> DrynessChecked:
    return bench.record(DrynessChecked, pieces=(f"p{n}",), stage="sandable", ready=ready)


def factors(bench: Bench) -> Overnight:
    with bench.store.reading() as reader:
        return Overnight(ask(reader, bench.now).view(reader))


def test_the_first_day_stands_by_the_sheet_and_the_next_by_the_shop() -> None:
    bench = slow_shop()
    assert factors(bench.at("1 23:59"))["clear-w"] == spread()
    bench.at("2 00:00")
    with bench.store.reading() as reader:
        view = ask(reader, bench.now).view(reader)
        own, found = Overnight(view)["clear-w"], learned(view, "clear-w", view.at_us)
        assert Spread(own.p10, own.p50, own.p90) == found.posterior
    assert factors(bench)["clear-w"].p50 > 1.1


def test_what_is_checked_today_counts_from_tomorrow() -> None:
    bench = slow_shop()
    morning = factors(bench.at("2 08:00"))["clear-w"]
    bench.pieces("p9")
    bench.climate()
    bench.coat("p9")
    tried(bench.later(6), 9, ready=False)
    assert factors(bench)["clear-w"] == morning
    assert factors(bench.at("3 08:00"))["clear-w"].p50 > morning.p50


def test_a_films_clock_says_what_it_learned_and_moves_by_it() -> None:
    bench = slow_shop()
    bench.at("2 08:00").climate()
    bench.pieces("new")
    bench.coat("new")
    with bench.store.reading() as reader:
        asked = ask(reader, bench.now)
        by_sheet = piece_answer(reader, "new", asked)
        by_shop = piece_answer(reader, "new", asked, (), Overnight(asked.view(reader)))
    assert by_sheet is not None
    assert by_shop is not None
    face, sheet_face = by_shop.clock.faces[0], by_sheet.clock.faces[0]
    assert face.learned is not None
    assert sheet_face.learned is None
    likely, by_the_sheet = face.at("sandable").likely, sheet_face.at("sandable").likely
    assert likely is not None
    assert by_the_sheet is not None
    hours = (likely - bench.now).total_seconds() / 3600
    sheet_hours = (by_the_sheet - bench.now).total_seconds() / 3600
    assert hours == pytest.approx(sheet_hours * face.learned.p50, rel=1e-6)
    own = face.learned
    says = in_words("clear-w", Taught(own.p10, own.p50, own.p90, checks=8, coats=4))
    assert says is not None
    assert says in face.assumed
    assert says in by_shop.ship_estimate.assumed
    assert not any("check(s)" in words for words in sheet_face.assumed)


def test_a_film_of_no_known_product_has_no_factor() -> None:
    assert factors(Bench().open_shop()).get("", None) is None


def test_midnight_is_the_shops_own() -> None:
    """1 March 2026, 20:00 in New York is 2 March, 01:00 UTC."""
    found = midnight_us("America/New_York", micros(on_day("1 01:00")))
    assert found == micros(on_day("0 05:00")) - 1


def test_only_what_speaks_of_earlier_days_disturbs_them() -> None:
    bench = slow_shop().at("2 08:00")
    midnight = factors(bench).midnight_us
    with bench.store.reading() as reader:
        head = reader.head().size
    bench.climate()
    with bench.store.reading() as reader:
        assert not disturbs(reader.rows(head, 10), midnight)
    for told in (
        lambda: bench.climate(at="1 12:00"),
        lambda: bench.clear("clear-w", recoat_h=2.0),
        lambda: bench.void(bench.climate()),
    ):
        with bench.store.reading() as reader:
            head = reader.head().size
        told()
        with bench.store.reading() as reader:
            assert disturbs(reader.rows(head, 10), midnight)
