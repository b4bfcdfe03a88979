"""Folds, counts and readings held against a rebuild from the log, and mended where they differ.

Mending goes in small steps, each under the writer's lock, so that a service goes on meanwhile; what
was recorded since the comparison is taken into account.
"""

import gc
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from heapq import merge
from itertools import groupby
from typing import Any, NamedTuple

import msgspec
from coatledger.events.catalogue import original_of
from coatledger.ledger.correct import CORRECTION_TAGS
from coatledger.ledger.log_check import named_sum
from coatledger.ledger.record import recorded
from coatledger.ledger.store import Changes, ClimateRow, StoredFold, SubjectRow, TreeNode
from coatledger.recording.rebuild import Parked, fold_of, pages, rebuild
from coatledger.subjects.registry import FOLDS, kind_of, state_or_parked, tally_of
from sqlalchemy import delete

from coatledger_adapters.queries import whole, word
from coatledger_adapters.scan import scan
from coatledger_adapters.shadow import Shadow
from coatledger_adapters.sql_reader import SqlReader
from coatledger_adapters.sql_store import SqlStore
from coatledger_adapters.sql_writer import SqlWriter
from coatledger_adapters.tables import CLIMATE, FOLD, SUBJECTS, TALLY, TREE

AT_ONCE = 200
Counts = dict[tuple[str, str], float]


class Differences(NamedTuple):
    """Where the live state is not what the first `size` events make it.

    `strays` are folds of subjects that no event names; `tallies` is what has to be added to each
    count; `climate` names the events whose readings differ.
    """

    size: int
    folds: tuple[str, ...]
    strays: tuple[str, ...]
    tallies: Mapping[tuple[str, str], float]
    climate: tuple[int, ...]
    parked: tuple[Parked, ...]

    @property
    def none(self) -> bool:
        """Whether everything is as it should be."""
        return not (self.folds or self.strays or self.tallies or self.climate or self.parked)


def compare(store: SqlStore, ledger: SqlReader, beside: Shadow) -> Differences:
    """Rebuild beside the live state, in one consistent state of the ledger, and compare."""
    with without_pauses():
        rebuilt = rebuild(ledger, beside)
        differ, strays = _compare_folds(store, ledger, beside)
        for page in beside.subjects():
            live = ledger.folds(page)
            differ += [subject for subject in page if subject not in live]
        return Differences(
            size=rebuilt.size,
            folds=tuple(sorted(differ)),
            strays=tuple(strays),
            tallies=_missing(store, ledger, beside, differ),
            climate=tuple(_compare_climate(store, ledger, beside)),
            parked=rebuilt.parked,
        )


def mend(store: SqlStore, found: Differences, beside: Shadow) -> None:
    """Put right what a comparison found."""
    for start in range(0, len(found.folds), AT_ONCE):
        with store.beside(writing=True) as ledger:
            _mend_folds(ledger, beside, found.folds[start : start + AT_ONCE])
    with store.beside(writing=True) as ledger:
        statement = store.words(
            delete(FOLD).where(FOLD.c.shop == word("shop"), FOLD.c.subject == word("subject"))
        )
        for subject in found.strays:
            ledger.cursor.execute(statement, (store.shop, subject))
        _write(ledger, tallies=found.tallies)
    for start in range(0, len(found.climate), AT_ONCE):
        with store.beside(writing=True) as ledger:
            _mend_climate(store, ledger, beside, found.climate[start : start + AT_ONCE], found.size)


def mend_tree(store: SqlStore, nodes: tuple[TreeNode, ...]) -> None:
    """Put kept hashes right that differ from those of a log that is whole."""
    this = (TREE.c.level == whole("level")) & (TREE.c.number == whole("number"))
    statement = store.words(delete(TREE).where(TREE.c.shop == word("shop"), this))
    with store.beside(writing=True) as ledger:
        for node in nodes:
            ledger.cursor.execute(statement, (store.shop, node.level, node.number))
        _write(ledger, tree=nodes)


def index_sum(store: SqlStore, ledger: SqlReader) -> int:
    """Sum up the index of subjects as the log's check does."""
    total = 0
    for rows in scan(store, ledger, SUBJECTS):
        total += named_sum([SubjectRow(s, p, us, tag) for s, tag, us, p in rows])
    return total % (1 << 128)


def _compare_folds(
    store: SqlStore, ledger: SqlReader, beside: Shadow
) -> tuple[list[str], list[str]]:
    differ: list[str] = []
    strays: list[str] = []
    for rows in scan(store, ledger, FOLD):
        live = [StoredFold._make((*row[:5], bytes(row[5]))) for row in rows]
        right = beside.folds([one.subject for one in live])
        strays += [one.subject for one in live if one.subject not in right]
        differ += [one.subject for one in live if right.get(one.subject, one) != one]
    return differ, strays


def _missing(
    store: SqlStore, ledger: SqlReader, beside: Shadow, differ: Sequence[str]
) -> Mapping[tuple[str, str], float]:
    """Return what lacks in the live counts. What differing folds lack is added as they are mended,
    so it is left out here."""
    lacks: Counts = {}
    for start in range(0, len(differ), AT_ONCE):
        page = differ[start : start + AT_ONCE]
        for folds, sign in ((ledger.folds(page), 1), (beside.folds(page), -1)):
            for one in folds.values():
                _add(lacks, _counts_of(one), sign)
    live = (
        ((name, key), -value) for rows in scan(store, ledger, TALLY) for name, key, value in rows
    )
    right = (((name, key), value) for name, key, value in beside.counts())
    for place, found in groupby(merge(live, right, key=lambda one: one[0]), key=lambda one: one[0]):
        value = sum(one for _, one in found)
        if value:
            _add(lacks, {place: value}, 1)
    return {key: value for key, value in lacks.items() if value}


def _compare_climate(store: SqlStore, ledger: SqlReader, beside: Shadow) -> list[int]:
    """Compare in the order both have, and name the events whose readings are not the same."""
    live = ((tuple(row), "live") for row in _live_climate(store, ledger))
    right = ((tuple(row), "right") for row in beside.climate())
    both = merge(live, right, key=lambda pair: pair[0][:3])
    positions: set[int] = set()
    for place, found in groupby(both, key=lambda pair: pair[0][:3]):
        sides: dict[str, list[Any]] = {"live": [], "right": []}
        for row, side in found:
            sides[side].append(row)
        if sorted(sides["live"], key=repr) != sorted(sides["right"], key=repr):
            positions.add(place[2])
    return sorted(positions)


def _live_climate(store: SqlStore, ledger: SqlReader) -> Iterator[ClimateRow]:
    for rows in scan(store, ledger, CLIMATE):
        for room, at, position, _, air, damp, surface, gone in rows:
            yield ClimateRow(room, at, position, air, damp, surface, gone)


def _mend_folds(ledger: SqlReader, beside: Shadow, subjects: tuple[str, ...]) -> None:
    live, right = ledger.folds(subjects), beside.folds(subjects)
    tallies: Counts = {}
    folds = []
    for subject in subjects:
        old, new = live.get(subject), right[subject]
        if old is not None and old.position != new.position:
            # Something was recorded since, or the live one is wrong about that: ask the history.
            rows = ledger.of_subject(subject, known=None)
            new = fold_of(ledger, subject, max(row.position for row in rows))
        if old is not None:
            _add(tallies, _counts_of(old), -1)
        _add(tallies, _counts_of(new), 1)
        folds.append(new)
    _write(ledger, folds=tuple(folds), tallies={k: v for k, v in tallies.items() if v})


def _mend_climate(
    store: SqlStore, ledger: SqlReader, beside: Shadow, positions: tuple[int, ...], known: int
) -> None:
    """Write readings anew; a correction recorded since the comparison ends them all the same."""
    here = (CLIMATE.c.shop == word("shop")) & (CLIMATE.c.position == whole("position"))
    statement = store.words(delete(CLIMATE).where(here))
    ended = _ended_since(ledger, known)
    rows: list[ClimateRow] = []
    for position in positions:
        ledger.cursor.execute(statement, (store.shop, position))
        rows += [
            row if row.gone_at is not None else row._replace(gone_at=ended.get(position))
            for row in beside.climate_of(position)
        ]
    _write(ledger, climate=tuple(rows))


def _ended_since(ledger: SqlReader, known: int) -> Mapping[int, int]:
    """Say by which correction after a position the readings of an earlier event ended."""
    ended: dict[int, int] = {}
    for rows in pages(ledger, after=known):
        for row in rows:
            event = recorded(row).event if row.type in CORRECTION_TAGS else None
            original = None if event is None else original_of(event)
            found = None if original is None else ledger.by_id((original,)).get(original)
            if found is None or found.type != "climate_read":
                continue
            ended.setdefault(found.position, row.position)
            for subject in recorded(found).previous:
                for earlier in ledger.of_subject(subject, types=("event_amended",)):
                    if original_of(recorded(earlier).event) == original:
                        ended.setdefault(earlier.position, row.position)
    return {position: gone for position, gone in ended.items() if position <= known}


def _counts_of(fold: StoredFold) -> Mapping[tuple[str, str], float]:
    kind = FOLDS.get(kind_of(fold.subject))
    if kind is None or fold.version != kind.version:
        return {}
    try:
        return tally_of(kind, state_or_parked(kind_of(fold.subject), fold.state))
    except msgspec.MsgspecError:
        return {}


def _add(counts: Counts, more: Mapping[tuple[str, str], float], sign: int) -> None:
    for key, value in more.items():
        counts[key] = counts.get(key, 0) + sign * value


def _write(ledger: SqlReader, **given: Any) -> None:
    """Write state without an event: the head stays where it is."""
    assert isinstance(ledger, SqlWriter)
    nothing: dict[str, Any] = dict.fromkeys(Changes._fields[1:], ()) | {"tallies": {}}
    ledger.write(Changes(head=ledger.head(), **{**nothing, **given}))


@contextmanager
def without_pauses() -> Iterator[None]:
    """A rebuild makes many objects and no circles: looking for those would cost a third."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()
