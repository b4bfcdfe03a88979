"""The last events: as known at a place, and no more than so many."""

from bench import Bench
from coatledger.events.preparing import Sanded
from coatledger.open_shop.recent import EVENTS_BACK, recent
from coatledger.subjects.asked import ask


def test_only_what_was_known_and_had_happened_counts() -> None:
    bench = Bench("1 07:00").open_shop()
    bench.pieces("a")
    before = bench.now
    bench.later(2.0).record(Sanded, pieces=("a",), stage="bare", grit=150)
    with bench.store.reading() as reader:
        all_of_it = recent(reader, ask(reader, bench.now))
        then = recent(reader, ask(reader, bench.now, known_at=before))
        earlier = recent(reader, ask(reader, bench.now, before))
    assert [row.type for row in all_of_it[-2:]] == ["piece_started", "sanded"]
    assert then == earlier == all_of_it[:-1]
    assert [row.position for row in all_of_it] == list(range(1, len(all_of_it) + 1))


def test_of_a_long_history_only_the_end_is_read() -> None:
    bench = Bench("1 07:00").open_shop()
    bench.pieces("a")
    for _ in range(EVENTS_BACK // 500):
        bench.take(*(bench.fact(Sanded, pieces=("a",), stage="bare", grit=150) for _ in range(520)))
    with bench.store.reading() as reader:
        rows = recent(reader, ask(reader, bench.now))
        assert len(rows) == EVENTS_BACK
        assert rows[-1].position == reader.head().size
