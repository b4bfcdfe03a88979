"""Folds of another version are never used: they are worked out again when a ledger is opened.

The rebuild goes on beside the live state while another process may still write. Then, under the
writer's lock, it catches up with what came meanwhile and takes the place of what was there, in one
transaction: everybody sees the old state or the new one whole. A program of the old version finds
out at its next question.
"""

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

from coatledger.ledger.store import Changes, ClimateRow, Tally
from coatledger.recording.rebuild import Rebuild, fold_of
from coatledger.subjects.parked import PARKED
from coatledger.subjects.registry import FOLDS, kind_of, state_or_parked, tally_of
from sqlalchemy import Table, delete, select, update

from coatledger_adapters.queries import word
from coatledger_adapters.read_models import without_pauses
from coatledger_adapters.shadow import Shadow, shadow
from coatledger_adapters.sql_reader import MOVED, SqlReader
from coatledger_adapters.sql_store import SqlStore
from coatledger_adapters.sql_writer import SqlWriter
from coatledger_adapters.tables import CLIMATE, FOLD, HEAD, TALLY

AT_ONCE = 4_000
PARKED_AT_ONCE = 1_000


class Renewed(NamedTuple):
    """What was worked out again: of how many events, how many folds differed, what is parked."""

    size: int
    folds: int
    parked: tuple[str, ...]


def bring_up_to_date(store: SqlStore) -> Renewed | None:
    """Work the folds out again where another version made them; None when they are ours.

    Subjects that this version had to set apart are tried once more.
    """
    with store.beside() as ledger:
        kept_as = kept_as_of(store, ledger)
    if kept_as in (store.made_by, MOVED):
        _try_parked_again(store)
        return None
    with shadow() as beside, without_pauses():
        run = Rebuild(beside)
        with store.beside() as ledger:
            run.catch_up(ledger)
        with store.tending() as writer:
            if kept_as_of(store, writer) == store.made_by:  # another process was quicker
                return None
            rebuilt = run.catch_up(writer)
            changed = put_in_place(store, writer, beside)
            keep_as(store, writer, store.made_by)
    return Renewed(rebuilt.size, changed, tuple(one.subject for one in rebuilt.parked))


def put_in_place(store: SqlStore, ledger: SqlWriter, beside: Shadow) -> int:
    """Let a rebuild take the place of the live state; return how many folds were not the same."""
    changed = 0
    _delete_strays(store, ledger, beside)
    for page in beside.subjects():
        right, live = beside.folds(page), ledger.folds(page)
        wrong = [fold for subject, fold in right.items() if live.get(subject) != fold]
        changed += len(wrong)
        for some in _some(wrong):
            write_beside(ledger, folds=some)
    for table in (TALLY, CLIMATE):
        _delete_all(store, ledger, table)
    counts = [Tally(*one) for one in beside.counts() if one[2]]
    for some in _some(counts):
        write_beside(ledger, tallies={(one.name, one.key): one.value for one in some})
    for readings in _whole_events(beside.climate()):
        write_beside(ledger, climate=readings)
    return changed


def kept_as_of(store: SqlStore, ledger: SqlReader) -> str:
    """Return what the ledger's folds were made by."""
    ledger.cursor.execute(
        store.words(select(HEAD.c.kept_as).where(HEAD.c.shop == word("shop"))), (store.shop,)
    )
    ((kept_as,),) = ledger.cursor.fetchall()
    return str(kept_as)


def keep_as(store: SqlStore, ledger: SqlWriter, made_by: str) -> None:
    """Say what the ledger's folds were made by."""
    told = update(HEAD).values(kept_as=word("kept_as")).where(HEAD.c.shop == word("shop"))
    ledger.cursor.execute(store.words(told), (made_by, store.shop))


def write_beside(ledger: SqlWriter, **given: Any) -> None:
    """Write state without an event, as often as wanted; the head stays where it is."""
    nothing: dict[str, Any] = dict.fromkeys(Changes._fields[1:], ()) | {"tallies": {}}
    writer = ledger.once_more()
    writer.write(Changes(head=writer.head(), **{**nothing, **given}))


def _try_parked_again(store: SqlStore) -> None:
    with store.beside() as ledger:
        parked = [
            fold for kind in FOLDS for fold in ledger.shelf(kind, (PARKED,), "", PARKED_AT_ONCE)
        ]
    if not parked:
        return
    with store.tending() as writer:
        for subject, now in writer.folds([fold.subject for fold in parked]).items():
            folded = fold_of(writer, subject, now.position)
            if now.shelf != PARKED or folded.shelf == PARKED:
                continue
            kind = kind_of(subject)
            counts = tally_of(FOLDS[kind], state_or_parked(kind, folded.state))
            write_beside(writer, folds=(folded,), tallies=counts)


def _delete_strays(store: SqlStore, ledger: SqlWriter, beside: Shadow) -> None:
    """Delete folds of subjects that no event names."""
    words = store.words(
        delete(FOLD).where(FOLD.c.shop == word("shop"), FOLD.c.subject == word("subject"))
    )
    listed = store.words(select(FOLD.c.subject).where(FOLD.c.shop == word("shop")))
    ledger.cursor.execute(listed, (store.shop,))
    subjects = [subject for (subject,) in ledger.cursor.fetchall()]
    for some in _some(subjects):
        right = beside.folds(some)
        for subject in some:
            if subject not in right:
                ledger.cursor.execute(words, (store.shop, subject))


def _delete_all(store: SqlStore, ledger: SqlWriter, table: Table) -> None:
    words = store.words(delete(table).where(table.c.shop == word("shop")))
    ledger.cursor.execute(words, (store.shop,))


def _some(all_: Sequence[Any]) -> Iterator[Sequence[Any]]:
    return (all_[start : start + AT_ONCE] for start in range(0, len(all_), AT_ONCE))


def _whole_events(readings: Iterator[ClimateRow]) -> Iterator[Sequence[ClimateRow]]:
    """Cut readings into groups, but not between those of one moment: their order is in the key."""
    group: list[ClimateRow] = []
    for reading in readings:
        if len(group) >= AT_ONCE and group[-1][:3] != reading[:3]:
            yield group
            group = []
        group.append(reading)
    if group:
        yield group
