"""A database's address as people give it: compared, shown without its password, its file found."""

from pathlib import Path

from sqlalchemy import make_url
from sqlalchemy.exc import SQLAlchemyError

# What goes wrong at a database, for whoever must tell it and may not know SQL.
DatabaseError = SQLAlchemyError


def same_place(one: str, other: str) -> bool:
    """Whether two addresses are the same database."""
    return make_url(one) == make_url(other)


def shown(address: str) -> str:
    """Write an address without its password."""
    return make_url(address).render_as_string(hide_password=True)


def file_of(address: str) -> Path | None:
    """Return the file of a SQLite address, or None for a server."""
    url = make_url(address)
    return Path(url.database) if url.drivername.startswith("sqlite") and url.database else None
