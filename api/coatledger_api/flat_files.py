"""Writes rows of one struct as they come, as files: lines of JSON, CSV, Arrow or Parquet.

What was written is taken away at once, so that a file of any length needs the room of a page.
"""

import csv
import io
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from types import UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

from msgspec import Struct
from msgspec.json import Encoder

from coatledger_api.charts.columnar import require_columns

NDJSON, CSV = "application/x-ndjson", "text/csv"
ARROW, PARQUET = "application/vnd.apache.arrow.stream", "application/vnd.apache.parquet"
# A group of rows is what a reader of Parquet fetches at once, and what a writer has to hold.
GROUP_ROWS = 20_000
_LINES = Encoder()


class Lines:
    """One JSON object a line."""

    def __init__(self, kind: type[Struct]) -> None:
        """Nothing stands before the first line."""

    def add(self, rows: Sequence[Struct]) -> bytes:
        """Write some rows; return what is to be sent."""
        return _LINES.encode_lines(rows)

    def end(self) -> bytes:
        """Return what is left to be sent."""
        return b""


class Comma:
    """RFC 4180 with a header; nothing said is an empty cell."""

    def __init__(self, kind: type[Struct]) -> None:
        self._names = kind.__struct_fields__
        self._out = io.StringIO()
        self._writer = csv.writer(self._out, lineterminator="\r\n")
        self._writer.writerow(self._names)

    def add(self, rows: Sequence[Struct]) -> bytes:
        """Write some rows; return what is to be sent."""
        self._writer.writerows([_cell(getattr(row, n)) for n in self._names] for row in rows)
        return self.end()

    def end(self) -> bytes:
        """Return what is left to be sent."""
        text = self._out.getvalue()
        self._out.seek(0)
        self._out.truncate()
        return text.encode()


class Columns:
    """Arrow's stream, or Parquet: batches of columns with types."""

    def __init__(self, kind: type[Struct], form: str) -> None:
        import pyarrow
        from pyarrow import ipc, parquet

        self._schema = schema_of(kind)
        self._out = _Drained()
        self._waiting: list[Struct] = []
        self._batch = pyarrow.RecordBatch
        self._array = pyarrow.array
        self._writer: Any
        if form == ARROW:
            self._writer, self._at_once = ipc.new_stream(self._out, self._schema), 1
        else:
            self._writer = parquet.ParquetWriter(self._out, self._schema, compression="zstd")
            self._at_once = GROUP_ROWS

    def add(self, rows: Sequence[Struct]) -> bytes:
        """Take some rows; return what is to be sent by now, which may be nothing."""
        self._waiting += rows
        if len(self._waiting) >= self._at_once:
            self._write()
        return self._out.taken()

    def end(self) -> bytes:
        """Return what is left to be sent, and the file's end."""
        if self._waiting:
            self._write()
        self._writer.close()
        return self._out.taken()

    def _write(self) -> None:
        arrays = [
            self._array([_plain(getattr(row, field.name)) for row in self._waiting], field.type)
            for field in self._schema
        ]
        self._writer.write_batch(self._batch.from_arrays(arrays, schema=self._schema))
        self._waiting = []


class _Drained(io.RawIOBase):
    """A file of which only what is new is kept."""

    def __init__(self) -> None:
        self._new: list[bytes] = []

    def writable(self) -> bool:
        """It takes bytes."""
        return True

    def write(self, data: Any) -> int:
        """Keep a copy until it is taken: the writer uses its room again."""
        self._new.append(bytes(data))
        return len(self._new[-1])

    def taken(self) -> bytes:
        """Give what is new."""
        taken, self._new = b"".join(self._new), []
        return taken


Written = Lines | Comma | Columns


def written_as(form: str, kind: type[Struct]) -> Written:
    """Return what writes rows of a struct in a form, or refuse where its package is missing."""
    if form in (ARROW, PARQUET):
        require_columns()
        return Columns(kind, form)
    forms: Mapping[str, Callable[[type[Struct]], Written]] = {NDJSON: Lines, CSV: Comma}
    return forms[form](kind)


def schema_of(kind: type[Struct]) -> Any:
    """Return the columns of a struct with their types; what its words mean goes along."""
    import pyarrow

    types = {
        str: pyarrow.string(), int: pyarrow.int64(), float: pyarrow.float64(),
        bool: pyarrow.bool_(), datetime: pyarrow.timestamp("us", tz="UTC"),
    }  # fmt: skip
    hints = get_type_hints(kind)
    fields = []
    for name in kind.__struct_fields__:
        bare = hints[name]
        optional = get_origin(bare) in (Union, UnionType)
        if optional:
            bare = next(one for one in get_args(bare) if one is not type(None))
        fields.append(pyarrow.field(name, types.get(bare, pyarrow.string()), nullable=optional))
    return pyarrow.schema(fields, metadata={"says": kind.__doc__ or ""})


def _plain(value: Any) -> Any:
    """Ids are words in a table."""
    return value if isinstance(value, (str, int, float, datetime, type(None))) else str(value)


def _cell(value: Any) -> Any:
    if isinstance(value, bool):
        return "true" if value else "false"
    return value.isoformat() if isinstance(value, datetime) else value
