"""`coatledger pair`: a code on this screen that a phone or tablet reads to get its own key."""

import socket
import sys
from time import sleep, time
from urllib.parse import urlsplit

import click
import msgspec
from coatledger_adapters import qr
from coatledger_adapters.keys import SCOPES

from coatledger_api.commands.reach import Failed, Misused, Service, place_of, reaching
from coatledger_api.commands.shown import Manner, manner_of, say
from coatledger_api.routes.pairing import MadePairing, Pairings

USUAL = ("record", "read")
LOOK_EVERY_S = 2.0
# Reserved for documentation (RFC 5737): nothing is sent, the system only says which of this
# machine's addresses it would send from.
_ELSEWHERE = ("192.0.2.1", 9)


@click.command("pair")
@click.argument("name")
@click.option(
    "--scope",
    multiple=True,
    type=click.Choice(SCOPES),
    default=USUAL,
    show_default=True,
    help="What the device may do; may be given again.",
)
@click.option(
    "--days", type=click.IntRange(1, 3650), help="Days until its key ends. Default: never."
)
@click.option(
    "--base", help="Where the device reaches the service, such as http://192.168.1.20:8700."
)
@click.option("--wait", is_flag=True, help="Stay until the code was read or is over.")
@reaching
def command(
    name: str, scope: tuple[str, ...], days: int | None, base: str | None, wait: bool,
    url: str | None, key: str | None,
) -> None:  # fmt: skip
    """Show a code that pairs the device NAME, such as 'phone on the stand'.

    Point the phone's own camera at it and open the link. The code is good for ten minutes and for
    one device; what the device then holds is a key of its own, which `coatledger key list` shows
    and `coatledger key revoke` ends. Needs a key with the scope admin.
    """
    place = place_of(url, key)
    base = base or reachable(place.url)
    if not base.startswith(("http://", "https://")):
        raise Misused(f"--base {base!r} does not begin with http:// or https://.")
    asked: dict[str, object] = {"name": name, "scopes": scope, "base": base.rstrip("/")}
    if days is not None:
        asked["days"] = days
    with Service(place) as service:
        body = msgspec.json.encode(asked)
        made = msgspec.json.decode(service.post("/v1/pairings", body), type=MadePairing)
        _show(made, manner_of(service))
        if wait:
            _wait_for(service, made.pairing)


def own_address() -> str | None:
    """Return this machine's address in its own network, or None when it has none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(_ELSEWHERE)
            found: str = probe.getsockname()[0]
        except OSError:
            return None
    return None if found.startswith("127.") else found


def reachable(url: str) -> str:
    """Put this machine's own address in the place of one that means another machine elsewhere."""
    parts = urlsplit(url)
    if parts.hostname not in ("127.0.0.1", "localhost", "::1"):
        return url
    host = own_address()
    if host is None:
        say(f"Mind: {url} is this machine only; say with --base what devices call it.", aside=True)
        return url
    say(
        f"Mind: {url} is this machine only, so the code says {host}. The service must listen there "
        "too: coatledger serve --address 0.0.0.0. Another address goes by --base.",
        aside=True,
    )
    return f"{parts.scheme}://{host}" + (f":{parts.port}" if parts.port else "")


def _show(made: MadePairing, manner: Manner) -> None:
    # A terminal may be light or dark; a camera wants dark modules on a light ground.
    begin, end = ("\x1b[97;40m", "\x1b[0m") if sys.stdout.isatty() else ("", "")
    for line in qr.lines(made.link):
        say(f"{begin}{line}{end}")
    say(made.link)
    say(
        f"{made.name} may {' and '.join(made.scopes)}. Good until "
        f"{made.ends_at.astimezone(manner.zone):%H:%M} ({manner.zone.key}), for one device.",
        aside=True,
    )


def _wait_for(service: Service, pairing: str) -> None:
    while True:
        told = msgspec.json.decode(service.get("/v1/pairings"), type=Pairings)
        one = next((one for one in told.pairings if one.pairing == pairing), None)
        if one is not None and one.key is not None:
            say(f"Paired: its key is {one.key}.", aside=True)
            return
        if one is None or one.ends_at.timestamp() < time():
            raise Failed("The code is over and nobody read it: make another.")
        sleep(LOOK_EVERY_S)
