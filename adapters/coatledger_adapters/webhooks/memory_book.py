"""The same book without a database of its own: for tests and trials on a ledger in memory."""

import sqlite3
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from threading import RLock
from typing import Any, cast

from coatledger.ledger.store import Writer
from sqlalchemy import insert, select
from sqlalchemy.dialects import sqlite
from sqlalchemy.engine.interfaces import DBAPICursor
from sqlalchemy.schema import CreateTable
from sqlalchemy.sql import ClauseElement

from coatledger_adapters.queries import word
from coatledger_adapters.tables import DELIVERY, HEAD, NOTICE, WEBHOOK
from coatledger_adapters.webhooks.sql_book import SqlWebhooks
from coatledger_adapters.webhooks.words import words_for

_DIALECT = sqlite.dialect(paramstyle="qmark")
_TABLES = (HEAD, WEBHOOK, NOTICE, DELIVERY)


def _words(statement: ClauseElement) -> str:
    return str(statement.compile(dialect=_DIALECT))


_BOOK = words_for(_words, is_sqlite=True)
_MADE = tuple(_words(CreateTable(table)) for table in _TABLES)
_MESSAGE_ONCE = "CREATE UNIQUE INDEX notice_message ON notice (shop, message_id)"
_WANTED = _words(select(HEAD.c.wanted).where(HEAD.c.shop == word("shop")))


class MemoryWebhooks(SqlWebhooks):
    """The book in a database in memory, apart from the ledger: no write is shared with it."""

    def __init__(self, shop: str) -> None:
        self._shop = shop
        self._words = _BOOK
        self._lock = RLock()
        self._file = sqlite3.connect(":memory:", check_same_thread=False, isolation_level=None)
        for statement in (*_MADE, _MESSAGE_ONCE):
            self._file.execute(statement)
        self._file.execute(_words(insert(HEAD)), (shop, 0, 0, b"", "", "", ""))

    def wanted(self, ledger: Writer) -> frozenset[str]:
        """Return the kinds of notice that anybody wants."""
        with self._transaction() as cursor:
            cursor.execute(_WANTED, (self._shop,))
            ((wanted,),) = cursor.fetchall()
        return frozenset(str(wanted).split())

    def _cursor_of(self, ledger: Writer) -> AbstractContextManager[DBAPICursor]:
        return self._transaction()

    def _reading(self) -> AbstractContextManager[DBAPICursor]:
        return self._transaction()

    def _writing(self) -> AbstractContextManager[DBAPICursor]:
        return self._transaction()

    def _leasing(self) -> AbstractContextManager[DBAPICursor]:
        return self._transaction()

    @contextmanager
    def _transaction(self) -> Iterator[DBAPICursor]:
        with self._lock, self._file:
            cursor: Any = self._file.cursor()
            yield cast(DBAPICursor, cursor)
