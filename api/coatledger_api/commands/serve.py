"""`coatledger serve`: one shop's ledger over HTTP."""

import os
import socket
from datetime import UTC, datetime
from pathlib import Path

import click

from coatledger_api.app import create_app
from coatledger_api.commands.home import Ledger, housed, open_ledger
from coatledger_api.commands.reach import Failed, Misused
from coatledger_api.commands.shown import say
from coatledger_api.server import server_of
from coatledger_api.settings import Settings, SettingsError, settings_from


@click.command("serve")
@click.option("--address", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option(
    "--port",
    envvar="COATLEDGER_PORT",
    type=click.IntRange(0, 65535),
    default=8700,
    show_default=True,
    help="Port to listen on; 0 takes a free one.",
)
@housed
def command(address: str, port: int, home: Path, database: str | None, shop: str) -> None:
    """Serve a shop's ledger over HTTP until it is told to stop (Ctrl-C).

    The tables are made or brought up to date first. Limits are set by COATLEDGER_… variables, such
    as COATLEDGER_BODY_BYTES_MAX. Only this machine can reach the service unless --address says
    otherwise; put a server with encryption before it then, for keys travel with every request.
    """
    try:
        settings = settings_from(os.environ)
    except SettingsError as fault:
        raise Misused(str(fault)) from None
    ledger = open_ledger(home, database, shop)
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
