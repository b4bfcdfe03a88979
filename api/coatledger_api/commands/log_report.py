"""What became of a day log, line by line: for people as sentences, for machines as JSON."""

from coatledger.computations.cautions import DEFERENCE
from coatledger.refusal import Fault
from msgspec import Struct
from msgspec.structs import replace

from coatledger_api.commands.log_read import Log, ZoneFrom
from coatledger_api.commands.shown import count, say, table, words


class LineFaults(Struct, frozen=True, kw_only=True):
    """A line that was refused, and every reason."""

    line: int
    faults: tuple[Fault, ...]


class LineFinding(Struct, frozen=True, kw_only=True):
    """Something worth knowing about what a line told. It was recorded all the same."""

    line: int
    code: str
    severity: str
    says: str
    what_to_do: str


class Report(Struct, frozen=True, kw_only=True):
    """What became of a log. `unsent` lines are good and were not sent."""

    log: str
    form: str
    zone: str | None
    zone_from: ZoneFrom
    dry_run: bool
    lines: int
    accepted: int = 0
    repeated: int = 0
    refused: tuple[LineFaults, ...] = ()
    unsent: int = 0
    findings: tuple[LineFinding, ...] = ()
    cautions: tuple[str, ...] = ()
    position: int | None = None


def begun(log: Log, name: str, *, dry_run: bool) -> Report:
    """Begin a report: what the check of the lines found, before anything is sent."""
    refused = tuple(
        LineFaults(line=line.number, faults=line.faults) for line in log.lines if line.faults
    )
    return Report(
        log=name,
        form=log.form,
        zone=log.zone,
        zone_from=log.zone_from,
        dry_run=dry_run,
        lines=len(log.lines),
        refused=refused,
        unsent=len(log.lines) - len(refused),
    )


def with_refused(report: Report, refused: tuple[LineFaults, ...]) -> Report:
    """Add refused lines, in the order of the file."""
    lines = sorted((*report.refused, *refused), key=lambda one: one.line)
    return replace(report, refused=tuple(lines))


def tell(report: Report) -> None:
    """Tell a report in sentences; refused lines and findings as tables."""
    if report.lines == 0:
        say(f"{report.log} holds no fact.")
        return
    if report.zone is not None:
        say(f"Times without an offset were read as {report.zone}, from {report.zone_from}.")
    if report.dry_run:
        say(f"{count(report.unsent, 'line')} can be sent, {len(report.refused)} cannot.")
        say("Nothing was sent.")
    else:
        say(
            f"{count(report.accepted, 'line')} recorded, {report.repeated} recorded before,"
            f" {len(report.refused)} refused."
        )
    if report.refused:
        say()
        say("Refused, and not recorded:")
        table(
            ("line", "where", "why"),
            [
                (str(one.line), _where(fault.pointer), fault.detail)
                for one in report.refused
                for fault in one.faults
            ],
        )
    _tell_findings(report.findings)
    if report.cautions:
        say()
        for caution in (*report.cautions, DEFERENCE):
            say(f"Mind: {caution}")


def _tell_findings(findings: tuple[LineFinding, ...]) -> None:
    if not findings:
        return
    say()
    say(f"Recorded, with {count(len(findings), 'finding')} worth a look:")
    table(
        ("line", "finding", "weight", "what was seen", "what to do"),
        [
            (
                str(finding.line),
                words(finding.code),
                finding.severity,
                finding.says,
                finding.what_to_do,
            )
            for finding in findings
        ],
    )


def _where(pointer: str) -> str:
    return pointer.lstrip("/").replace("/", " ") or "the whole line"
