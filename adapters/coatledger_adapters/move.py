"""Moving one shop's ledger to another database, of either kind, without a byte of it changing.

Events, notes, names, keys and signed heads are copied; all that follows from the events is worked
out again on the other side and the log is checked there. The epoch stays: no position moves, so
every cursor, condition and signed head goes on being right, and whoever reads the feed has nothing
to do again. Therefore only one of the two may live: the old ledger is closed for good just before
the new one is there, and a move that was cut short in between is begun anew, unless all of it
had arrived.
"""

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from coatledger.computations import merkle
from coatledger.ledger import tree
from coatledger.ledger.log_check import check_log
from coatledger.ledger.record import Row, opened
from coatledger.ledger.store import Changes, Head, SubjectRow, TreeNode
from coatledger.recording.rebuild import pages, rebuild
from sqlalchemy import Table, func, insert, select, update

from coatledger_adapters.fold_versions import keep_as, kept_as_of, put_in_place
from coatledger_adapters.queries import word
from coatledger_adapters.read_models import index_sum, without_pauses
from coatledger_adapters.scan import scan
from coatledger_adapters.shadow import shadow
from coatledger_adapters.sql_reader import MOVED, SqlReader
from coatledger_adapters.sql_store import SqlStore
from coatledger_adapters.sql_writer import SqlWriter
from coatledger_adapters.tables import (
    API_KEY,
    CHECKPOINT,
    DELIVERY,
    FOLLOWER,
    HEAD,
    HOLD,
    METADATA,
    NOTE,
    NOTICE,
    PERSON_NAME,
    PROMISE_WATCH,
    WEBHOOK,
)

# What stands beside the events and does not follow from them.
COPIED: Mapping[str, Table] = {
    "notes": NOTE, "names": PERSON_NAME, "keys": API_KEY, "signed heads": CHECKPOINT,
    "webhooks": WEBHOOK, "messages": NOTICE, "deliveries": DELIVERY, "holds": HOLD,
    "followers": FOLLOWER, "watched promises": PROMISE_WATCH,
}  # fmt: skip


class MoveError(Exception):
    """The ledger stays where it is; the message says why."""


class Moved(NamedTuple):
    """What was moved. `root_before` is what the old ledger kept; `root_after` was worked out from
    the bytes in the new one."""

    head: Head
    root_before: bytes
    root_after: bytes
    copied: Mapping[str, int]
    parked: tuple[str, ...]


def move(
    source: SqlStore, target: SqlStore, *, again: bool = False,
    progress: Callable[[int], None] = lambda _: None,
) -> Moved:  # fmt: skip
    """Move a ledger into an empty one. `again` takes up a move that was cut short."""
    with source.beside() as ledger:
        if ledger.head().size == 0:
            raise MoveError(f"the ledger of {source.shop} has no events: there is nothing to move")
    closed_as = None
    try:
        with target.tending() as there, without_pauses():
            refuse_unless_empty(target, there)
            with source.tending() as here:
                kept_as = kept_as_of(source, here)
                if kept_as == MOVED and not again:
                    raise MoveError(
                        "this ledger was moved already. If that move was cut short and the other "
                        "database is empty, move it again with --again"
                    )
                moved = copied(source, target, here, there, progress)
                keep_as(source, here, MOVED)
            closed_as = kept_as  # from here on the old one is closed, and the new one not yet there
    except BaseException as broken:
        if closed_as is None:
            raise
        if not _arrived(target, moved.head):
            with source.tending() as here:
                keep_as(source, here, closed_as)
            raise
        if not isinstance(broken, Exception):  # somebody wants to stop, and all of it is done
            raise
    return moved


def _arrived(target: SqlStore, head: Head) -> bool:
    """Look anew whether the last step was done: a line may break after it and before the answer.

    Two open ledgers would be worse than none, so while nobody can look the old one stays closed.
    """
    try:
        with target.beside() as there:
            return there.head().size == head.size
    except Exception as blind:
        raise MoveError(
            "the line broke at the last step, and whether the ledger arrived cannot be seen: the "
            "old one stays closed. When the other database can be reached, go on there; should it "
            "be empty, move again with --again"
        ) from blind


def copied(
    source: SqlStore, target: SqlStore, here: SqlReader, there: SqlWriter,
    progress: Callable[[int], None] = lambda _: None,
) -> Moved:  # fmt: skip
    """Copy a ledger into an empty one within two open transactions, and check what came out."""
    head = here.head()
    _take_over(target, there, head.epoch, here.wanted)
    _copy_events(here, there, head, progress)
    copied = {
        name: _copy_table(source, target, here, there, table) for name, table in COPIED.items()
    }
    there = there.once_more()
    with shadow() as beside:
        rebuilt = rebuild(there, beside)
        put_in_place(target, there, beside)
    keep_as(target, there, target.made_by)
    root = _checked(source, target, there, head)
    parked = tuple(one.subject for one in rebuilt.parked)
    return Moved(head, merkle.root(head.frontier), root, copied, parked)


def _copy_events(
    here: SqlReader, there: SqlWriter, head: Head, progress: Callable[[int], None]
) -> None:
    frontier: tuple[bytes, ...] = ()
    for rows in pages(here):
        last, nodes = rows[-1], list[TreeNode]()
        writer = there.once_more()
        if last.position != writer.head().size + len(rows):
            raise MoveError("the old ledger's positions have a gap: run `coatledger self-check`")
        for row in rows:
            leaf = merkle.leaf_hash(row.leaf)
            frontier, completed = tree.grown(frontier, row.position - 1, leaf)
            nodes += completed
        named = [one for row in rows for one in _named(row)]
        moved = Head(last.position, last.recorded_us, frontier, head.epoch)
        nothing: dict[str, Any] = dict.fromkeys(Changes._fields[3:], ()) | {"tallies": {}}
        writer.write(Changes(moved, rows, named, **{**nothing, "tree": tuple(nodes)}))
        progress(len(rows))


def _named(row: Row) -> list[SubjectRow]:
    """Return the index of an event as its leaf gives it, whatever the old index says."""
    _, previous = opened(row)
    return [SubjectRow(subject, row.position, row.occurred_us, row.type) for subject in previous]


def _copy_table(
    source: SqlStore, target: SqlStore, here: SqlReader, there: SqlWriter, table: Table
) -> int:
    count, words = 0, target.words(insert(table))
    for rows in scan(source, here, table):
        there.cursor.executemany(words, [(target.shop, *row) for row in rows])
        count += len(rows)
    return count


def _checked(source: SqlStore, target: SqlStore, there: SqlWriter, head: Head) -> bytes:
    """Check the log as it now stands on the other side, and return its root."""
    log = check_log(there, source.shop)
    if log.faults:
        raise MoveError(
            f"the old ledger is not whole: {log.faults[0]}; run `coatledger self-check`"
        )
    if log.root != merkle.root(head.frontier) or log.size != head.size:
        raise MoveError(
            "the events do not give the root the old ledger had: run `coatledger self-check` on it"
        )
    if index_sum(target, there) != log.named:
        raise MoveError("the index of subjects did not come out right")
    return log.root


def refuse_unless_empty(target: SqlStore, there: SqlWriter) -> None:
    """Refuse to copy into a ledger that has anything in it."""
    for table in METADATA.sorted_tables:
        query = select(func.count()).where(table.c.shop == word("shop")).select_from(table)
        there.cursor.execute(target.words(query), (target.shop,))
        ((count,),) = there.cursor.fetchall()
        if count and (table is not HEAD or there.head().size):
            raise MoveError(
                f"the other database already holds something of {target.shop} ({table.name}): move "
                "into an empty one"
            )


def _take_over(target: SqlStore, there: SqlWriter, epoch: str, wanted: str) -> None:
    """Take over from the old head what does not follow from the events."""
    taken = update(HEAD).ordered_values(
        (HEAD.c.epoch, word("new_epoch")), (HEAD.c.wanted, word("new_wanted"))
    )
    words = target.words(taken.where(HEAD.c.shop == word("shop")))
    there.cursor.execute(words, (epoch, wanted, target.shop))
