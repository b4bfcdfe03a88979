"""Codes that pair a device: what is kept of them, and that each is exchanged once."""

from concurrent.futures import ThreadPoolExecutor

import pytest
from coatledger.ledger.store import Store
from coatledger_adapters.keys import ApiKey, KeyBook, MemoryKeys, Pairing
from coatledger_adapters.pairing import (
    CODE_LETTERS,
    CODE_LIFE,
    hash_of_code,
    key_of_pairing,
    make_pairing,
)
from coatledger_adapters.sql_keys import SqlKeys
from coatledger_adapters.sql_store import SqlStore, open_store
from postgres_server import Server

SECRET = b"salt of this service, kept apart"
BENCH = frozenset(("record", "read"))
LIFE_US = int(CODE_LIFE.total_seconds() * 1e6)


@pytest.fixture
def book(store: Store) -> KeyBook:
    """Each kind of key book."""
    return SqlKeys(store) if isinstance(store, SqlStore) else MemoryKeys()


def key(pairing: Pairing) -> ApiKey:
    return key_of_pairing(SECRET, pairing, 7)[1]


def test_a_code_is_read_however_it_was_typed() -> None:
    code, kept = make_pairing(SECRET, "phone", BENCH, 1, None)
    assert len(code) == 14
    assert set(code) <= {*CODE_LETTERS, "-"}
    slips = str.maketrans("01", "OI")
    for typed in (code, code.lower(), code.replace("-", ""), f" {code.replace('-', ' ')} ",
                  code.translate(slips)):  # fmt: skip
        assert hash_of_code(SECRET, typed) == kept.code_hash
    assert hash_of_code(b"another secret", code) != kept.code_hash
    for wrong in ("", code[:-1], code + "0", "U" + code[1:], "é" + code[1:]):
        assert hash_of_code(SECRET, wrong) is None


def test_what_is_kept_does_not_hold_the_code() -> None:
    code, kept = make_pairing(SECRET, "phone", BENCH, 1, None)
    held = repr(kept).encode() + kept.code_hash
    assert code.encode() not in held
    assert code.replace("-", "").encode() not in held
    assert kept.pairing_id not in code


def test_a_code_becomes_a_key_once(book: KeyBook) -> None:
    _, kept = make_pairing(SECRET, "phone – 電話", BENCH, 5, 30)
    book.offer(kept)
    assert book.offered() == (kept,)
    assert book.claim(kept.code_hash, 7, key) == "claimed"
    (made,) = book.all()
    assert (made.label, made.scopes) == ("phone – 電話", BENCH)
    assert made.expires_us == 7 + 30 * 86_400_000_000
    assert book.offered() == (kept.claimed(7, made.key_id),)
    assert book.claim(kept.code_hash, 8, key) == "ended"
    assert book.all() == (made,)


def test_a_code_ends_with_its_time_and_another_was_never_made(book: KeyBook) -> None:
    _, kept = make_pairing(SECRET, "phone", BENCH, 5, None)
    book.offer(kept)
    assert book.claim(kept.code_hash, 5 + LIFE_US, key) == "ended"
    assert book.claim(bytes(32), 6, key) == "unknown"
    assert book.all() == ()
    assert book.claim(kept.code_hash, 4 + LIFE_US, key) == "claimed"


def test_of_many_that_read_the_same_code_at_once_one_gets_a_key(book: KeyBook) -> None:
    _, kept = make_pairing(SECRET, "phone", BENCH, 5, None)
    book.offer(kept)
    with ThreadPoolExecutor(8) as pool:
        told = list(pool.map(lambda _: book.claim(kept.code_hash, 7, key), range(16)))
    assert sorted(told) == ["claimed"] + ["ended"] * 15
    assert len(book.all()) == 1


def test_the_newest_codes_are_listed_first_and_not_without_end(book: KeyBook) -> None:
    made = [make_pairing(SECRET, f"phone {n}", BENCH, n, None)[1] for n in range(120)]
    for one in made:
        book.offer(one)
    assert book.offered() == tuple(made[:19:-1])


@pytest.mark.postgres
def test_a_code_of_another_shop_is_not_known(server: Server, migrated: str) -> None:
    address = server.new_database(migrated)
    _, kept = make_pairing(SECRET, "phone", BENCH, 5, None)
    ours, theirs = open_store(address, "dune-end"), open_store(address, "sluice-side")
    SqlKeys(ours).offer(kept)
    assert SqlKeys(theirs).claim(kept.code_hash, 7, key) == "unknown"
    assert SqlKeys(theirs).offered() == ()
    theirs.close()
    ours.close()
