"""Tampering with a proof pack: every byte, every drop, swap and insertion is found and placed."""

import base64
import json
from collections.abc import Callable

import msgspec
import pytest
from bench import Bench
from coatledger.answers.proof import told_faults
from coatledger.computations.signed_note import COSIGNATURE, Key, note_of, signature
from coatledger.events.coating import Turned
from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.pack import Pack, PackLeaf, leaf_of, pack_bytes, pack_of, sealed_text
from coatledger.ledger.pack_check import Verdict, check_pack
from coatledger_adapters.signing import Signer, verify
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from msgspec.structs import replace
from proof_shop import SIGNER, lived, pack_for

STORE = MemoryStore("dune-end", "first")
lived(STORE)
PACK = pack_for(STORE)
CHAIN = [leaf.position for leaf in PACK.leaves if "piece" in leaf.here_for]


def checked(data: bytes, key: Key = SIGNER.key) -> Verdict | None:
    """Check a file as the command does; None when it is no pack at all."""
    try:
        pack = pack_of(data)
    except msgspec.DecodeError:
        return None
    verdict = check_pack(data, pack, key, verify)
    return verdict._replace(faults=(*verdict.faults, *told_faults(pack)))


def resealed(pack: Pack) -> bytes:
    """Write a changed pack as the shop itself could: with a seal that holds."""
    seal = base64.b64encode(SIGNER.seal(sealed_text(pack))).decode()
    return pack_bytes(replace(pack, seal=seal))


def with_leaves(change: Callable[[list[PackLeaf]], list[PackLeaf]]) -> Verdict:
    verdict = checked(resealed(replace(PACK, leaves=tuple(change(list(PACK.leaves))))))
    assert verdict is not None
    return verdict


def index_of(position: int) -> int:
    return [leaf.position for leaf in PACK.leaves].index(position)


def small_pack() -> bytes:
    bench = Bench(store=MemoryStore("dune-end", "first"))
    bench.pieces("T-1", "T-2")
    bench.record(Turned, pieces=("T-1",))
    bench.pieces("T-3")
    return pack_bytes(pack_for(bench.store))


def test_a_pack_as_it_was_written_holds() -> None:
    verdict = checked(pack_bytes(PACK))
    assert verdict is not None
    assert verdict.faults == ()
    assert "Nothing about piece T-1 was left out" in " ".join(verdict.proven)
    assert f"its {len(CHAIN)} events" in " ".join(verdict.proven)
    assert "does not watch the bench" in " ".join(verdict.stated)


def test_every_byte_of_a_pack_is_held_fast() -> None:
    data = small_pack()
    for at in range(len(data)):
        for bit in (0, 5):
            flipped = data[:at] + bytes([data[at] ^ (1 << bit)]) + data[at + 1 :]
            verdict = checked(flipped)
            assert verdict is None or not verdict.holds, (at, bit, flipped[at - 20 : at + 20])


@pytest.mark.parametrize("part", ["body", "by", "offset", "previous", "recorded_at", "shop"])
def test_a_change_inside_an_event_is_found_where_it_is_even_under_a_new_seal(part: str) -> None:
    at = index_of(CHAIN[3])
    leaf = PACK.leaves[at]
    inside = json.loads(bytes(leaf.leaf))
    inside[part] = {
        "body": {**inside["body"], "occurred_at": "2026-03-02T06:00:00.000000Z"},
        "by": "else", "offset": 7, "previous": {**inside["previous"], "piece:T-1": CHAIN[1]},
        "recorded_at": "2026-03-02T06:00:00.000000Z", "shop": "else",
    }[part]  # fmt: skip
    text = json.dumps(inside, sort_keys=True, separators=(",", ":")).encode()
    assert leaf_of(text).position == CHAIN[3]

    def change(leaves: list[PackLeaf]) -> list[PackLeaf]:
        leaves[at] = replace(leaf, leaf=msgspec.Raw(text))
        return leaves

    assert with_leaves(change).first_bad == CHAIN[3]


@pytest.mark.parametrize("number", range(1, len(CHAIN)))
def test_a_dropped_event_of_the_piece_is_missed_by_the_next_one(number: int) -> None:
    verdict = with_leaves(lambda leaves: [x for x in leaves if x.position != CHAIN[number - 1]])
    assert verdict.first_bad == CHAIN[number]
    assert f"names event {CHAIN[number - 1]} as the one before it" in str(verdict.faults[0])


def test_the_last_event_of_the_piece_can_be_kept_back_and_the_words_say_so() -> None:
    def drop(leaves: list[PackLeaf]) -> list[PackLeaf]:
        return [leaf for leaf in leaves if leaf.position != CHAIN[-1]]

    pack = replace(PACK, leaves=tuple(drop(list(PACK.leaves))))
    verdict = check_pack(resealed(pack), pack_of(resealed(pack)), SIGNER.key, verify)
    assert verdict.holds
    assert verdict.stated[0].startswith("That nothing about the piece is in the ledger between")


@pytest.mark.parametrize("number", range(len(CHAIN) - 1))
def test_two_events_swapped_are_found(number: int) -> None:
    first, second = index_of(CHAIN[number]), index_of(CHAIN[number + 1])

    def swap(leaves: list[PackLeaf]) -> list[PackLeaf]:
        leaves[first], leaves[second] = leaves[second], leaves[first]
        return leaves

    assert with_leaves(swap).first_bad is not None

    def swap_positions(leaves: list[PackLeaf]) -> list[PackLeaf]:
        one, two = leaves[first], leaves[second]
        leaves[first] = replace(one, leaf=two.leaf, proof=two.proof)
        leaves[second] = replace(two, leaf=one.leaf, proof=one.proof)
        return leaves

    assert with_leaves(swap_positions).first_bad == CHAIN[number]


def test_an_event_put_in_is_found_where_it_stands() -> None:
    leaf = PACK.leaves[index_of(CHAIN[5])]
    inside = json.loads(bytes(leaf.leaf))
    inside["body"]["id"] = "019cade2-11c0-7000-8000-0000000000ff"
    made_up = json.dumps(inside, sort_keys=True, separators=(",", ":")).encode()

    def insert(leaves: list[PackLeaf]) -> list[PackLeaf]:
        at = index_of(CHAIN[5])
        leaves.insert(at + 1, replace(leaf, leaf=msgspec.Raw(made_up)))
        return leaves

    verdict = with_leaves(insert)
    assert verdict.first_bad == CHAIN[5]
    assert any("the order is wrong" in str(fault) for fault in verdict.faults)


def test_the_same_event_twice_is_found() -> None:
    assert with_leaves(lambda leaves: [leaves[0], *leaves]).first_bad == PACK.leaves[0].position


def test_an_event_of_another_ledger_is_found() -> None:
    other = MemoryStore("dune-end", "first")
    bench = lived(other)
    bench.record(Turned, pieces=("T-1",))
    strange = pack_for(other)
    assert with_leaves(lambda leaves: [*leaves, strange.leaves[-1]]).first_bad is not None


def test_a_pack_under_the_head_of_another_history_does_not_hold() -> None:
    other = MemoryStore("dune-end", "second")
    Bench(store=other).pieces("T-1")
    verdict = checked(resealed(replace(PACK, checkpoint=pack_for(other).checkpoint)))
    assert verdict is not None
    assert verdict.first_bad == PACK.leaves[0].position


def test_a_pack_is_not_somebody_elses() -> None:
    stranger = Signer("dune-end", bytes(32))
    verdict = checked(pack_bytes(PACK), stranger.key)
    assert verdict is not None
    assert {f.says for f in verdict.faults} == {
        "the seal is not the shop's over these bytes",
        "the signed head does not hold: the shop's key did not sign it",
    }
    named = Signer("other-shop", bytes(range(32)))
    verdict = checked(pack_bytes(PACK), named.key)
    assert verdict is not None
    assert "the pack is of dune-end, the key of other-shop" in {f.says for f in verdict.faults}


def test_what_is_told_has_to_follow_from_the_events() -> None:
    told = json.loads(bytes(PACK.told))
    told["coats"][0]["wet_film_um"] = 75
    text = json.dumps(told, sort_keys=True, separators=(",", ":")).encode()
    verdict = checked(resealed(replace(PACK, told=msgspec.Raw(text))))
    assert verdict is not None
    assert [f.says for f in verdict.faults] == ["what the pack tells is not what its events tell"]


def test_a_file_laid_out_anew_is_named_as_such() -> None:
    data = pack_bytes(PACK)
    verdict = checked(data.replace(b'"format":', b'"format": ', 1))
    assert verdict is not None
    assert [str(f) for f in verdict.faults] == [
        "the file was written anew since: it is not in its own form"
    ]


def test_a_cosigners_word_counts_when_their_key_is_given() -> None:
    private = Ed25519PrivateKey.from_private_bytes(bytes([7]) * 32)
    witness = Key("witness.example/w1", COSIGNATURE, private.public_key().public_bytes_raw())
    note = note_of(PACK.checkpoint)
    at_s = 1_772_900_000
    message = f"cosignature/v1\ntime {at_s}\n{note.text}".encode()
    line = signature(witness, at_s.to_bytes(8, "big") + private.sign(message))
    pack = replace(PACK, checkpoint=note.whole + line.line + "\n")
    data = resealed(pack)
    verdict = check_pack(data, pack_of(data), SIGNER.key, verify, [witness])
    assert verdict.holds
    assert "witness.example/w1 saw the same signed head on 2026-03-07" in verdict.proven[-1]
    unknown = check_pack(data, pack_of(data), SIGNER.key, verify)
    assert unknown.stated[-1].startswith("That witness.example/w1 vouched")


def test_a_pack_without_an_event_of_the_piece_does_not_hold() -> None:
    assert "no event in it names piece T-1" in {f.says for f in with_leaves(lambda _: []).faults}
