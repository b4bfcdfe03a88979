"""A whole table, page by page, in the order of its key."""

import pytest
from any_history import any_history
from coatledger_adapters.scan import scan
from coatledger_adapters.sql_store import SqlStore
from coatledger_adapters.tables import CLIMATE, EVENTS, FOLD, SUBJECTS, TALLY


@pytest.mark.parametrize("page", [1, 3, 1000])
def test_every_row_comes_once_and_in_order(sql_store: SqlStore, page: int) -> None:
    any_history(sql_store, 2, acts=20)
    for table in (EVENTS, SUBJECTS, FOLD, TALLY, CLIMATE):
        with sql_store.beside() as ledger:
            pages = list(scan(sql_store, ledger, table, page))
            ledger.cursor.execute(f"SELECT count(*) FROM {table.name}")
            ((count,),) = ledger.cursor.fetchall()
        rows = [row for found in pages for row in found]
        assert len(rows) == count > 0
        assert all(len(found) <= page for found in pages)
        key = [c.name for c in table.primary_key if c.name != "shop"]
        columns = [c.name for c in table.c if c.name != "shop"]
        keys = [tuple(row[columns.index(name)] for name in key) for row in rows]
        assert keys == sorted(set(keys))


def test_an_empty_table_has_no_pages(sql_store: SqlStore) -> None:
    with sql_store.beside() as ledger:
        assert list(scan(sql_store, ledger, FOLD)) == []
