"""`coatledger record`: a day's facts from a file, checked here and sent to the service."""

from collections.abc import Callable
from datetime import datetime
from typing import BinaryIO, get_args

import click
import msgspec
from coatledger.events.base import Source
from msgspec.structs import replace

from coatledger_api.commands.log_findings import findings_of
from coatledger_api.commands.log_lines import Form, NotALog
from coatledger_api.commands.log_read import Asked, Log, read_log
from coatledger_api.commands.log_report import LineFaults, Report, begun, tell, with_refused
from coatledger_api.commands.log_send import send
from coatledger_api.commands.reach import Failed, Misused, Refusal, Service, place_of, reaching
from coatledger_api.commands.shown import count, manner_of, say

FORBIDDEN = 403


@click.command("record")
@click.argument("log", type=click.File("rb"), default="-")
@click.option("--zone", help="Zone of times without an offset, such as Europe/Lisbon.")
@click.option(
    "--day",
    type=click.DateTime(["%Y-%m-%d"]),
    help="Day of times without a date, such as 2026-03-02.",
)
@click.option("--form", type=click.Choice(get_args(Form)), help="Form of the log, else guessed.")
@click.option(
    "--source", type=click.Choice(get_args(Source)), help="Source of lines that name none."
)
@click.option("--dry-run", is_flag=True, help="Check the lines and send nothing.")
@click.option("--json", "as_json", is_flag=True, help="Report as JSON.")
@reaching
def command(
    log: BinaryIO,
    zone: str | None,
    day: datetime | None,
    form: Form | None,
    source: str | None,
    dry_run: bool,
    as_json: bool,
    url: str | None,
    key: str | None,
) -> None:
    """Record the facts of a LOG, or of standard input.

    A log is JSON lines, one fact a line, or a table (CSV) whose first line names its columns.
    The README tells the form of both. The same line recorded twice is one fact, so the same
    command may be given again at any time.
    """
    if log.isatty():
        say("Write one fact a line; end with Ctrl-D.", aside=True)
    name = _name(log)
    asked = Asked(form, zone, day.date() if day else None, source)
    if dry_run:
        report = begun(_read(log, name, asked, lambda: None), name, dry_run=True)
        broken = None
    else:
        with Service(place_of(url, key)) as service:
            read = _read(log, name, asked, lambda: _shop_zone(service))
            report, broken = _send(service, begun(read, name, dry_run=False), read)
    if as_json:
        say(msgspec.json.format(msgspec.json.encode(report)).decode())
    else:
        tell(report)
    if broken is not None:
        say(
            f"No answer for {count(report.unsent, 'line')}. Give the same command again to go on:",
            aside=True,
        )
        say("what was recorded already is repeated and never doubled.", aside=True)
        raise broken
    if report.refused:
        raise SystemExit(Failed.exit_code)


def _name(log: BinaryIO) -> str:
    name = getattr(log, "name", None)
    return name if isinstance(name, str) and not name.startswith("<") else "standard input"


def _read(log: BinaryIO, name: str, asked: Asked, shop_zone: Callable[[], str | None]) -> Log:
    try:
        return read_log(log.read(), name, asked, shop_zone)
    except NotALog as fault:
        raise Misused(f"{name}: {fault}. Nothing was sent.") from None


def _shop_zone(service: Service) -> str | None:
    """Ask for the shop's zone; a key that may only record cannot."""
    try:
        return manner_of(service).zone.key
    except Refusal as refusal:
        if refusal.status == FORBIDDEN:
            return None
        raise


def _send(service: Service, report: Report, log: Log) -> tuple[Report, Failed | None]:
    sent = send(service, log.told())
    outcomes = [one.outcome for one in sent.answered]
    refused = tuple(LineFaults(line=line, faults=faults) for line, faults in sent.refused())
    accepted = sum(1 for o in outcomes if o.problem is None and not o.repeated)
    report = with_refused(
        replace(
            report,
            accepted=accepted,
            repeated=sum(1 for outcome in outcomes if outcome.repeated),
            unsent=report.unsent - len(outcomes),
            findings=findings_of(sent.answered),
            cautions=sent.cautions,
            position=sent.position,
        ),
        refused,
    )
    return report, sent.broken
