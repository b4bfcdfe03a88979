"""The tree against published vectors and probes, then every size to 64 with every bit at risk."""

import json
from collections.abc import Sequence
from pathlib import Path

import pytest
from coatledger.computations import merkle
from hypothesis import given
from hypothesis import strategies as st

GOLDEN = Path(__file__).parents[2] / "golden" / "computations"
VECTORS = json.loads((GOLDEN / "merkle.json").read_text(encoding="utf-8"))
VECTOR_LEAVES = [merkle.leaf_hash(bytes.fromhex(leaf)) for leaf in VECTORS["leaves_hex"]]

SIZES = range(1, 65)
LEAVES = [merkle.leaf_hash(f"leaf {index}".encode()) for index in SIZES]
HASHES = merkle.subtree_hashes(LEAVES)


def frontiers(leaves: Sequence[bytes]) -> list[tuple[bytes, ...]]:
    grown: list[tuple[bytes, ...]] = [()]
    for size, leaf in enumerate(leaves):
        grown.append(merkle.append(grown[-1], size, leaf))
    return grown


ROOTS = [merkle.root(frontier) for frontier in frontiers(LEAVES)]


def recursive_root(leaves: Sequence[bytes]) -> bytes:
    """MTH of RFC 6962 section 2.1, word for word: the plainest thing to compare with."""
    if len(leaves) == 1:
        return leaves[0]
    split = 1
    while split * 2 < len(leaves):
        split *= 2
    return merkle.node_hash(recursive_root(leaves[:split]), recursive_root(leaves[split:]))


def unhex(values: Sequence[str]) -> tuple[bytes, ...]:
    return tuple(bytes.fromhex(value) for value in values)


def flipped(value: bytes, bit: int) -> bytes:
    return bytes(byte ^ (1 << bit % 8 if at == bit // 8 else 0) for at, byte in enumerate(value))


def test_leaves_and_nodes_hash_as_published() -> None:
    assert [leaf.hex() for leaf in VECTOR_LEAVES] == VECTORS["leaf_hashes"]
    empty, text, node = VECTORS["hasher_vectors"]
    assert merkle.leaf_hash(b"").hex() == empty["leaf_hash"]
    assert merkle.leaf_hash(b"L123456").hex() == text["leaf_hash"]
    assert merkle.node_hash(b"N123", b"N456").hex() == node["node_hash"]


def test_the_roots_of_growing_trees_are_the_published_ones() -> None:
    grown = frontiers(VECTOR_LEAVES)
    for size, published in VECTORS["roots_by_size"].items():
        assert merkle.root(grown[int(size)]).hex() == published
    assert merkle.EMPTY_ROOT.hex() == VECTORS["empty_root"]


@pytest.mark.parametrize("size", SIZES)
def test_a_frontier_has_the_root_of_the_recursive_definition(size: int) -> None:
    assert ROOTS[size] == recursive_root(LEAVES[:size])


@pytest.mark.parametrize("case", VECTORS["inclusion"], ids=lambda c: str(c["tree_size"]))
def test_inclusion_proofs_are_the_published_ones(case: dict[str, object]) -> None:
    index, size = int(str(case["leaf_index"])), int(str(case["tree_size"]))
    published = unhex(case["proof"])  # type: ignore[arg-type]
    hashes = merkle.subtree_hashes(VECTOR_LEAVES[:size])
    assert merkle.inclusion_proof(index, size, hashes) == published
    root = bytes.fromhex(str(case["root"]))
    assert merkle.verify_inclusion(VECTOR_LEAVES[index], index, size, published, root)


@pytest.mark.parametrize("case", VECTORS["consistency"], ids=lambda c: str(c["size2"]))
def test_consistency_proofs_are_the_published_ones(case: dict[str, object]) -> None:
    old, new = int(str(case["size1"])), int(str(case["size2"]))
    published = unhex(case["proof"])  # type: ignore[arg-type]
    hashes = merkle.subtree_hashes(VECTOR_LEAVES[:new])
    assert merkle.consistency_proof(old, new, hashes) == published
    roots = bytes.fromhex(str(case["root1"])), bytes.fromhex(str(case["root2"]))
    assert merkle.verify_consistency(old, new, published, *roots)


@pytest.mark.parametrize("probe", VECTORS["must_fail"], ids=lambda p: f"{p['kind']} {p['desc']}")
def test_published_forgeries_prove_nothing(probe: dict[str, str]) -> None:
    proof = unhex(probe["proof"])
    if probe["kind"] == "inclusion":
        leaf, root = bytes.fromhex(probe["leaf_hash"]), bytes.fromhex(probe["root"])
        index, size = int(probe["leaf_index"]), int(probe["tree_size"])
        assert not merkle.verify_inclusion(leaf, index, size, proof, root)
    else:
        roots = bytes.fromhex(probe["root1"]), bytes.fromhex(probe["root2"])
        sizes = int(probe["size1"]), int(probe["size2"])
        assert not merkle.verify_consistency(*sizes, proof, *roots)


@pytest.mark.parametrize("size", SIZES)
def test_every_leaf_is_proven_and_no_changed_hash_is(size: int) -> None:
    for index in range(size):
        leaf, root = LEAVES[index], ROOTS[size]
        proof = merkle.inclusion_proof(index, size, HASHES)
        assert merkle.verify_inclusion(leaf, index, size, proof, root)
        bit = (37 * size + index) % 256
        for at, value in enumerate(proof):
            forged = (*proof[:at], flipped(value, bit), *proof[at + 1 :])
            assert not merkle.verify_inclusion(leaf, index, size, forged, root)
            shortened = proof[:at] + proof[at + 1 :]
            assert not merkle.verify_inclusion(leaf, index, size, shortened, root)
        assert not merkle.verify_inclusion(flipped(leaf, bit), index, size, proof, root)
        assert not merkle.verify_inclusion(leaf, index, size, proof, flipped(root, bit))
        assert not merkle.verify_inclusion(leaf, index, size, (*proof, root), root)
        for other in set(range(size)) - {index}:
            assert not merkle.verify_inclusion(leaf, other, size, proof, root)


@pytest.mark.parametrize("new", SIZES)
def test_every_beginning_is_proven_and_no_changed_hash_is(new: int) -> None:
    for old in range(1, new + 1):
        roots = ROOTS[old], ROOTS[new]
        proof = merkle.consistency_proof(old, new, HASHES)
        assert merkle.verify_consistency(old, new, proof, *roots)
        bit = (53 * new + old) % 256
        for at, value in enumerate(proof):
            forged = (*proof[:at], flipped(value, bit), *proof[at + 1 :])
            assert not merkle.verify_consistency(old, new, forged, *roots)
            shortened = proof[:at] + proof[at + 1 :]
            assert not merkle.verify_consistency(old, new, shortened, *roots)
        assert not merkle.verify_consistency(old, new, proof, flipped(roots[0], bit), roots[1])
        assert not merkle.verify_consistency(old, new, proof, roots[0], flipped(roots[1], bit))
        assert not merkle.verify_consistency(old, new, (*proof, roots[1]), *roots)


def test_every_bit_of_one_proof_matters() -> None:
    proof = merkle.inclusion_proof(20, 43, HASHES)
    for at, value in enumerate(proof):
        for bit in range(256):
            forged = (*proof[:at], flipped(value, bit), *proof[at + 1 :])
            assert not merkle.verify_inclusion(LEAVES[20], 20, 43, forged, ROOTS[43])


def test_an_inner_node_is_not_accepted_as_a_leaf() -> None:
    """Second preimage: a node of four leaves shown as a leaf of a smaller tree."""
    inner = HASHES(1, 0)
    assert not merkle.verify_inclusion(inner, 0, 4, (HASHES(1, 1),), ROOTS[4])
    assert merkle.leaf_hash(LEAVES[0] + LEAVES[1]) != inner


def test_positions_and_sizes_that_no_tree_has_prove_nothing() -> None:
    assert not merkle.verify_inclusion(LEAVES[0], -1, 1, (), LEAVES[0])
    assert not merkle.verify_inclusion(LEAVES[0], 1, 1, (), LEAVES[0])
    assert not merkle.verify_inclusion(LEAVES[0], 0, 0, (), LEAVES[0])
    assert not merkle.verify_consistency(0, 4, (), merkle.EMPTY_ROOT, ROOTS[4])
    assert not merkle.verify_consistency(4, 3, (), ROOTS[4], ROOTS[3])
    assert not merkle.verify_consistency(4, 4, (), ROOTS[4], ROOTS[3])


def test_a_frontier_of_another_size_is_not_extended() -> None:
    with pytest.raises(AssertionError):
        merkle.append((LEAVES[0],), 3, LEAVES[1])
    with pytest.raises(AssertionError):
        merkle.append((), 0, b"not a hash")
    with pytest.raises(AssertionError):
        merkle.inclusion_proof(3, 3, HASHES)
    with pytest.raises(AssertionError):
        merkle.consistency_proof(0, 3, HASHES)


@given(st.integers(1, 64), st.lists(st.binary(min_size=32, max_size=32), max_size=9), st.data())
def test_invented_proofs_prove_nothing(size: int, proof: list[bytes], data: st.DataObject) -> None:
    index = data.draw(st.integers(0, size - 1))
    genuine = merkle.inclusion_proof(index, size, HASHES)
    shown = merkle.verify_inclusion(LEAVES[index], index, size, proof, ROOTS[size])
    assert shown == (tuple(proof) == genuine)
