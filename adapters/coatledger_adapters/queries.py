"""The questions the store asks, in SQLAlchemy Core. Each begins with the shop.

None may read more because the history grew: each follows one key of its table in the key's own
order, to a limit or to what it returns.
"""

from typing import Any

from sqlalchemy import Select, bindparam, func, literal_column, select
from sqlalchemy.sql import ColumnElement

from coatledger_adapters.tables import (
    CLIMATE,
    EVENTS,
    FOLD,
    HEAD,
    NOTE,
    SUBJECTS,
    TALLY,
    TREE,
    WHOLE,
    WORD,
)

Query = Select[Any]


def word(name: str) -> ColumnElement[str]:
    """A parameter that is a word."""
    return bindparam(name, type_=WORD)


def whole(name: str) -> ColumnElement[int]:
    """A parameter that is a whole number."""
    return bindparam(name, type_=WHOLE)


def head() -> Query:
    """In the order of the core's `Head`, then what the folds were made by, and what is wanted."""
    query = select(
        HEAD.c.size, HEAD.c.recorded_at, HEAD.c.frontier, HEAD.c.epoch, HEAD.c.kept_as,
        HEAD.c.wanted,
    )  # fmt: skip
    return query.where(HEAD.c.shop == word("shop"))


def events() -> Query:
    """In the order of the core's `Row`."""
    return _events().where(EVENTS.c.shop == word("shop"))


def events_by_id() -> Query:
    """The events with one id or several."""
    return events().where(EVENTS.c.event_id.in_([bindparam("event_id")]))


def events_after() -> Query:
    """The feed, in order of position."""
    return first(events().where(EVENTS.c.position > whole("after")).order_by(EVENTS.c.position))


def recorded_at() -> Query:
    """When a position was recorded."""
    here = (EVENTS.c.shop == word("shop")) & (EVENTS.c.position == whole("position"))
    return select(EVENTS.c.recorded_at).where(here)


def events_of_subject() -> Query:
    """What names a subject, in no order yet."""
    joined = SUBJECTS.join(
        EVENTS,
        (EVENTS.c.shop == SUBJECTS.c.shop) & (EVENTS.c.position == SUBJECTS.c.position),
    )
    return (
        _events()
        .select_from(joined)
        .where(
            SUBJECTS.c.shop == word("shop"),
            SUBJECTS.c.subject == word("subject"),
            SUBJECTS.c.occurred_at <= whole("until"),
            SUBJECTS.c.position <= whole("known"),
        )
    )


def types_of_subject() -> Query:
    """The types among a subject's events, by jumping along the key from each to the next."""
    # A parameter used twice is asked for twice, so the second use has a name of its own.
    again = (SUBJECTS.c.shop == word("shop_")) & (SUBJECTS.c.subject == word("subject_"))
    lowest = select(func.min(SUBJECTS.c.type).label("type")).where(
        SUBJECTS.c.shop == word("shop"), SUBJECTS.c.subject == word("subject")
    )
    found = lowest.cte("found", recursive=True)
    following = select(func.min(SUBJECTS.c.type)).where(again, SUBJECTS.c.type > found.c.type)
    step = select(following.scalar_subquery()).where(found.c.type.is_not(None))
    found = found.union_all(step)
    return select(found.c.type).where(found.c.type.is_not(None))


def newest_of_type() -> Query:
    """The places of the last events of one type that name a subject."""
    query = select(SUBJECTS.c.occurred_at, SUBJECTS.c.position).where(
        SUBJECTS.c.shop == word("shop"),
        SUBJECTS.c.subject == word("subject"),
        SUBJECTS.c.type == word("type"),
        SUBJECTS.c.occurred_at <= whole("until"),
        SUBJECTS.c.position <= whole("known"),
    )
    return first(query.order_by(SUBJECTS.c.occurred_at.desc(), SUBJECTS.c.position.desc()))


def folds() -> Query:
    """In the order of the core's `StoredFold`."""
    return select(*list(FOLD.c)[1:]).where(FOLD.c.shop == word("shop"))


def fold_page(query: Query) -> Query:
    """One page of folds, in order of subject, between two subjects."""
    between = query.where(FOLD.c.subject > word("after"), FOLD.c.subject < word("before"))
    return first(between.order_by(FOLD.c.subject))


def tallies() -> Query:
    """In the order of the core's `Tally`."""
    return (
        select(TALLY.c.name, TALLY.c.key, TALLY.c.value)
        .where(
            TALLY.c.shop == word("shop"),
            TALLY.c.name == word("name"),
            TALLY.c.key >= word("first"),
            TALLY.c.key <= word("last"),
            TALLY.c.value != literal_column("0"),
        )
        .order_by(TALLY.c.key)
    )


def climate_between(in_force: ColumnElement[bool]) -> Query:
    """A room's readings, in order of time."""
    query = _climate().where(CLIMATE.c.at >= whole("first"), CLIMATE.c.at <= whole("last"))
    return query.where(in_force).order_by(CLIMATE.c.at, CLIMATE.c.position, CLIMATE.c.ordinal)


def climate_before(in_force: ColumnElement[bool]) -> Query:
    """A room's readings up to a time, the last first, to a limit."""
    query = _climate().where(CLIMATE.c.at <= whole("at"), in_force)
    newest = (CLIMATE.c.at.desc(), CLIMATE.c.position.desc(), CLIMATE.c.ordinal.desc())
    return first(query.order_by(*newest))


def in_force() -> ColumnElement[bool]:
    """Readings that no correction took back."""
    return CLIMATE.c.gone_at.is_(None)


def in_force_at() -> ColumnElement[bool]:
    """Readings recorded by a position, and not taken back by it."""
    return (CLIMATE.c.position <= whole("known")) & (
        CLIMATE.c.gone_at.is_(None) | (CLIMATE.c.gone_at > whole("known_"))
    )


def notes() -> Query:
    """In the order of the core's `Note`."""
    return select(NOTE.c.event_id, NOTE.c.salt, NOTE.c.words).where(NOTE.c.shop == word("shop"))


def subtrees() -> Query:
    """The kept hashes of one level of the tree, by their numbers."""
    query = select(TREE.c.number, TREE.c.hash)
    return query.where(TREE.c.shop == word("shop"), TREE.c.level == whole("level"))


def first(query: Query) -> Query:
    """Keep a number of rows given as a parameter."""
    # SQLite's words for LIMIT would ask for one more parameter if no offset were named.
    return query.limit(whole("limit")).offset(literal_column("0"))


def _events() -> Query:
    return select(
        EVENTS.c.position,
        EVENTS.c.event_id,
        EVENTS.c.type,
        EVENTS.c.occurred_at,
        EVENTS.c.recorded_at,
        EVENTS.c.leaf,
    )


def _climate() -> Query:
    # In the order of the core's `ClimateRow`.
    return select(
        CLIMATE.c.room,
        CLIMATE.c.at,
        CLIMATE.c.position,
        CLIMATE.c.air_c,
        CLIMATE.c.rh_pct,
        CLIMATE.c.surface_c,
        CLIMATE.c.gone_at,
    ).where(CLIMATE.c.shop == word("shop"), CLIMATE.c.room == word("room"))
