"""The second wall between shops on PostgreSQL: the server shows a transaction one shop's rows only.

Every transaction says whose it is, in the message that begins it, and that ends with it: a setting
of the session would go on to the next user of a pooled connection. Where nothing was said, no row
is seen and none can be written. The owner of the tables is held as well; a superuser never is.
"""

from sqlalchemy import Connection, text

from coatledger_adapters.tables import METADATA

SETTING = "coatledger.shop"
WHOSE = text("SELECT set_config('coatledger.shop', :shop, true)")

_HELD = text(
    "SELECT c.relname FROM pg_class c JOIN pg_policy p ON p.polrelid = c.oid "
    "WHERE c.relrowsecurity AND c.relforcerowsecurity AND pg_table_is_visible(c.oid) "
    "AND p.polname = c.relname || '_of_shop' AND NOT EXISTS "
    # Policies that permit add up: one more would open what this one closes.
    "(SELECT 1 FROM pg_policy q WHERE q.polrelid = c.oid AND q.polpermissive AND q.oid <> p.oid)"
)
_ABOVE = text(
    "SELECT rolname FROM pg_roles WHERE rolname = current_user AND (rolsuper OR rolbypassrls)"
)


def tables_open(connection: Connection) -> tuple[str, ...]:
    """Name the tables whose rows are not kept apart by shop."""
    held = frozenset(connection.scalars(_HELD))
    return tuple(sorted(frozenset(METADATA.tables) - held))


def caution_about_role(connection: Connection) -> str | None:
    """Say when the role of this connection stands above row-level security."""
    role = connection.scalar(_ABOVE)
    if role is None:
        return None
    return (
        f"the role {role} stands above row-level security, so only the program's own care keeps "
        "shops apart: serve as a role that is neither a superuser nor has BYPASSRLS"
    )
