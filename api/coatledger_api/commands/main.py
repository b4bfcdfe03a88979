"""The front door of the command line: which commands there are, each imported when it is called.

Asking for help reads this table only, so it answers before a service or a web client could load.
"""

import importlib
import importlib.util
from collections.abc import Mapping
from typing import NamedTuple

import click


class Door(NamedTuple):
    """Where a command lives, and the one line that says what it is for."""

    module: str
    help: str


PACKAGE = "coatledger_api.commands"
DOORS: Mapping[str, Door] = {
    "start": Door("start", "Start a ledger with a demonstration shop in it, and serve it."),
    "serve": Door("serve", "Serve a shop's ledger over HTTP."),
    "config": Door("config", "Show what is set for a service, and every setting that is wrong."),
    "key": Door("key", "Make, list, rotate and revoke the keys that open the service."),
    "pair": Door("pair", "Show a code that a phone or tablet reads to get its own key."),
    "record": Door("record", "Record a day's facts from a file or from standard input."),
    "piece": Door("piece", "Say how a piece stands, what comes next and when it may ship."),
    "pieces": Door("pieces", "List the pieces, by stage, order or room."),
    "history": Door("history", "Tell everything that was recorded about a piece."),
    "day-plan": Door("day_plan", "Say what to do today and tomorrow, in order, and what waits."),
    "quote": Door("quote", "Say when something would ship, and what would make it sooner."),
    "promise": Door("promise", "Promise an order a ship date."),
    "promises": Door("promises", "List what is promised, its present chance, what endangers it."),
    "clocks": Door("clocks", "List what is drying and when it is ready, soonest first."),
    "room": Door("room", "Say how a room's air is, and what brings it into range."),
    "gun": Door("gun", "Say how a gun is set, what its last trial laid, what cleaning is due."),
    "stock": Door("stock", "Lay the finish on hand against the work, and say where it runs out."),
    "drying": Door("drying", "Show what the clock has learned of a product, and from what."),
    "schedule": Door("schedule", "Say what a batch through a schedule costs, beside another's."),
    "findings": Door("findings", "List what stands open in the shop, most severe first."),
    "rework": Door("rework", "Count what comes back and what passes at the first look."),
    "throughput": Door(
        "throughput", "Count what leaves a week, what is here and how long it took."
    ),
    "calculate": Door("calculate", "Work out one number of the trade; needs no service."),
    "labels": Door("labels", "Write labels with codes for pieces, cans, guns or rooms to a file."),
    "print": Door("print_things", "Write a traveller, care card or packing slip to a file."),
    "proof": Door("proof", "Write a piece's history with its proof to a file."),
    "verify": Door("verify", "Check the proof of a piece; needs only the file and a public key."),
    "webhooks": Door("webhooks", "Say who is told outside, and what became of each message."),
    "backup": Door("backup", "Copy a ledger while it is served, and check the copy."),
    "restore": Door("restore", "Put a backup in the ledger's place."),
    "move": Door("move", "Move a ledger between SQLite and PostgreSQL; its root stays the same."),
    "self-check": Door("self_check", "Check the whole ledger; say what is wrong and what to do."),
    "people": Door("people", "Keep or list the names behind the words that stand for people."),
    "erase": Door("erase", "Delete a note's words or a person's name for good."),
}


class Doors(click.Group):
    """A group whose commands are imported when they are called and not before."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Name the commands in the order a day needs them."""
        return [name for name in DOORS if _present(name)]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import one command; its module holds it under the name `command`."""
        if cmd_name not in DOORS or not _present(cmd_name):
            return None
        module = importlib.import_module(f"{PACKAGE}.{DOORS[cmd_name].module}")
        command: click.Command = module.command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the table of commands without importing one."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, DOORS[name].help) for name in self.list_commands(ctx)])


def _present(name: str) -> bool:
    return importlib.util.find_spec(f"{PACKAGE}.{DOORS[name].module}") is not None


@click.command(cls=Doors, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="coatledger", message="%(package)s %(version)s")
def main() -> None:
    """Keep the books of a finishing shop: record its facts, and ask what they mean.

    Most commands speak to a running service. Its address and key are taken from --url and --key,
    else from COATLEDGER_URL and COATLEDGER_KEY, else from the file coatledger in the user's
    configuration folder (~/.config/coatledger), with lines such as url = "http://127.0.0.1:8700".

    A command ends with 0 when all is well, 1 when something was refused or not found, 2 when it
    was called wrongly and 3 when no service answered.
    """
