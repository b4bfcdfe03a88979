"""What is kept of the learning gives every answer the same as learning again would."""

from bench import Bench
from coatledger.clocks.overnight import Overnight
from coatledger.computations.drying import Spread
from coatledger.events.coating import DrynessChecked
from coatledger.subjects.asked import ask
from coatledger_api.learning import Learning


def asked_both(learning: Learning, bench: Bench) -> tuple[Spread, Spread]:
    with bench.store.reading() as reader:
        place = ask(reader, bench.now)
        kept = learning.factors(reader, place)["clear-w"]
        return kept, Overnight(place.view(reader))["clear-w"]


def tried(bench: Bench, piece: str, ready: bool, at: str | None = None) -> None:
    bench.record(DrynessChecked, at=at, pieces=(piece,), stage="sandable", ready=ready)


def test_kept_or_learned_again_the_factor_is_the_same_as_facts_come_in() -> None:
    bench, learning = Bench().open_shop(), Learning()
    bench.climate()
    bench.pieces("a", "b")
    bench.coat("a", "b")
    tried(bench.later(3.5), "a", ready=False)
    days = ("1 16:00", "2 08:00", "2 09:00")
    seen = [asked_both(learning, bench.at(day)) for day in days]
    tried(bench, "b", ready=True)  # today: counts from tomorrow
    seen.append(asked_both(learning, bench))
    tried(bench, "b", ready=False, at="1 13:00")  # yesterday, told late: counts at once
    seen.append(asked_both(learning, bench))
    seen.append(asked_both(learning, bench.at("3 08:00")))
    assert all(kept == again for kept, again in seen)
    assert len({kept.p50 for kept, _ in seen}) == 4


def test_the_same_midnight_is_learned_once() -> None:
    bench, learning = Bench().open_shop(), Learning()
    bench.at("2 08:00")
    with bench.store.reading() as reader:
        place = ask(reader, bench.now)
        first = learning.factors(reader, place)
        assert first["clear-w"] is learning.factors(reader, place)["clear-w"]
        past = ask(reader, bench.now, as_of=bench.now)
        assert learning.factors(reader, past)["clear-w"] is not first["clear-w"]
