"""Reading a whole table of one shop page by page, along its own key, in bounded memory."""

from collections.abc import Iterator, Sequence
from typing import Any, cast

from sqlalchemy import Table, bindparam, literal_column, select, tuple_

from coatledger_adapters.queries import whole, word
from coatledger_adapters.sql_reader import SqlReader
from coatledger_adapters.sql_store import SqlStore

PAGE = 4_000
Rows = Sequence[tuple[Any, ...]]


def scan(store: SqlStore, ledger: SqlReader, table: Table, page: int = PAGE) -> Iterator[Rows]:
    """Yield a table's rows without their shop, in the order of its key."""
    columns = [column for column in table.c if column.name != "shop"]
    key = [column for column in table.primary_key if column.name != "shop"]
    here = select(*columns).where(table.c.shop == word("shop")).order_by(*key)
    after = tuple_(*key) > tuple_(*(bindparam(c.name, type_=c.type) for c in key))
    limit = {"limit": whole("limit"), "offset": literal_column("0")}
    begin = store.words(here.limit(limit["limit"]).offset(limit["offset"]))
    go_on = store.words(here.where(after).limit(limit["limit"]).offset(limit["offset"]))
    places = [columns.index(column) for column in key]
    words, place = begin, ()
    while True:
        ledger.cursor.execute(words, (store.shop, *place, page))
        rows = cast(Rows, ledger.cursor.fetchall())
        if rows:
            yield rows
        if len(rows) < page:
            return
        words, place = go_on, tuple(rows[-1][i] for i in places)
