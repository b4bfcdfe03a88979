"""`coatledger key`: the keys that open a service, made where its ledger lives."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import click
from coatledger.ledger.record import micros, moment
from coatledger_adapters.keys import SCOPES, ApiKey, make_key

from coatledger_api.commands.home import housed, open_ledger
from coatledger_api.commands.reach import Failed
from coatledger_api.commands.shown import Manner, say, table

USUAL = ("record", "read")


@click.group("key")
def command() -> None:
    """Make, list and revoke the keys that open the service.

    A key is made where the ledger lives. The service of a SQLite ledger has its file to itself, so
    stop it first. What is made is shown once and kept nowhere: only its hash is.
    """


@command.command("make")
@click.argument("label")
@click.option(
    "--scope",
    multiple=True,
    type=click.Choice(SCOPES),
    default=USUAL,
    show_default=True,
    help="What the key may do; may be given again.",
)
@click.option("--days", type=click.IntRange(1, 3650), help="Days until it ends. Default: never.")
@housed
def make(
    label: str,
    scope: tuple[str, ...],
    days: int | None,
    home: Path,
    database: str | None,
    shop: str,
) -> None:
    """Make a key; LABEL says for whom or what, such as 'spray room'."""
    now = datetime.now(UTC)
    ends = None if days is None else micros(now + timedelta(days=days))
    ledger = open_ledger(home, database, shop)
    try:
        token, kept = make_key(ledger.secret, label, scope, micros(now), ends)
        ledger.keys.add(kept)
    finally:
        ledger.store.close()
    say(f"Key {kept.key_id} for {label} may {' and '.join(sorted(kept.scopes))}.", aside=True)
    say("Keep it now, it is not shown again:", aside=True)
    say(token)


@command.command("list")
@housed
def list_keys(home: Path, database: str | None, shop: str) -> None:
    """List the keys with what they may do and when they were used."""
    ledger = open_ledger(home, database, shop)
    try:
        keys = ledger.keys.all()
    finally:
        ledger.store.close()
    if not keys:
        say("No key was made yet.")
        return
    table(("key", "label", "may", "made", "used", "stands"), [_row(key) for key in keys])


@command.command("revoke")
@click.argument("key_id")
@housed
def revoke(key_id: str, home: Path, database: str | None, shop: str) -> None:
    """Revoke the key KEY_ID, as `coatledger key list` names it. It cannot be undone."""
    ledger = open_ledger(home, database, shop)
    try:
        if ledger.keys.find(key_id) is None:
            raise Failed(f"There is no key {key_id}; `coatledger key list` names them.")
        ledger.keys.revoke(key_id, micros(datetime.now(UTC)))
    finally:
        ledger.store.close()
    say(f"Key {key_id} is revoked.")


def _row(key: ApiKey) -> tuple[str, ...]:
    manner = Manner()
    stands = "valid" if key.is_valid(micros(datetime.now(UTC))) else "ended"
    if key.revoked_us is not None:
        stands = "revoked"
    elif key.expires_us is not None:
        stands += f", until {manner.time(moment(key.expires_us))} UTC"
    used = "never" if key.used_us is None else manner.time(moment(key.used_us))
    made = manner.time(moment(key.created_us))
    return (key.key_id, key.label, " ".join(sorted(key.scopes)), made, used, stands)
