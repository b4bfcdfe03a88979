"""People's names under keys of their own, and the erasing of names and of free words for good.

No event holds a name or free words, so erasing leaves every proof as it was. A name is kept in
ciphertext; destroying its key erases it in every copy of the database at once.
"""

import base64
import json
import os
import secrets
from collections.abc import Mapping, Sequence
from mmap import ACCESS_READ, mmap
from pathlib import Path
from typing import cast
from uuid import UUID

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from sqlalchemy import bindparam, delete, insert, select, update

from coatledger_adapters.erased import Erased, note_erasure
from coatledger_adapters.queries import word
from coatledger_adapters.sql_store import SqlStore
from coatledger_adapters.tables import NOTE, PERSON_NAME

KEYS_FILE = "people.keys"
NONCE_BYTES = 12
PIECE_BYTES = 16
PIECES = 8
NAME_MAX = 200


class NotErasedError(Exception):
    """The words are still somewhere; the message says where and what to do."""


class PersonNames:
    """Who stands behind the opaque words in events. The keys lie in a file, the names do not."""

    def __init__(self, store: SqlStore, folder: Path) -> None:
        self._store = store
        self._folder = folder
        here = PERSON_NAME.c.shop == word("shop")
        this = here & (PERSON_NAME.c.person == word("person"))
        self._all = store.words(select(PERSON_NAME.c.person, PERSON_NAME.c.name).where(here))
        self._insert = store.words(insert(PERSON_NAME))
        self._delete = store.words(delete(PERSON_NAME).where(this))

    def set(self, person: str, name: str) -> None:
        """Keep a person's name; a later one takes its place."""
        assert 0 < len(name) <= NAME_MAX
        keys = dict(self._keys())
        key = keys.setdefault(person, secrets.token_bytes(32))
        self._write_keys(keys)
        nonce = secrets.token_bytes(NONCE_BYTES)
        sealed = nonce + AESGCM(key).encrypt(nonce, name.encode(), self._about(person))
        with self._store.beside(writing=True) as ledger:
            ledger.cursor.execute(self._delete, (self._store.shop, person))
            ledger.cursor.execute(self._insert, (self._store.shop, person, sealed))

    def all(self) -> Mapping[str, str]:
        """Return the names that are known, by the word that stands for each."""
        keys = self._keys()
        with self._store.beside() as ledger:
            ledger.cursor.execute(self._all, (self._store.shop,))
            rows = [(person, bytes(sealed)) for person, sealed in ledger.cursor.fetchall()]
        return {p: self._open(keys[p], p, sealed) for p, sealed in sorted(rows) if p in keys}

    def erase(self, person: str) -> bool:
        """Destroy a person's key and name; False when there was none."""
        note_erasure(self._folder, Erased("person", person))
        keys = dict(self._keys())
        had = keys.pop(person, None) is not None
        self._write_keys(keys)
        with self._store.beside(writing=True) as ledger:
            ledger.cursor.execute(self._delete, (self._store.shop, person))
        return had

    def _open(self, key: bytes, person: str, sealed: bytes) -> str:
        nonce, rest = sealed[:NONCE_BYTES], sealed[NONCE_BYTES:]
        try:
            return AESGCM(key).decrypt(nonce, rest, self._about(person)).decode()
        except InvalidTag:
            return f"({person}: the key does not fit)"

    def _about(self, person: str) -> bytes:
        return f"{self._store.shop}/{person}".encode()

    def _keys(self) -> Mapping[str, bytes]:
        try:
            kept = json.loads((self._folder / KEYS_FILE).read_text(encoding="ascii"))
        except FileNotFoundError:
            return {}
        return {person: base64.b64decode(key) for person, key in kept.items()}

    def _write_keys(self, keys: Mapping[str, bytes]) -> None:
        """Put a new file in the old one's place: a crash leaves one or the other whole."""
        path = self._folder / KEYS_FILE
        part = path.with_suffix(".part")
        text = json.dumps({p: base64.b64encode(key).decode() for p, key in sorted(keys.items())})
        file = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(file, "w", encoding="ascii") as out:
            out.write(text + "\n")
            out.flush()
            os.fsync(out.fileno())
        part.replace(path)


def erase_note(store: SqlStore, folder: Path, event: UUID) -> bool:
    """Delete the free words told with an event and see that they are gone; False without any.

    On SQLite the file and its log are searched for them. On PostgreSQL the table is written anew;
    the server's own logs and archives are for whoever keeps it.
    """
    this = (NOTE.c.shop == word("shop")) & (NOTE.c.event_id == bindparam("event_id"))
    read = store.words(select(NOTE.c.words).where(this))
    blank = store.words(
        update(NOTE).values(salt=bindparam("salt"), words=bindparam("words")).where(this)
    )
    note_erasure(folder, Erased("note", str(event)))
    with store.beside(writing=True) as ledger:
        ledger.cursor.execute(read, (store.shop, event.bytes))
        found = cast(tuple[object] | None, ledger.cursor.fetchone())
        if found is None or found[0] is None:
            return False
        words = bytes(cast(bytes, found[0]))
        if store.is_sqlite:
            ledger.cursor.execute("PRAGMA secure_delete = ON")
        ledger.cursor.execute(blank, (b"", None, store.shop, event.bytes))
    _see_gone(store, pieces_of(words))
    return True


def _see_gone(store: SqlStore, pieces: Sequence[bytes]) -> None:
    """Let nothing of the words be left in the database's own files."""
    with store.alone() as cursor:
        if not store.is_sqlite:
            cursor.execute("VACUUM FULL note")
            return
        cursor.execute("PRAGMA database_list")
        file = Path(next(row[2] for row in cursor.fetchall() if row[1] == "main"))
        cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        cursor.fetchall()
        if _holds(file, pieces):  # moved about earlier, a page's unused space may hold them still
            cursor.execute("VACUUM")
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            cursor.fetchall()
        cursor.execute("PRAGMA secure_delete = OFF")
        if _holds(file, pieces):
            raise NotErasedError(
                "somebody still reads an older state of the ledger, so its log could not be "
                "emptied: end long reads or restart the service, then erase again"
            )


def _holds(file: Path, pieces: Sequence[bytes]) -> bool:
    for path in (file, file.with_name(file.name + "-wal")):
        if path.exists() and path.stat().st_size:
            with path.open("rb") as read, mmap(read.fileno(), 0, access=ACCESS_READ) as data:
                if any(data.find(piece) >= 0 for piece in pieces):
                    return True
    return False


def pieces_of(words: bytes) -> tuple[bytes, ...]:
    """Cut words into a few pieces to search for: what is left behind may be torn anywhere."""
    if len(words) <= PIECE_BYTES:
        return (words,)
    step = max(1, (len(words) - PIECE_BYTES) // (PIECES - 1))
    starts = dict.fromkeys([*range(0, len(words) - PIECE_BYTES, step), len(words) - PIECE_BYTES])
    return tuple(words[start : start + PIECE_BYTES] for start in starts)
