"""`coatledger key`: the keys that open a service, made where its ledger lives."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from urllib.parse import quote

import click
from coatledger.ledger.record import micros, moment
from coatledger_adapters.keys import (
    PUBLISHABLE_SCOPES,
    SCOPES,
    ApiKey,
    Kind,
    key_id_of,
    make_key,
)
from msgspec.json import decode, encode

from coatledger_api.commands.home import housed, open_ledger
from coatledger_api.commands.reach import Failed, Misused, Service, place_of, reaching
from coatledger_api.commands.shown import Manner, say, table
from coatledger_api.routes.keys import MadeKey, Rotation

USUAL = ("record", "read")


@click.group("key")
def command() -> None:
    """Make, list, rotate and revoke the keys that open the service.

    A key is made where the ledger lives. The service of a SQLite ledger has its file to itself, so
    stop it first; only `rotate` asks the running service, so that nothing stops. What is made is
    shown once and kept nowhere: only its hash is.
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
@click.option(
    "--publishable",
    is_flag=True,
    help="A word for the page of a web shop: it only asks for ship promises.",
)
@housed
def make(
    label: str,
    scope: tuple[str, ...],
    days: int | None,
    publishable: bool,
    home: Path,
    database: str | None,
    shop: str,
) -> None:
    """Make a key; LABEL says for whom or what, such as 'spray room'."""
    now = datetime.now(UTC)
    ends = None if days is None else micros(now + timedelta(days=days))
    if publishable and scope not in (USUAL, tuple(PUBLISHABLE_SCOPES)):
        raise Misused("A publishable word has the scope storefront and no other.")
    kind: Kind = "publishable" if publishable else "secret"
    scopes = PUBLISHABLE_SCOPES if publishable else scope
    ledger = open_ledger(home, database, shop)
    try:
        token, kept = make_key(ledger.secret, label, scopes, micros(now), ends, kind=kind)
        ledger.keys.add(kept)
    finally:
        ledger.store.close()
    say(f"Key {kept.key_id} for {label} may {' and '.join(sorted(kept.scopes))}.", aside=True)
    if publishable:
        say(
            "Strangers may read this word: it asks for ship promises, and for nothing else.",
            aside=True,
        )
    say("Keep it now, it is not shown again:", aside=True)
    say(token)


@command.command("rotate")
@click.argument("key_id", required=False)
@click.option(
    "--overlap-h",
    type=click.IntRange(0, 720),
    default=24,
    show_default=True,
    help="Hours for which the old key is still good.",
)
@click.option(
    "--days", type=click.IntRange(1, 3650), help="Days until the new key ends. Default: as before."
)
@reaching
def rotate(
    key_id: str | None, overlap_h: int, days: int | None, url: str | None, key: str | None
) -> None:
    """Change the key KEY_ID for a new one; without KEY_ID, the key this command itself carries.

    Both are good for the overlap; change the token wherever it is used meanwhile. Needs a key with
    the scope admin.
    """
    place = place_of(url, key)
    key_id = key_id or key_id_of(place.key)
    if key_id is None:
        raise Misused("The key this command carries is no token of ours; name the key to rotate.")
    asked = Rotation(overlap_h=overlap_h, days=days)
    with Service(place) as service:
        answer = service.post(f"/v1/keys/{quote(key_id, safe='')}/rotate", encode(asked))
    made = decode(answer, type=MadeKey)
    say(
        f"Key {made.key.key} takes the place of {key_id}, which ends in {overlap_h} h at the "
        "latest.",
        aside=True,
    )
    say("Keep it now, it is not shown again:", aside=True)
    say(made.token)


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
    replaced = {key.replaces: key.key_id for key in keys}
    rows = [_row(key, replaced.get(key.key_id)) for key in keys]
    table(("key", "label", "may", "made", "used", "stands"), rows)


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


def _row(key: ApiKey, successor: str | None) -> tuple[str, ...]:
    manner = Manner()
    stands = "valid" if key.is_valid(micros(datetime.now(UTC))) else "ended"
    if key.revoked_us is not None:
        stands = "revoked"
    elif key.expires_us is not None:
        stands += f", until {manner.time(moment(key.expires_us))} UTC"
    if successor is not None:
        stands += f", replaced by {successor}"
    used = "never" if key.used_us is None else manner.time(moment(key.used_us))
    made = manner.time(moment(key.created_us))
    may = " ".join(sorted(key.scopes)) + (" (publishable)" if key.kind == "publishable" else "")
    return (key.key_id, key.label, may, made, used, stands)
