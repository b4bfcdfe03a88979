"""The tree of RFC 6962 over SHA-256: append through a frontier, prove, and check a proof.

Nothing here stores a hash. Whoever appends keeps the frontier; whoever proves hands in a reader of
complete subtrees; whoever checks needs neither.
"""

from collections.abc import Callable, Sequence
from hashlib import sha256

# Hash of the complete subtree over leaves index * 2**level up to (index + 1) * 2**level.
SubtreeHashes = Callable[[int, int], bytes]

HASH_BYTES = 32
EMPTY_ROOT = sha256(b"").digest()


def leaf_hash(data: bytes) -> bytes:
    """Hash one leaf.

    *Reference:* RFC 6962 section 2.1, SHA-256(0x00 || d); the prefix keeps a leaf from being
    passed off as a node. *Valid:* any bytes.
    """
    return sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """Hash two subtrees into one. *Reference:* RFC 6962 section 2.1, SHA-256(0x01 || l || r)."""
    return sha256(b"\x01" + left + right).digest()


def append(frontier: tuple[bytes, ...], size: int, leaf: bytes) -> tuple[bytes, ...]:
    """Return the frontier of a tree of `size` leaves once `leaf` (a leaf hash) is added.

    A frontier holds the complete subtrees from left to right, one for each set bit of the size.
    *Reference:* follows from RFC 6962 section 2.1. *Valid:* any size from 0.
    """
    assert size >= 0, "a tree has no fewer leaves than none"
    assert len(frontier) == size.bit_count(), "the frontier is not of this size"
    assert len(leaf) == HASH_BYTES, "a leaf is appended by its hash"
    kept = list(frontier)
    while size & 1:
        leaf = node_hash(kept.pop(), leaf)
        size >>= 1
    return (*kept, leaf)


def root(frontier: Sequence[bytes]) -> bytes:
    """Return the tree head of a frontier. *Reference:* RFC 6962 section 2.1, MTH(D[n])."""
    if not frontier:
        return EMPTY_ROOT
    head = frontier[-1]
    for left in reversed(frontier[:-1]):
        head = node_hash(left, head)
    return head


def tree_root(size: int, hashes: SubtreeHashes) -> bytes:
    """Return the tree head of the first `size` leaves. *Reference:* RFC 6962 section 2.1."""
    return _range_hash(0, size, hashes)


def subtree_hashes(leaves: Sequence[bytes]) -> SubtreeHashes:
    """Return a reader of complete subtrees over leaf hashes held in memory."""
    levels = [tuple(leaves)]
    while len(levels[-1]) > 1:
        below = levels[-1]
        pairs = zip(below[::2], below[1::2], strict=False)
        levels.append(tuple(node_hash(left, right) for left, right in pairs))
    return lambda level, index: levels[level][index]


def inclusion_proof(index: int, size: int, hashes: SubtreeHashes) -> tuple[bytes, ...]:
    """Prove that leaf `index` stands in the tree of `size` leaves.

    *Reference:* RFC 6962 section 2.1.1, PATH(m, D[n]). *Valid:* 0 <= index < size.
    """
    assert 0 <= index < size, "no such leaf in a tree of this size"
    low, high = 0, size
    proof: list[bytes] = []
    while high - low > 1:
        middle = low + _split(high - low)
        if index < middle:
            proof.append(_range_hash(middle, high, hashes))
            high = middle
        else:
            proof.append(_range_hash(low, middle, hashes))
            low = middle
    return tuple(reversed(proof))


def consistency_proof(old_size: int, new_size: int, hashes: SubtreeHashes) -> tuple[bytes, ...]:
    """Prove that the tree of `old_size` leaves is the beginning of the one of `new_size`.

    *Reference:* RFC 6962 section 2.1.2, PROOF(m, D[n]). *Valid:* 0 < old_size <= new_size.
    """
    assert 0 < old_size <= new_size, "a tree grows from at least one leaf"
    low, high = 0, new_size
    proof: list[bytes] = []
    while old_size < high:
        middle = low + _split(high - low)
        if old_size <= middle:
            proof.append(_range_hash(middle, high, hashes))
            high = middle
        else:
            proof.append(_range_hash(low, middle, hashes))
            low = middle
    # A beginning that is itself a complete subtree is the old root, which the checker has.
    if low > 0:
        proof.append(_range_hash(low, high, hashes))
    return tuple(reversed(proof))


def verify_inclusion(
    leaf: bytes, index: int, size: int, proof: Sequence[bytes], tree_root: bytes
) -> bool:
    """Say whether `proof` shows `leaf` (a leaf hash) at `index` under `tree_root`.

    *Reference:* RFC 9162 section 2.1.3.2. *Valid:* any input; what is not proven is False.
    """
    if not 0 <= index < size or not _all_hashes((leaf, tree_root, *proof)):
        return False
    position, last = index, size - 1
    head = leaf
    for sibling in proof:
        if last == 0:
            return False
        if position & 1 or position == last:
            head = node_hash(sibling, head)
            position, last = _up_to_odd(position, last)
        else:
            head = node_hash(head, sibling)
        position >>= 1
        last >>= 1
    return last == 0 and head == tree_root


def verify_consistency(
    old_size: int, new_size: int, proof: Sequence[bytes], old_root: bytes, new_root: bytes
) -> bool:
    """Say whether `proof` shows the old tree to be the beginning of the new one.

    *Reference:* RFC 9162 section 2.1.4.2. *Valid:* any input; what is not proven is False. Nothing
    is proven from a tree of no leaves, which is the beginning of every tree.
    """
    if not 0 < old_size <= new_size or not _all_hashes((old_root, new_root, *proof)):
        return False
    if old_size == new_size:
        return not proof and old_root == new_root
    path = list(proof)
    if old_size & (old_size - 1) == 0:
        path.insert(0, old_root)
    if not path:
        return False
    position, last = old_size - 1, new_size - 1
    while position & 1:
        position >>= 1
        last >>= 1
    old_head = new_head = path[0]
    for sibling in path[1:]:
        if last == 0:
            return False
        if position & 1 or position == last:
            old_head = node_hash(sibling, old_head)
            new_head = node_hash(sibling, new_head)
            position, last = _up_to_odd(position, last)
        else:
            new_head = node_hash(new_head, sibling)
        position >>= 1
        last >>= 1
    return last == 0 and old_head == old_root and new_head == new_root


def _up_to_odd(position: int, last: int) -> tuple[int, int]:
    """Climb past the levels at which a right edge has no sibling."""
    while position and not position & 1:
        position >>= 1
        last >>= 1
    return position, last


def _split(count: int) -> int:
    """Return the greatest power of two below `count`, where the RFC splits a tree."""
    return 1 << (count - 1).bit_length() - 1


def _range_hash(low: int, high: int, hashes: SubtreeHashes) -> bytes:
    """Hash leaves low to high, where low is a multiple of a power of two not below high - low."""
    peaks: list[bytes] = []
    while low < high:
        level = (high - low).bit_length() - 1
        peaks.append(hashes(level, low >> level))
        low += 1 << level
    return root(peaks)


def _all_hashes(values: Sequence[bytes]) -> bool:
    return all(len(value) == HASH_BYTES for value in values)
