"""The tree over a stored ledger: every size and leaf near the edges, and what a store must keep."""

from uuid import UUID

import pytest
from coatledger.computations import merkle
from coatledger.events.about import RagsDealtWith
from coatledger.ledger import tree
from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.record import Row, moment
from coatledger.ledger.store import Changes, Head, TreeNode
from coatledger.recording.overlay import Overlay

SIZE = 64 * 5 + 7
LEAVES = [f"leaf {number}".encode() for number in range(1, SIZE + 1)]
HASHES = [merkle.leaf_hash(leaf) for leaf in LEAVES]
FACT = RagsDealtWith(id=UUID(int=1), occurred_at=moment(0), how="spread_outdoors")
WHOLE = merkle.subtree_hashes(HASHES)


def row(position: int) -> Row:
    return Row(position, UUID(int=position), "held", 0, 0, LEAVES[position - 1])


def filled(size: int, *, batch: int = 1) -> MemoryStore:
    """Append plain rows through the overlay, so many at a time."""
    store = MemoryStore("trial")
    for first in range(1, size + 1, batch):
        overlay = Overlay(store, 0)
        for position in range(first, min(first + batch, size + 1)):
            overlay.add(row(position), FACT, (), HASHES[position - 1])
        store.write(overlay.changes())
    return store


STORE = filled(SIZE)


def test_what_is_kept_is_every_complete_subtree_of_64_leaves_and_more() -> None:
    kept = {(level, at) for level in (6, 7, 8) for at in range(SIZE >> level)}
    found = STORE.subtrees([(level, at) for level in range(12) for at in range(SIZE)])
    assert set(found) == kept
    assert all(found[place] == WHOLE(*place) for place in kept)


@pytest.mark.parametrize("batch", [2, 63, 64, 65, 1000])
def test_the_size_of_a_batch_changes_nothing_that_is_kept(batch: int) -> None:
    store = filled(SIZE, batch=batch)
    everywhere = [(level, at) for level in range(12) for at in range(8)]
    assert store.subtrees(everywhere) == STORE.subtrees(everywhere)
    assert store.head() == STORE.head()


def test_the_root_of_every_size_is_the_one_the_frontier_had() -> None:
    frontier: tuple[bytes, ...] = ()
    assert tree.root_of(STORE, 0) == merkle.EMPTY_ROOT
    for size, leaf in enumerate(HASHES):
        frontier = merkle.append(frontier, size, leaf)
        assert tree.root_of(STORE, size + 1) == merkle.root(frontier)


@pytest.mark.parametrize("size", [1, 2, 63, 64, 65, 127, 128, 129, 192, 256, SIZE])
def test_every_leaf_of_a_tree_is_proven_under_its_root(size: int) -> None:
    root = tree.root_of(STORE, size)
    proofs = tree.inclusion_proofs(STORE, range(1, size + 1), size)
    for position, proof in proofs.items():
        assert merkle.verify_inclusion(HASHES[position - 1], position - 1, size, proof, root)


@pytest.mark.parametrize("old", [1, 63, 64, 65, 200, SIZE])
def test_an_older_tree_is_proven_to_be_the_beginning(old: int) -> None:
    proof = tree.consistency(STORE, old, SIZE)
    roots = tree.root_of(STORE, old), tree.root_of(STORE, SIZE)
    assert merkle.verify_consistency(old, SIZE, proof, *roots)


def test_a_request_taken_back_keeps_no_hash() -> None:
    overlay = Overlay(filled(60), 0)
    mark = overlay.mark()
    for position in range(61, 71):
        overlay.add(row(position), FACT, (), HASHES[position - 1])
    assert [node[:2] for node in overlay.changes().tree] == [(6, 0)]
    overlay.back_to(mark)
    assert not overlay.changes().tree


def test_a_missing_hash_is_named() -> None:
    store = MemoryStore("trial")
    rows = [row(position) for position in range(1, 129)]
    store.write(Changes(Head(128, 0, (WHOLE(7, 0),), "e"), rows, (), (), {}, (), (), ()))
    with pytest.raises(tree.TreeGapError, match="level 6, number 1"):
        tree.inclusion_proofs(store, [3], 128)


def test_a_proof_reads_as_much_of_a_long_ledger_as_of_a_short_one() -> None:
    class Counting(MemoryStore):
        read = 0

        def rows(self, after: int, limit: int) -> list[Row]:
            self.read += limit
            # Every tile is alike: the numbers are made up where they stand.
            return [Row(after + i, UUID(int=i), "held", 0, 0, b"") for i in range(1, limit + 1)]

        def subtrees(self, places: object) -> dict[tuple[int, int], bytes]:
            assert isinstance(places, list)
            self.read += len(places)
            return dict.fromkeys(places, bytes(32))

    for size in (1_000, 1_000_000, 1_000_000_000):
        store = Counting("trial")
        proofs = tree.inclusion_proofs(store, [size // 3], size)
        assert len(proofs[size // 3]) <= size.bit_length()
        assert store.read <= 3 * tree.TILE + 3 * size.bit_length()


def test_nodes_are_kept_in_the_order_they_are_completed() -> None:
    frontier = tuple(WHOLE(level, (255 >> level) - 1) for level in range(7, -1, -1))
    _, nodes = tree.grown(frontier, 255, HASHES[255])
    assert nodes == tuple(TreeNode(level, (256 >> level) - 1, WHOLE(level, (256 >> level) - 1))
                          for level in (6, 7, 8))  # fmt: skip
