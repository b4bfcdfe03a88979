"""Tokens and the book of keys: what is kept, and who is recognised."""

from pathlib import Path

import pytest
from coatledger.ledger.store import Store
from coatledger_adapters.keys import (
    SCOPES,
    TOKEN_LENGTH,
    KeyBook,
    MemoryKeys,
    is_token_of,
    key_id_of,
    make_key,
    secret_in,
    successor,
)
from coatledger_adapters.sql_keys import SqlKeys
from coatledger_adapters.sql_store import SqlStore, open_store
from postgres_server import Server

SECRET = b"salt of this service, kept apart"


@pytest.fixture
def book(store: Store) -> KeyBook:
    """Each kind of key book."""
    return SqlKeys(store) if isinstance(store, SqlStore) else MemoryKeys()


def test_a_token_is_recognised_by_its_key_only() -> None:
    token, key = make_key(SECRET, "bench phone", ("record", "read"), 1)
    other, _ = make_key(SECRET, "office", SCOPES, 1)
    assert key_id_of(token) == key.key_id
    assert is_token_of(key, SECRET, token)
    assert not is_token_of(key, SECRET, other)
    assert not is_token_of(key, b"another secret".ljust(32), token)


def test_what_is_kept_does_not_hold_the_token() -> None:
    token, key = make_key(SECRET, "bench phone", ("record",), 1)
    kept = repr(key).encode() + key.token_hash
    assert token.encode() not in kept
    assert token[12:].encode() not in kept


def test_a_mistyped_token_is_seen_without_looking_it_up() -> None:
    token, _ = make_key(SECRET, "bench phone", ("record",), 1)
    assert len(token) == TOKEN_LENGTH
    for wrong in ("", "clk_", token[:-1], token + "0", "x" + token[1:], token[:12] + token[:38]):
        assert key_id_of(wrong) is None
    for place in range(4, TOKEN_LENGTH):
        letter = "0" if token[place] != "0" else "1"
        assert key_id_of(token[:place] + letter + token[place + 1 :]) is None


def test_a_key_ends_when_it_expires_or_is_revoked() -> None:
    _, key = make_key(SECRET, "helper", ("read",), now_us=10, expires_us=20)
    assert key.is_valid(19)
    assert not key.is_valid(20)
    assert not key._replace(revoked_us=15, expires_us=None).is_valid(16)


def test_a_book_gives_back_what_was_put_in(book: KeyBook) -> None:
    _, first = make_key(SECRET, "bench phone", ("record", "read"), 1)
    _, second = make_key(SECRET, "office – 事務所", SCOPES, 2, expires_us=9)
    book.add(second)
    book.add(first)
    assert book.find(first.key_id) == first
    assert book.find("nobody00") is None
    assert book.all() == (first, second)


def test_a_revoked_key_stays_revoked_as_of_the_first_time(book: KeyBook) -> None:
    _, key = make_key(SECRET, "lost phone", ("record",), 1)
    book.add(key)
    book.revoke(key.key_id, 5)
    book.revoke(key.key_id, 7)
    book.used(key.key_id, 6)
    assert book.find(key.key_id) == key._replace(revoked_us=5, used_us=6)


@pytest.mark.postgres
def test_keys_of_another_shop_are_not_seen(server: Server, migrated: str) -> None:
    address = server.new_database(migrated)
    _, key = make_key(SECRET, "office", SCOPES, 1)
    ours, theirs = open_store(address, "dune-end"), open_store(address, "sluice-side")
    SqlKeys(ours).add(key)
    assert SqlKeys(theirs).find(key.key_id) is None
    assert SqlKeys(theirs).all() == ()
    SqlKeys(theirs).revoke(key.key_id, 3)
    assert SqlKeys(ours).find(key.key_id) == key
    theirs.close()
    ours.close()


def test_the_secret_is_made_once_and_for_its_owner_only(tmp_path: Path) -> None:
    path = tmp_path / "secret"
    made = secret_in(path)
    assert len(made) == 32
    assert secret_in(path) == made
    assert path.stat().st_mode & 0o077 == 0


def test_a_publishable_word_is_told_apart_and_opens_nothing_but_the_shop_front() -> None:
    word, key = make_key(SECRET, "our pages", ("storefront",), 1, kind="publishable")
    assert word.startswith("clw_")
    assert key_id_of(word) == key.key_id
    assert is_token_of(key, SECRET, word)
    with pytest.raises(AssertionError):
        make_key(SECRET, "our pages", ("storefront", "read"), 1, kind="publishable")


def test_for_the_overlap_the_old_key_and_the_new_one_are_both_good() -> None:
    _, old = make_key(SECRET, "till", ("read",), now_us=0)
    token, new, ends_us = successor(SECRET, old, now_us=100, overlap_us=50, expires_us=None)
    assert (ends_us, new.replaces, new.scopes) == (150, old.key_id, old.scopes)
    assert is_token_of(new, SECRET, token)
    _, soon = make_key(SECRET, "till", ("read",), now_us=0, expires_us=120)
    assert successor(SECRET, soon, now_us=100, overlap_us=50, expires_us=None)[2] == 120


def test_a_key_gives_its_place_to_one_other_only(book: KeyBook) -> None:
    _, old = make_key(SECRET, "till", ("read",), 1)
    book.add(old)
    _, new, ends_us = successor(SECRET, old, 10, 5, None)
    assert book.rotate(old.key_id, ends_us, new)
    assert book.all() == (old._replace(expires_us=15), new)
    _, second, ends_us = successor(SECRET, old, 12, 5, None)
    assert not book.rotate(old.key_id, ends_us, second)
    assert book.all() == (old._replace(expires_us=15), new)
