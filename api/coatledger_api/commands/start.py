"""`coatledger start`: one command from nothing to a service with a shop in it.

It makes or upgrades the ledger, plays the demonstration into it when it is empty, and serves it on
this machine. Running it again loads nothing twice and loses nothing.
"""

import os
import socket
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path

import click
import msgspec
from coatledger.ledger.record import micros
from coatledger_adapters.keys import SCOPES, is_token_of, key_id_of, make_key
from coatledger_adapters.pairing import make_pairing

from coatledger_api.commands.config import PORT, settings_here
from coatledger_api.commands.home import Ledger, housed, open_ledger
from coatledger_api.commands.reach import Failed
from coatledger_api.commands.shown import say
from coatledger_api.compiling import keep_in
from coatledger_api.settings import Settings

PORTS_TRIED = 20
LOOPBACK = "127.0.0.1"


class Begun(msgspec.Struct, frozen=True):
    """Which demonstration a ledger was begun with: kept so that a broken load can go on."""

    seed: int
    now: datetime
    done: bool = False


@click.command("start")
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    help=f"Port to listen on. Default: COATLEDGER_PORT, then {PORT}, or the next free one.",
)
@click.option("--without-demo", is_flag=True, help="Begin with an empty ledger.")
@click.option("--stop-when-ready", is_flag=True, help="Prepare everything, and do not serve.")
@housed
def command(
    port: int | None, without_demo: bool, stop_when_ready: bool, home: Path, database: str | None,
    shop: str,
) -> None:  # fmt: skip
    """Start a ledger with a demonstration shop in it, and serve it on this machine only.

    The demonstration is six weeks of an invented shop up to this minute, played into an empty
    ledger through the same door everybody uses. A ledger that holds anything else is left alone.
    """
    settings = settings_here()
    if port is None:
        port = settings.port
    ledger = open_ledger(home, database, shop)
    keep_in(home / "compiled")
    try:
        token = first_token(ledger, home, kept=not without_demo)
        if not without_demo:
            play_into(ledger, home, token, utc_now())
        if not stop_when_ready:
            _serve(ledger, home, _listening(port), token, settings)
    finally:
        ledger.store.close()


def first_token(ledger: Ledger, home: Path, *, kept: bool) -> str | None:
    """Make the first key when there is none, and return its token while it can still be shown.

    A token is shown once and kept nowhere; only that of a demonstration lies beside its ledger, for
    the owner's eyes, because there is nothing in it to protect.
    """
    path = home / "demo-token"
    if path.exists():
        token = path.read_text(encoding="ascii").strip()
        key_id = key_id_of(token)
        key = ledger.keys.find(key_id) if key_id else None
        valid = key is not None and key.is_valid(micros(utc_now()))
        if key and valid and is_token_of(key, ledger.secret, token):
            return token
    if ledger.keys.all():
        return None
    path.unlink(missing_ok=True)  # left by a start that ended before its key was kept
    token, key = make_key(ledger.secret, "first key", SCOPES, micros(utc_now()))
    if kept:
        with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as file:
            file.write(token + "\n")
    ledger.keys.add(key)
    return token


def play_into(ledger: Ledger, home: Path, token: str | None, now: datetime) -> None:
    """Play the demonstration into an empty ledger, or go on where a load was broken off."""
    path = home / "demo.json"
    if path.exists():
        begun = msgspec.json.decode(path.read_bytes(), type=Begun)
    else:
        with ledger.store.reading() as reader:
            if reader.head().size:
                return
        begun = _begun(now)
        path.write_bytes(msgspec.json.encode(begun))
    if begun.done:
        return
    if token is None:
        raise Failed(f"The demonstration needs the key whose token was in {home / 'demo-token'}.")
    # These take a moment to import, and a second start does without them.
    from coatledger_api.demo.play import play
    from coatledger_api.demo.player import load

    say(f"Playing the demonstration shop: six weeks up to {begun.now:%Y-%m-%d %H:%M} UTC.")
    posts = play(begun.seed, begun.now)
    with _progress(sum(post.facts_made for post in posts)) as forward:
        played = load(ledger.store, ledger.keys, ledger.secret, token, posts, forward)
    path.write_bytes(msgspec.json.encode(msgspec.structs.replace(begun, done=True)))
    say(f"{played.recorded + played.repeated:,} facts are recorded.")


def utc_now() -> datetime:
    """The clock of this machine."""
    return datetime.now(UTC)


def _begun(now: datetime) -> Begun:
    from coatledger_api.demo.play import SEED

    return Begun(seed=SEED, now=now.replace(second=0, microsecond=0))


def _serve(
    ledger: Ledger, home: Path, listening: socket.socket, token: str | None, settings: Settings
) -> None:
    from coatledger_api.app import create_app
    from coatledger_api.server import server_of

    with listening:
        port = listening.getsockname()[1]
        app = create_app(ledger.store, ledger.keys, ledger.secret, utc_now, settings, ledger.heads)
        url = f"http://{LOOPBACK}:{port}"
        _where_to_look(url, home, token)
        _how_to_open(url, ledger)
        if ledger.store.caution is not None:
            say(f"Mind: {ledger.store.caution}.", aside=True)
        # The server ends in good order and then raises the key that was pressed once more.
        with suppress(KeyboardInterrupt):
            server_of(app, LOOPBACK, port, settings).run(sockets=[listening])
        say(f"Stopped. The ledger is kept in {home}.")


def _listening(port: int | None) -> socket.socket:
    """Listen on the port asked for, or on the first free one from the usual on."""
    wanted = (port,) if port is not None else range(PORT, PORT + PORTS_TRIED)
    for number in wanted:
        try:
            return socket.create_server((LOOPBACK, number))
        except OSError as fault:
            why = fault.strerror
    raise Failed(f"{LOOPBACK} port {wanted[0]} cannot be listened on: {why}")


def _where_to_look(url: str, home: Path, token: str | None) -> None:
    say()
    say(f"Serving at {url} (stop with Ctrl-C). Its documentation: {url}/docs")
    if token is None:
        say("The token of the first key was shown when it was made; make another, while the")
        say("service is stopped, with: coatledger key make LABEL")
        token = "clk_…"
    elif (home / "demo-token").exists():
        say(f"The token of this demonstration, kept in {home / 'demo-token'} for you alone:")
    else:
        say("The token of the first key. Keep it now, it is not shown again:")
    say()
    say(f"  export COATLEDGER_URL={url} COATLEDGER_KEY={token}")
    say()
    for says, path in (
        ("the pieces that carry a film", "/v1/pieces?stage=coated"),
        ("what dries now, soonest ready first", "/v1/clocks"),
        ("what comes back, and why", "/v1/rework"),
        ("what leaves a week, and what is here", "/v1/throughput"),
    ):
        say(f"  # {says}")
        say(f'  curl -H "Authorization: Bearer $COATLEDGER_KEY" "$COATLEDGER_URL{path}"')
    say()
    say("Or ask on the command line: coatledger pieces, piece, history, clocks, rework, throughput")
    sys.stdout.flush()


def _how_to_open(url: str, ledger: Ledger) -> None:
    """Give this machine's browser a way in: a code that is read once, as any other device's."""
    from coatledger_api.routes.pairing import PAGE

    code, offered = make_pairing(
        ledger.secret, "browser of this machine", frozenset(SCOPES), micros(utc_now()), None
    )
    ledger.keys.offer(offered)
    say()
    say("Open this in a browser on this machine, within ten minutes and once: it pairs the browser")
    say("and leads to the page at the gun, the page on the wall, a piece's life and the set-up.")
    say()
    say(f"  {url}{PAGE}#{code}")
    sys.stdout.flush()


@contextmanager
def _progress(total: int) -> Iterator[Callable[[int], None]]:
    if not sys.stderr.isatty():
        yield _plain_progress(total)
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    columns = (TextColumn("recording"), BarColumn(), MofNCompleteColumn(), TextColumn("facts"))
    with Progress(*columns, console=Console(stderr=True)) as bar:
        task = bar.add_task("", total=total)
        yield lambda count: bar.advance(task, count)


def _plain_progress(total: int) -> Callable[[int], None]:
    done = 0

    def forward(count: int) -> None:
        nonlocal done
        before, done = done, done + count
        if done * 5 // total > before * 5 // total:
            say(f"{done:,} of {total:,} facts", aside=True)

    return forward


if __name__ == "__main__":
    command()
