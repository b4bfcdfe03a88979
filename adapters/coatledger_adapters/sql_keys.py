"""One shop's keys in its database, beside the ledger. Keys end, but are never deleted."""

from collections.abc import Callable
from typing import Any

from sqlalchemy import bindparam, insert, select, update

from coatledger_adapters.keys import OFFERED_MAX, ApiKey, Claim, Pairing
from coatledger_adapters.queries import word
from coatledger_adapters.sql_reader import SqlReader
from coatledger_adapters.sql_store import SqlStore
from coatledger_adapters.tables import API_KEY, PAIRING

_COLUMNS = (
    API_KEY.c.key_id, API_KEY.c.label, API_KEY.c.scopes, API_KEY.c.token_hash,
    API_KEY.c.created_at, API_KEY.c.expires_at, API_KEY.c.revoked_at, API_KEY.c.used_at,
    API_KEY.c.kind, API_KEY.c.replaces,
)  # fmt: skip
_PAIRED = (
    PAIRING.c.code_hash, PAIRING.c.name, PAIRING.c.scopes, PAIRING.c.key_days, PAIRING.c.made_at,
    PAIRING.c.ends_at, PAIRING.c.claimed_at, PAIRING.c.key_id,
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

        self._ends = store.words(update(API_KEY).values(expires_at=bindparam("at")).where(this))
        taken = here & (API_KEY.c.replaces == word("replaces"))
        self._replaced = store.words(select(API_KEY.c.key_id).where(taken))
        ours = PAIRING.c.shop == word("shop")
        code = ours & (PAIRING.c.code_hash == bindparam("code_hash"))
        newest = (
            select(*_PAIRED).where(ours).order_by(PAIRING.c.made_at.desc(), PAIRING.c.code_hash)
        )
        claimed = update(PAIRING).values(claimed_at=bindparam("at"), key_id=bindparam("key"))
        self._pairing = store.words(select(*_PAIRED).where(code))
        self._offered = store.words(newest)
        self._offer = store.words(insert(PAIRING))
        self._claim = store.words(claimed.where(code))

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
        with self._store.beside(writing=True) as ledger:
            self._add(ledger, key)

    def revoke(self, key_id: str, at_us: int) -> None:
        """End a key now; doing it again changes nothing."""
        with self._store.beside(writing=True) as ledger:
            ledger.cursor.execute(self._revoke, (at_us, self._store.shop, key_id))

    def used(self, key_id: str, at_us: int) -> None:
        """Note when a key was last used."""
        with self._store.beside(writing=True) as ledger:
            ledger.cursor.execute(self._used, (at_us, self._store.shop, key_id))

    def rotate(self, key_id: str, ends_us: int, new: ApiKey) -> bool:
        """Keep the key that takes another's place, and let that one end: both, or neither when
        another took its place already."""
        with self._store.beside(writing=True) as ledger:
            ledger.cursor.execute(self._replaced, (self._store.shop, key_id))
            if ledger.cursor.fetchone() is not None:
                return False
            ledger.cursor.execute(self._ends, (ends_us, self._store.shop, key_id))
            self._add(ledger, new)
        return True

    def offer(self, pairing: Pairing) -> None:
        """Keep a new code."""
        scopes = " ".join(sorted(pairing.scopes))
        row = (self._store.shop, *pairing[:2], scopes, *pairing[3:])
        with self._store.beside(writing=True) as ledger:
            ledger.cursor.execute(self._offer, row)

    def offered(self) -> tuple[Pairing, ...]:
        """Return the codes made, newest first, at most `OFFERED_MAX`."""
        with self._store.beside() as ledger:
            ledger.cursor.execute(self._offered, (self._store.shop,))
            return tuple(_paired(row) for row in ledger.cursor.fetchmany(OFFERED_MAX))

    def claim(self, code_hash: bytes, now_us: int, key: Callable[[Pairing], ApiKey]) -> Claim:
        """Exchange a code for the key made of it, once; refused are unknown and ended codes."""
        # Looked at first without a lock: who only guesses does not hold up the ledger.
        with self._store.beside() as ledger:
            found = self._found(ledger, code_hash)
        if found is None or not found.is_open(now_us):
            return "unknown" if found is None else "ended"
        with self._store.beside(writing=True) as ledger:
            found = self._found(ledger, code_hash)
            if found is None or not found.is_open(now_us):
                return "ended"
            made = key(found)
            ledger.cursor.execute(self._claim, (now_us, made.key_id, self._store.shop, code_hash))
            self._add(ledger, made)
        return "claimed"

    def _add(self, ledger: SqlReader, key: ApiKey) -> None:
        scopes = " ".join(sorted(key.scopes))
        row = (self._store.shop, key.key_id, key.label, scopes, *key[3:])
        ledger.cursor.execute(self._insert, row)

    def _found(self, ledger: SqlReader, code_hash: bytes) -> Pairing | None:
        ledger.cursor.execute(self._pairing, (self._store.shop, code_hash))
        row = ledger.cursor.fetchone()
        return None if row is None else _paired(row)


def _paired(row: Any) -> Pairing:
    code_hash, name, scopes, *rest = row
    return Pairing(bytes(code_hash), name, frozenset(scopes.split()), *rest)


def _key(row: Any) -> ApiKey:
    key_id, label, scopes, token_hash, *times = row
    return ApiKey(key_id, label, frozenset(scopes.split()), bytes(token_hash), *times)
