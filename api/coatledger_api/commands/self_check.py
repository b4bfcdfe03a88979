"""`coatledger self-check`: is the ledger whole, and if not, what is wrong and what to do."""

from collections.abc import Iterator
from pathlib import Path

import click
from coatledger_adapters.self_check import Report, self_check

from coatledger_api.commands.home import housed, open_ledger
from coatledger_api.commands.reach import Failed
from coatledger_api.commands.shown import count, say


@click.command("self-check")
@click.option("--mend", is_flag=True, help="Put right what can be worked out from the events.")
@housed
def command(mend: bool, home: Path, database: str | None, shop: str) -> None:
    """Check the ledger: file, positions, hashes, signed heads, and everything kept beside the log.

    Folds, counts and readings are worked out again from the events and compared byte for byte. The
    service must be stopped for a SQLite ledger; check a backup of it while it runs.
    """
    ledger = open_ledger(home, database, shop)
    try:
        report = self_check(ledger.store, ledger.heads.signer.key, mending=mend)
    finally:
        ledger.store.close()
    if not report.is_whole:
        raise Failed("\n".join(["The ledger is not whole.", *told(report)]))
    heads = count(report.heads, "signed head")
    say(f"The ledger of {shop} is whole: {count(report.size, 'event')}, {heads}.")
    say(f"Root: {report.root.hex()}")
    if report.mended:
        say("What was kept beside the log differed and was worked out again.", aside=True)


def told(report: Report) -> Iterator[str]:
    """Tell each fault, and once after the faults of a kind what to do next."""
    steps: dict[str, list[str]] = {}
    for wrong in report.wrong:
        steps.setdefault(wrong.next_step, []).append(f"  {wrong.part}: {wrong.says}")
    for step, says in steps.items():
        yield from says
        yield f"  Next: {step}."
