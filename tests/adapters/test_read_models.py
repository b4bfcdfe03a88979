"""Live state against a rebuild, on each engine, while facts come in."""

from any_history import any_history
from bench import Bench
from coatledger.events.coating import Turned
from coatledger.ledger.log_check import check_log
from coatledger_adapters.read_models import Differences, compare, index_sum, mend
from coatledger_adapters.shadow import Shadow, shadow
from coatledger_adapters.sql_store import SqlStore


def differences(store: SqlStore, beside: Shadow) -> Differences:
    with store.beside() as ledger:
        return compare(store, ledger, beside)


def is_right(store: SqlStore) -> bool:
    with shadow() as beside:
        return differences(store, beside).none


def bend(store: SqlStore) -> None:
    with store.beside(writing=True) as ledger:
        ledger.cursor.execute("UPDATE fold SET shelf = 'lost', folded_at = 1")
        ledger.cursor.execute("UPDATE tally SET value = value + 2")
        ledger.cursor.execute("DELETE FROM climate")


def test_live_state_is_what_the_log_makes_of_it(sql_store: SqlStore) -> None:
    any_history(sql_store, 11)
    assert is_right(sql_store)


def test_what_differs_is_found_and_mended_while_facts_come_in(sql_store: SqlStore) -> None:
    bench = any_history(sql_store, 8, acts=30)
    reading = bench.climate(19.0)
    bend(sql_store)
    with shadow() as beside:
        found = differences(sql_store, beside)
        assert found.folds
        assert found.tallies
        assert found.climate
        later = Bench(store=sql_store)
        later.now, later.count = bench.now, 5_000
        later.pieces("Z-1")
        later.record(Turned, pieces=("Z-1",))
        later.later(1).climate(23.0)
        later.void(reading)
        later.pieces("Z-2")
        mend(sql_store, found, beside)
    assert is_right(sql_store)


def test_the_index_sums_up_to_what_the_log_says(sql_store: SqlStore) -> None:
    any_history(sql_store, 3, acts=20)
    with sql_store.beside() as ledger:
        assert index_sum(sql_store, ledger) == check_log(ledger, "dune-end").named


def test_a_rebuild_counts_only_its_own_shop(sql_store: SqlStore) -> None:
    any_history(sql_store, 3, acts=10)
    with shadow() as beside:
        found = differences(sql_store, beside)
    with sql_store.reading() as reader:
        assert found.size == reader.head().size
