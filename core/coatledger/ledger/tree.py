"""Proofs over a stored ledger: which hashes a store keeps, and the reading of all the others.

A store keeps the hashes of complete subtrees of 64 leaves and more, two rows in 64 events on
average. What lies below is hashed again from the leaves of its 64, so a proof costs no more in a
long ledger than in a short one, and a leaf that was changed cannot be proven.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Final, TypeVar

from coatledger.computations import merkle
from coatledger.computations.signed_note import Checkpoint
from coatledger.ledger.store import Reader, TreeNode

KEPT_FROM: Final = 6
TILE: Final = 1 << KEPT_FROM
A = TypeVar("A")


class TreeGapError(Exception):
    """The store lacks a hash or a leaf that its size promises."""


def grown(
    frontier: tuple[bytes, ...], size: int, leaf: bytes
) -> tuple[tuple[bytes, ...], tuple[TreeNode, ...]]:
    """Append one leaf hash; return the frontier and the subtrees to keep that it completed."""
    after = size + 1
    if after % TILE:
        return merkle.append(frontier, size, leaf), ()
    kept, head, nodes = list(frontier), leaf, []
    for level in range(1, (after & -after).bit_length()):
        head = merkle.node_hash(kept.pop(), head)
        if level >= KEPT_FROM:
            nodes.append(TreeNode(level, (after >> level) - 1, head))
    return (*kept, head), tuple(nodes)


def root_of(reader: Reader, size: int) -> bytes:
    """Return the root of the tree as it was with `size` leaves."""
    assert size <= reader.head().size
    return _read(reader, lambda hashes: merkle.tree_root(size, hashes))


def head_of(reader: Reader, shop: str) -> Checkpoint:
    """Write the ledger's head as others sign and read it.

    A restored backup goes on under another epoch and so under another origin: its heads are not
    said to continue those of the history that was lost.
    """
    head = reader.head()
    return Checkpoint(f"{shop}/{head.epoch}", head.size, merkle.root(head.frontier))


def inclusion_proofs(
    reader: Reader, positions: Iterable[int], size: int
) -> Mapping[int, tuple[bytes, ...]]:
    """Prove that these positions stand in the tree of `size` leaves; the first is position 1."""
    wanted = tuple(dict.fromkeys(positions))
    return _read(
        reader,
        lambda hashes: {
            position: merkle.inclusion_proof(position - 1, size, hashes) for position in wanted
        },
    )


def consistency(reader: Reader, old_size: int, new_size: int) -> tuple[bytes, ...]:
    """Prove that the tree of `old_size` leaves is the beginning of the one of `new_size`."""
    return _read(reader, lambda hashes: merkle.consistency_proof(old_size, new_size, hashes))


def _read(reader: Reader, work: Callable[[merkle.SubtreeHashes], A]) -> A:
    """Do the work twice: once to learn which hashes it asks for, once with them all read."""
    asked: dict[tuple[int, int], None] = {}

    def note(level: int, index: int) -> bytes:
        asked[level, index] = None
        return bytes(merkle.HASH_BYTES)

    work(note)
    kept = reader.subtrees([key for key in asked if key[0] >= KEPT_FROM])
    low = _below(reader, [key for key in asked if key[0] < KEPT_FROM])

    def look(level: int, index: int) -> bytes:
        found = kept.get((level, index)) or low.get((level, index))
        if found is None:
            raise TreeGapError(f"the tree's hash at level {level}, number {index} is missing")
        return found

    return work(look)


def _below(reader: Reader, keys: Sequence[tuple[int, int]]) -> Mapping[tuple[int, int], bytes]:
    tiles: dict[int, list[tuple[int, int]]] = {}
    for level, index in keys:
        tiles.setdefault(index >> (KEPT_FROM - level), []).append((level, index))
    found: dict[tuple[int, int], bytes] = {}
    for tile, wanted in tiles.items():
        first = tile * TILE
        rows = reader.rows(first, TILE)
        if [row.position for row in rows] != list(range(first + 1, first + 1 + len(rows))):
            raise TreeGapError(f"positions {first + 1} to {first + TILE} have a gap")
        hashes = merkle.subtree_hashes([merkle.leaf_hash(row.leaf) for row in rows])
        for level, index in wanted:
            inside = index - (first >> level)
            if (inside + 1) << level <= len(rows):
                found[level, index] = hashes(level, inside)
    return found
