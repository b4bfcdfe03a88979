"""Reading the whole log once and holding it against everything that says what it should be.

Positions have no gaps, columns say what leaves say, times never go back, each leaf names the event
that named its subjects before, and the hashes give the kept tree, the head and every signed head.
"""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from hashlib import sha256
from typing import Final, NamedTuple
from uuid import UUID

import msgspec

from coatledger.computations import merkle
from coatledger.ledger import tree
from coatledger.ledger.record import Leaf, Row, micros
from coatledger.ledger.store import Reader, SubjectRow, TreeNode

PAGE: Final = 2_000
FAULTS_MAX: Final = 50
_LEAF = msgspec.json.Decoder(Leaf)


class LogFault(NamedTuple):
    """What is wrong, and between which positions it lies."""

    first: int
    last: int
    says: str

    def __str__(self) -> str:
        where = f"event {self.first}" if self.first == self.last else (
            f"one of the events {self.first} to {self.last}"
        )  # fmt: skip
        return f"{where}: {self.says}"


class LogReport(NamedTuple):
    """What the log came to. `named` stands for the whole index of subjects, in any order.

    `wrong_nodes` are hashes as they should be where the kept ones differ though the log is whole.
    """

    size: int
    root: bytes
    faults: tuple[LogFault, ...]
    wrong_nodes: tuple[TreeNode, ...]
    named: int

    @property
    def first_bad(self) -> int | None:
        """Return the first position at which something is wrong, or None."""
        return min((fault.first for fault in self.faults), default=None)


class _Body(msgspec.Struct, frozen=True, tag=False):
    """What a leaf says of itself in its body."""

    id: UUID
    type: str
    occurred_at: datetime


def check_log(
    reader: Reader, shop: str, signed: Mapping[int, bytes] | None = None, page: int = PAGE
) -> LogReport:
    """Check the log up to its head; `signed` gives the roots that were signed, by size."""
    run = _Run(reader, shop, signed or {})
    size = reader.head().size
    while run.read < size:
        rows = reader.rows(run.read, min(page, size - run.read))
        if not rows:
            run.fault(run.read + 1, size, "the log ends before its head says so")
            break
        if not run.take(rows):
            break
    return run.report(size)


def named_sum(rows: Sequence[SubjectRow]) -> int:
    """Sum up rows of the index so that their order does not matter and each one does."""
    return sum(
        int.from_bytes(sha256(f"{r[0]}|{r[1]}|{r[2]}|{r[3]}".encode()).digest()[:16], "big")
        for r in rows
    )


class _Run:
    """One check under way."""

    def __init__(self, reader: Reader, shop: str, signed: Mapping[int, bytes]) -> None:
        self.read = 0
        self._reader = reader
        self._shop = shop
        self._signed = signed
        self._frontier: tuple[bytes, ...] = ()
        self._last_us = 0
        self._named: dict[str, int] = {}
        self._sum = 0
        self._faults: list[LogFault] = []
        self._tiles: list[LogFault] = []
        self._wrong: list[TreeNode] = []
        self._signed_faults: list[LogFault] = []
        self._agreed = 0

    def take(self, rows: Sequence[Row]) -> bool:
        """Check one page; False when going on would mean nothing."""
        nodes: list[TreeNode] = []
        for row in rows:
            if row.position != self.read + 1:
                says = f"positions have a gap: {row.position} follows {self.read}"
                self.fault(self.read + 1, max(self.read + 1, row.position - 1), says)
                return False
            for says in self._row_faults(row):
                self.fault(row.position, row.position, says)
            leaf = merkle.leaf_hash(row.leaf)
            self._frontier, completed = tree.grown(self._frontier, self.read, leaf)
            nodes += completed
            self.read = row.position
            self._compare_signed()
        self._compare_tree(nodes)
        return True

    def fault(self, first: int, last: int, says: str) -> None:
        """Keep a fault, but not thousands."""
        if len(self._faults) < FAULTS_MAX:
            self._faults.append(LogFault(first, last, says))

    def report(self, size: int) -> LogReport:
        """Say what it came to: hashes that differ accuse the log only if the head does as well."""
        faults, wrong = list(self._faults), tuple(self._wrong)
        differs = self.read == size and self._frontier != self._reader.head().frontier
        if differs or self._signed_faults:
            tail = max(1, size - size % tree.TILE + 1)
            says = "the hashes do not give the kept head"
            for vague in (
                self._tiles or [LogFault(min(tail, max(size, 1)), max(size, 1), says)],
                self._signed_faults,
            ):
                # Where an event is accused already, its neighbours are not.
                faults += [
                    v for v in vague if not any(v.first <= f.first <= v.last for f in faults)
                ]
            wrong = ()
        root, named = merkle.root(self._frontier), self._sum % (1 << 128)
        return LogReport(size, root, tuple(sorted(set(faults))), wrong, named)

    def _row_faults(self, row: Row) -> Iterator[str]:
        try:
            leaf = _LEAF.decode(row.leaf)
            body = msgspec.json.decode(leaf.body, type=_Body)
            recorded_us = micros(datetime.fromisoformat(leaf.recorded_at))
        except (msgspec.MsgspecError, UnicodeDecodeError, ValueError, TypeError) as error:
            yield f"its bytes cannot be read: {error}"
            return
        occurred_us = micros(body.occurred_at) - leaf.offset * 1_000
        said = (leaf.position, leaf.shop, body.id, body.type, occurred_us, recorded_us)
        kept = (row.position, self._shop, row.event_id, row.type, row.occurred_us, row.recorded_us)
        names = ("position", "shop", "id", "type", "time", "time of recording")
        for name, one, other in zip(names, said, kept, strict=True):
            if one != other:
                yield f"its {name} is {one} in its bytes and {other} beside them"
        if recorded_us < self._last_us:
            yield "it was recorded before the event that precedes it"
        self._last_us = recorded_us
        for subject, before in leaf.previous.items():
            last = self._named.get(subject, 0)
            if before != last:
                yield f"it names event {before} as the last about {subject}; that was {last}"
            self._named[subject] = row.position
        self._sum += named_sum(
            [SubjectRow(s, row.position, row.occurred_us, row.type) for s in leaf.previous]
        )

    def _compare_tree(self, nodes: Sequence[TreeNode]) -> None:
        kept = self._reader.subtrees([(node.level, node.number) for node in nodes])
        for node in nodes:
            if kept.get((node.level, node.number)) == node.hash:
                continue
            self._wrong.append(node)
            if node.level == tree.KEPT_FROM and not self._tiles:
                first = node.number * tree.TILE
                says = "the hashes do not give the kept tree"
                self._tiles.append(LogFault(first + 1, first + tree.TILE, says))

    def _compare_signed(self) -> None:
        told = self._signed.get(self.read)
        if told is None:
            return
        if told == merkle.root(self._frontier):
            self._agreed = self.read
        elif not self._signed_faults:
            says = f"the hashes do not give the head that was signed at {self.read} events"
            self._signed_faults.append(LogFault(self._agreed + 1, self.read, says))
