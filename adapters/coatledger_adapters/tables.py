"""The tables of the ledger, the same on SQLite and PostgreSQL; every key begins with the shop.

Times are integer microseconds since 1970 UTC, because a zoned time column loses its zone on SQLite.
Leaves and states are bytes, never a JSON column, because the bytes are what is hashed. The
migrations build these tables; this page is what the statements are written against, and a test
holds the two equal.
"""

from typing import Any

from sqlalchemy import (
    REAL,
    BigInteger,
    CheckConstraint,
    Column,
    Double,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
)
from sqlalchemy.schema import SchemaItem
from sqlalchemy.types import TypeEngine

# SQLite's strict tables know INTEGER and REAL only; on PostgreSQL those words mean half the size.
WHOLE = BigInteger().with_variant(Integer(), "sqlite")
NUMBER: TypeEngine[Any] = Double().with_variant(REAL(), "sqlite")
BYTES = LargeBinary()
# Words are compared byte by byte on both, whatever the server's language is.
WORD = Text().with_variant(Text(collation="C"), "postgresql")

METADATA = MetaData()


def _table(name: str, *parts: SchemaItem, large: bool = False) -> Table:
    # Small rows live in their key. Of a large one a key would hold a quarter page and spill the
    # rest, so large rows have a tree of their own.
    return Table(name, METADATA, *parts, sqlite_with_rowid=large, sqlite_strict=True)


def _key(name: str, kind: TypeEngine[Any]) -> Column[object]:
    return Column(name, kind, primary_key=True, autoincrement=False)


def _value(name: str, kind: TypeEngine[Any], *, nullable: bool = False) -> Column[object]:
    return Column(name, kind, nullable=nullable)


# `kept_as` says what the folds were made by; a ledger that was moved away says so there. `wanted`
# names the kinds of notice that some webhook wants, so that a write knows when there is none.
HEAD = _table(
    "head",
    _key("shop", WORD),
    _value("size", WHOLE),
    _value("recorded_at", WHOLE),
    _value("frontier", BYTES),
    _value("epoch", WORD),
    _value("kept_as", WORD),
    _value("wanted", WORD),
)

# On SQLite the position alone is the key, because there it is the row's own number and a file has
# one shop; see the first migration.
EVENTS = _table(
    "events",
    _key("shop", WORD),
    _key("position", WHOLE),
    _value("event_id", BYTES),
    _value("type", WORD),
    _value("occurred_at", WHOLE),
    _value("recorded_at", WHOLE),
    _value("leaf", BYTES),
    CheckConstraint("position >= 1", name="events_position_from_1"),
    CheckConstraint("length(event_id) = 16", name="events_event_id_is_16_bytes"),
    Index("events_event_id", "shop", "event_id", unique=True),
    large=True,
)

# The type stands before the time, so that "the last strip-clean of this gun" is one step to find
# however often the gun sprayed; what needs all types merges one short range for each of them.
SUBJECTS = _table(
    "event_subjects",
    _key("shop", WORD),
    _key("subject", WORD),
    _key("type", WORD),
    _key("occurred_at", WHOLE),
    _key("position", WHOLE),
)

FOLD = _table(
    "fold",
    _key("shop", WORD),
    _key("subject", WORD),
    _value("version", WHOLE),
    _value("position", WHOLE),
    _value("folded_at", WHOLE),
    _value("shelf", WORD),
    _value("state", BYTES),
    Index("fold_shelf", "shop", "shelf", "subject"),
    large=True,
)

TALLY = _table(
    "tally",
    _key("shop", WORD),
    _key("name", WORD),
    _key("key", WORD),
    _value("value", NUMBER),
)

# One event may hold two readings of the same time, so their order within the event ends the key.
CLIMATE = _table(
    "climate",
    _key("shop", WORD),
    _key("room", WORD),
    _key("at", WHOLE),
    _key("position", WHOLE),
    _key("ordinal", WHOLE),
    _value("air_c", NUMBER),
    _value("rh_pct", NUMBER),
    _value("surface_c", NUMBER, nullable=True),
    _value("gone_at", WHOLE, nullable=True),
    Index("climate_position", "shop", "position"),
)

# The words are kept as UTF-8 bytes: PostgreSQL's text cannot hold every character JSON can.
NOTE = _table(
    "note",
    _key("shop", WORD),
    _key("event_id", BYTES),
    _value("salt", BYTES),
    _value("words", BYTES, nullable=True),
)

# The hashes of complete subtrees that proofs are made of; the core says which are kept.
TREE = _table(
    "tree",
    _key("shop", WORD),
    _key("level", WHOLE),
    _key("number", WHOLE),
    _value("hash", BYTES),
)

# A signed head of the tree as a note, with whatever outsiders vouched for added to it. After a
# restore the same size may come again over other events, so the epoch belongs to the key.
CHECKPOINT = _table(
    "checkpoint",
    _key("shop", WORD),
    _key("epoch", WORD),
    _key("size", WHOLE),
    _value("signed_at", WHOLE),
    _value("note", BYTES),
    _value("stamp", BYTES, nullable=True),
)

# Who stands behind an opaque word: the only place a name is kept, in the ciphertext of its own key.
PERSON_NAME = _table(
    "person_name",
    _key("shop", WORD),
    _key("person", WORD),
    _value("name", BYTES),
)

# What is kept of a bearer token: who it is for, what it may do, and a keyed hash of it.
API_KEY = _table(
    "api_key",
    _key("shop", WORD),
    _key("key_id", WORD),
    _value("label", WORD),
    _value("scopes", WORD),
    _value("token_hash", BYTES),
    _value("created_at", WHOLE),
    _value("expires_at", WHOLE, nullable=True),
    _value("revoked_at", WHOLE, nullable=True),
    _value("used_at", WHOLE, nullable=True),
    _value("kind", WORD),
    _value("replaces", WORD, nullable=True),
)

# A one-time code for a device, as a keyed hash, and what key it is exchanged for.
PAIRING = _table(
    "pairing",
    _key("shop", WORD),
    _key("code_hash", BYTES),
    _value("name", WORD),
    _value("scopes", WORD),
    _value("key_days", WHOLE, nullable=True),
    _value("made_at", WHOLE),
    _value("ends_at", WHOLE),
    _value("claimed_at", WHOLE, nullable=True),
    _value("key_id", WORD, nullable=True),
)

# Who is told. The secrets are sealed under the service's own; for a while both sign.
WEBHOOK = _table(
    "webhook",
    _key("shop", WORD),
    _key("webhook_id", WORD),
    _value("label", WORD),
    _value("url", WORD),
    _value("kinds", WORD),
    _value("state", WORD),
    _value("secret", BYTES),
    _value("created_at", WHOLE),
    _value("older_secret", BYTES, nullable=True),
    _value("older_until", WHOLE, nullable=True),
    _value("success_at", WHOLE, nullable=True),
    _value("failure_at", WHOLE, nullable=True),
    _value("says", WORD, nullable=True),
)

# What was told, each thing once: `message_id` is made of it. `about` is the fact behind it, `ends`
# the message it takes back.
NOTICE = _table(
    "notice",
    _key("shop", WORD),
    _key("number", WHOLE),
    _value("at", WHOLE),
    _value("message_id", WORD),
    _value("kind", WORD),
    _value("wanted_as", WORD),
    _value("position", WHOLE),
    _value("about", BYTES, nullable=True),
    _value("ends", WORD, nullable=True),
    _value("body", BYTES),
    Index("notice_message", "shop", "message_id", unique=True),
    Index("notice_about", "shop", "about"),
    Index("notice_ends", "shop", "ends"),
    large=True,
)

# How far each message got on its way to each receiver. Whoever sends one first puts `due_at` off:
# while it lies ahead nobody else does.
DELIVERY = _table(
    "delivery",
    _key("shop", WORD),
    _key("webhook_id", WORD),
    _key("number", WHOLE),
    _value("state", WORD),
    _value("tries", WHOLE),
    _value("due_at", WHOLE),
    _value("tried_at", WHOLE, nullable=True),
    _value("status", WHOLE, nullable=True),
    _value("says", WORD, nullable=True),
    Index("delivery_state", "shop", "webhook_id", "state", "number"),
)

# Capacity that somebody is about to take, by the clock and not by events. The newest number says
# whether another was placed meanwhile.
HOLD = _table(
    "hold",
    _key("shop", WORD),
    _key("hold", WORD),
    _value("placed_at", WHOLE),
    _value("until_at", WHOLE),
    _value("asked_sha256", WORD),
    _value("asked", BYTES),
    _value("quote", BYTES),
    _value("number", WHOLE),
    _value("taken_for", WORD, nullable=True),
    _value("ended_at", WHOLE, nullable=True),
    Index("hold_number", "shop", "number", unique=True),
    large=True,
)

# How far a follower of the ledger has read, and which process follows it until when. `begun` is
# where it began: what lies before is no news.
FOLLOWER = _table(
    "follower",
    _key("shop", WORD),
    _key("name", WORD),
    _value("begun", WHOLE),
    _value("position", WHOLE),
    _value("at", WHOLE),
    _value("lease_until", WHOLE),
    _value("lease_by", WORD),
)

# Each open promise as it was seen last; the state's form is the program's.
PROMISE_WATCH = _table(
    "promise_watch",
    _key("shop", WORD),
    _key("promise", WORD),
    _value("state", BYTES),
    large=True,
)

# What refuses to change history. A store does not open while one of them is missing.
TRIGGERS = frozenset(
    (table, f"{table}_refuse_{verb}")
    for table in ("events", "event_subjects")
    for verb in ("update", "delete")
)
# Only PostgreSQL knows TRUNCATE.
TRUNCATE_TRIGGERS = frozenset(
    (table, f"{table}_refuse_truncate") for table in ("events", "event_subjects")
)
