"""One shop's keys in its database, beside the ledger. Keys end, but are never deleted."""

from typing import Any

from sqlalchemy import bindparam, insert, select, update

from coatledger_adapters.keys import ApiKey
from coatledger_adapters.queries import word
from coatledger_adapters.sql_store import SqlStore
from coatledger_adapters.tables import API_KEY

_COLUMNS = (
    API_KEY.c.key_id, API_KEY.c.label, API_KEY.c.scopes, API_KEY.c.token_hash,
    API_KEY.c.created_at, API_KEY.c.expires_at, API_KEY.c.revoked_at, API_KEY.c.used_at,
)  # fmt: skip


class SqlKeys:
    """A key book in the database of a store."""

    def __init__(self, store: SqlStore) -> None:
        self._store = store
        here = API_KEY.c.shop == word("shop")
        this = here & (API_KEY.c.key_id == word("key_id"))
        oldest = select(*_COLUMNS).where(here).order_by(API_KEY.c.created_at, API_KEY.c.key_id)
        still = this & API_KEY.c.revoked_at.is_(None)
        self._one = store.words(select(*_COLUMNS).where(this))
        self._all = store.words(oldest)
        self._insert = store.words(insert(API_KEY))
        self._revoke = store.words(update(API_KEY).values(revoked_at=bindparam("at")).where(still))
        self._used = store.words(update(API_KEY).values(used_at=bindparam("at")).where(this))

    def find(self, key_id: str) -> ApiKey | None:
        """Return the key of this id, or None."""
        with self._store.beside() as ledger:
            ledger.cursor.execute(self._one, (self._store.shop, key_id))
            row = ledger.cursor.fetchone()
        return None if row is None else _key(row)

    def all(self) -> tuple[ApiKey, ...]:
        """Return every key, oldest first."""
        with self._store.beside() as ledger:
            ledger.cursor.execute(self._all, (self._store.shop,))
            return tuple(_key(row) for row in ledger.cursor.fetchall())

    def add(self, key: ApiKey) -> None:
        """Keep a new key."""
        scopes = " ".join(sorted(key.scopes))
        row = (self._store.shop, key.key_id, key.label, scopes, *key[3:])
        with self._store.beside(writing=True) as ledger:
            ledger.cursor.execute(self._insert, row)

    def revoke(self, key_id: str, at_us: int) -> None:
        """End a key now; doing it again changes nothing."""
        with self._store.beside(writing=True) as ledger:
            ledger.cursor.execute(self._revoke, (at_us, self._store.shop, key_id))

    def used(self, key_id: str, at_us: int) -> None:
        """Note when a key was last used."""
        with self._store.beside(writing=True) as ledger:
            ledger.cursor.execute(self._used, (at_us, self._store.shop, key_id))


def _key(row: Any) -> ApiKey:
    key_id, label, scopes, token_hash, *times = row
    return ApiKey(key_id, label, frozenset(scopes.split()), bytes(token_hash), *times)
