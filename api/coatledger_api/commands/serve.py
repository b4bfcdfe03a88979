"""`coatledger serve`: one shop's ledger over HTTP."""

import socket
from datetime import UTC, datetime
from pathlib import Path

import click

from coatledger_api.app import create_app
from coatledger_api.commands.config import PORT, settings_here
from coatledger_api.commands.home import Ledger, housed, open_ledger
from coatledger_api.commands.reach import Failed
from coatledger_api.commands.shown import say
from coatledger_api.compiling import keep_in
from coatledger_api.server import server_of
from coatledger_api.settings import Settings


@click.command("serve")
@click.option("--address", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    help="Port to listen on; 0 takes a free one. Default: COATLEDGER_PORT, then 8700.",
)
@housed
def command(address: str, port: int | None, home: Path, database: str | None, shop: str) -> None:
    """Serve a shop's ledger over HTTP until it is told to stop (Ctrl-C).

    The tables are made or brought up to date first. Limits are set by COATLEDGER_… variables, such
    as COATLEDGER_BODY_BYTES_MAX; `coatledger config` lists them. Only this machine can reach the
    service unless --address says otherwise; put a server with encryption before it then, for keys
    travel with every request.
    """
    settings = settings_here()
    if port is None:
        port = PORT if settings.port is None else settings.port
    ledger = open_ledger(home, database, shop)
    keep_in(home / "compiled")
    try:
        with _listening(address, port) as listening:
            _serve(ledger, listening, settings)
    finally:
        ledger.store.close()


def _serve(ledger: Ledger, listening: socket.socket, settings: Settings) -> None:
    app = create_app(
        ledger.store, ledger.keys, ledger.secret, lambda: datetime.now(UTC), settings, ledger.heads
    )
    host, port = listening.getsockname()[:2]
    where = f"[{host}]" if ":" in host else host
    say(f"Serving the ledger of {ledger.store.shop} at http://{where}:{port} (stop with Ctrl-C).")
    if ledger.store.caution is not None:
        say(f"Mind: {ledger.store.caution}.", aside=True)
    if not ledger.keys.all():
        say("Nobody has a key yet: stop, and make one with `coatledger key make`.", aside=True)
    server_of(app, host, port, settings).run(sockets=[listening])


def _listening(address: str, port: int) -> socket.socket:
    try:
        return socket.create_server(
            (address, port), family=socket.AF_INET6 if ":" in address else socket.AF_INET
        )
    except OSError as fault:
        raise Failed(f"{address} port {port} cannot be listened on: {fault.strerror}") from None
