"""The file of a proof pack: one form, read strictly, its leaves byte for byte."""

import json
from hashlib import sha256

import msgspec
import pytest
from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.pack import (
    commitment,
    hash_of,
    pack_bytes,
    pack_of,
    recorded_in,
    sealed_text,
)
from coatledger.ledger.record import recorded
from msgspec.structs import replace
from proof_shop import lived, pack_for

STORE = MemoryStore("dune-end", "first")
lived(STORE)
PACK = pack_for(STORE)


def test_a_pack_reads_back_to_the_byte() -> None:
    data = pack_bytes(PACK)
    assert pack_bytes(pack_of(data)) == data
    assert json.loads(data)["format"] == "coatledger-proof-1"


def test_the_same_ledger_gives_the_same_pack() -> None:
    assert pack_bytes(pack_for(STORE)) == pack_bytes(PACK)


def test_leaves_stand_in_the_file_as_they_were_hashed() -> None:
    data = pack_bytes(PACK)
    rows = {row.position: row for row in STORE.rows(0, 1000)}
    for leaf in PACK.leaves:
        assert rows[leaf.position].leaf in data
        assert recorded_in(leaf) == recorded(rows[leaf.position])
        assert len(hash_of(leaf)) == 32


def test_a_file_with_a_field_too_many_or_too_few_is_no_pack() -> None:
    whole: dict[str, object] = json.loads(pack_bytes(PACK))
    wrongs: tuple[object, ...] = (
        {**whole, "more": 1},
        {name: value for name, value in whole.items() if name != "stamp"},
        {**whole, "format": "coatledger-proof-2"},
        {**whole, "piece": "no word"},
        [],
    )
    for wrong in wrongs:
        with pytest.raises(msgspec.DecodeError):
            pack_of(json.dumps(wrong).encode())


def test_the_seal_signs_everything_but_itself() -> None:
    text = sealed_text(PACK)
    assert sealed_text(replace(PACK, seal="AAAA")) == text
    assert text.startswith(b"coatledger-proof-1\n")
    for changed in (replace(PACK, piece="T-2"), replace(PACK, leaves=PACK.leaves[1:])):
        assert sealed_text(changed) != text


def test_a_hidden_word_is_found_by_whoever_is_told_the_salt() -> None:
    assert commitment(b"salt", "O-1") == sha256(b"saltO-1").hexdigest()
    assert commitment(b"salt", "O-1") != commitment(b"other", "O-1")
