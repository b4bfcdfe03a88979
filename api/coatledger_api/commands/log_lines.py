"""The lines of a day log: JSON lines, or a table (CSV) whose first line names its columns.

Empty lines and lines that begin with `#` are skipped. Each line keeps its number, so that whoever
wrote the file finds it again.
"""

import csv
import difflib
import functools
from collections.abc import Iterator, Mapping
from typing import Literal, NamedTuple

import msgspec
from coatledger.events.catalogue import EVENT_TYPES
from coatledger.refusal import Fault

from coatledger_api.commands.log_fields import bare, kinds_of
from coatledger_api.commands.log_units import meant

Form = Literal["jsonl", "csv"]
LINE_CHARACTERS_MAX = 1_000_000


class NotALog(Exception):  # noqa: N818 - the house word
    """The file as a whole cannot be read; nothing of it is sent."""


class Line(NamedTuple):
    """One line: what its cells or members say, or why it cannot be read at all."""

    number: int
    given: Mapping[str, object]
    faults: tuple[Fault, ...] = ()


def text_of(raw: bytes) -> str:
    """Decode the file, with or without the mark that spreadsheets put first."""
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = raw[: fault.start].count(b"\n") + 1
        raise NotALog(f"line {line} is not UTF-8 text: save the file as UTF-8") from None


def form_of(text: str, name: str) -> Form:
    """Tell JSON lines from a table, by the file's name or else by its first character."""
    if name.endswith((".csv", ".tsv")):
        return "csv"
    if name.endswith((".jsonl", ".ndjson", ".json")):
        return "jsonl"
    first = next((line for line in text.splitlines() if not _skipped(line)), "")
    return "jsonl" if first.lstrip().startswith("{") else "csv"


def lines_of(text: str, form: Form) -> Iterator[Line]:
    """Yield the lines that say something."""
    return _json_lines(text) if form == "jsonl" else _table(text)


def _skipped(line: str) -> bool:
    return not line.strip() or line.lstrip().startswith("#")


def _json_lines(text: str) -> Iterator[Line]:
    for number, line in enumerate(text.split("\n"), 1):
        if _skipped(line):
            continue
        try:
            value = msgspec.json.decode(line.encode())
        except (msgspec.DecodeError, RecursionError) as fault:
            yield Line(number, {}, (_fault("malformed", f"not readable as JSON: {fault}"),))
            continue
        if isinstance(value, dict):
            yield Line(number, value)
        else:
            yield Line(number, {}, (_fault("invalid", "a line is one JSON object, a fact"),))


def _table(text: str) -> Iterator[Line]:
    rows = csv.reader(text.splitlines(keepends=True), delimiter=_delimiter(text), strict=True)
    header: tuple[str, ...] | None = None
    begun = 1
    while True:
        try:
            row = next(rows, None)
        except csv.Error as fault:
            raise NotALog(f"the table breaks in line {rows.line_num}: {fault}") from None
        if row is None:
            break
        number, begun = begun, rows.line_num + 1
        if not any(cell.strip() for cell in row) or row[0].lstrip().startswith("#"):
            continue
        if header is None:
            header = _header(row)
            continue
        yield _row(number, header, row)
    if header is None:
        raise NotALog("the file holds no line: a table begins with a line that names its columns")


def _delimiter(text: str) -> str:
    first = next((line for line in text.splitlines() if not _skipped(line)), "")
    return next((mark for mark in "\t,;" if mark in first), ",")


def _header(row: list[str]) -> tuple[str, ...]:
    columns = tuple(cell.strip() for cell in row)
    known = columns_known()
    for column in columns:
        if meant(column, known) is None:
            near = difflib.get_close_matches(column, known, n=1)
            hint = f"; did you mean {near[0]}?" if near else ""
            raise NotALog(f"the column {column!r} is a field of no event{hint}")
        if columns.count(column) > 1:
            raise NotALog(f"the column {column!r} stands there twice")
    if "type" not in columns:
        raise NotALog("the column `type` is missing: it says which event a line is")
    return columns


def _row(number: int, header: tuple[str, ...], row: list[str]) -> Line:
    if len(row) > len(header):
        detail = f"{len(row)} cells under {len(header)} columns: put quotes round a comma"
        return Line(number, {}, (_fault("invalid", detail),))
    cells = zip(header, row, strict=False)
    return Line(number, {column: cell.strip() for column, cell in cells if cell.strip()})


def _fault(rule: str, detail: str) -> Fault:
    return Fault(rule=rule, pointer="", detail=detail)


@functools.cache
def columns_known() -> tuple[str, ...]:
    """Every column some event has, its own or of the structs inside it."""
    found: dict[str, None] = {"type": None}
    for event in EVENT_TYPES:
        for name, kind in kinds_of(event).items():
            found[name] = None
            item = bare(kind.item_type) if isinstance(kind, msgspec.inspect.VarTupleType) else None
            if isinstance(item, msgspec.inspect.StructType):
                found.update(dict.fromkeys(kinds_of(item.cls)))
    return tuple(found)
