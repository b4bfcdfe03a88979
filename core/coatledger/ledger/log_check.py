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
from coatledger.ledger.store import Reader, SubjectRow

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
    """What the log came to. `named` stands for the whole index of subjects, in any order."""

    size: int
    root: bytes
    faults: tuple[LogFault, ...]
    tree_faults: tuple[str, ...]
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
        self._tree: list[str] = []
        self._signed_faults: list[LogFault] = []
        self._agreed = 0

    def take(self, rows: Sequence[Row]) -> bool:
        """Check one page; False when going on would mean nothing."""
        nodes: dict[tuple[int, int], bytes] = {}
        for row in rows:
            if row.position != self.read + 1:
                says = f"positions have a gap: {row.position} follows {self.read}"
                self.fault(self.read + 1, max(self.read + 1, row.position - 1), says)
                return False
            for says in self._row_faults(row):
                self.fault(row.position, row.position, says)
            leaf = merkle.leaf_hash(row.leaf)
            self._frontier, completed = tree.grown(self._frontier, self.read, leaf)
            nodes.update(((node.level, node.number), node.hash) for node in completed)
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
        faults, tree_faults = list(self._faults), list(self._tree)
        differs = self.read == size and self._frontier != self._reader.head().frontier
        if differs or self._signed_faults:
            tail = max(1, size - size % tree.TILE + 1)
            says = "the hashes do not give the kept head"
            for vague in (
                self._tiles[:1] or [LogFault(min(tail, max(size, 1)), max(size, 1), says)],
                self._signed_faults,
            ):
                # Where an event is accused already, its neighbours are not.
                faults += [
                    v for v in vague if not any(v.first <= f.first <= v.last for f in faults)
                ]
        elif self.read == size:
            tree_faults = [str(fault) for fault in self._tiles] + tree_faults
        root, named = merkle.root(self._frontier), self._sum % (1 << 128)
        return LogReport(size, root, tuple(sorted(set(faults))), tuple(tree_faults), named)

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

    def _compare_tree(self, nodes: Mapping[tuple[int, int], bytes]) -> None:
        kept = self._reader.subtrees(list(nodes))
        for (level, number), found in sorted(nodes.items()):
            if kept.get((level, number)) == found:
                continue
            if level == tree.KEPT_FROM and len(self._tiles) < FAULTS_MAX:
                first = number * tree.TILE
                says = "the hashes do not give the kept tree"
                self._tiles.append(LogFault(first + 1, first + tree.TILE, says))
            elif len(self._tree) < FAULTS_MAX:
                self._tree.append(f"the kept hash at level {level}, number {number} is wrong")

    def _compare_signed(self) -> None:
        told = self._signed.get(self.read)
        if told is None:
            return
        if told == merkle.root(self._frontier):
            self._agreed = self.read
        elif not self._signed_faults:
            says = f"the hashes do not give the head that was signed at {self.read} events"
            self._signed_faults.append(LogFault(self._agreed + 1, self.read, says))
