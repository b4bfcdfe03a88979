"""A frame as columns with types, for tools that read tables: Apache Arrow and Apache Parquet.

What stands around the numbers goes along: the title and the words in the schema's metadata, what
people read above a column in the column's. The package that writes them is optional.
"""

import importlib.util
import io
from typing import Any

from coatledger_api.charts.frame import Column, Frame
from coatledger_api.problems import ProblemError


def arrow_of(frame: Frame) -> bytes:
    """Write a frame as one Arrow IPC stream. *Reference:* the Arrow columnar format, version 1."""
    from pyarrow import ipc

    table = _table(frame)
    out = io.BytesIO()
    with ipc.new_stream(out, table.schema) as writer:
        writer.write_table(table)
    return out.getvalue()


def parquet_of(frame: Frame) -> bytes:
    """Write a frame as one Parquet file, the same bytes for the same numbers."""
    from pyarrow import parquet

    out = io.BytesIO()
    parquet.write_table(_table(frame), out, compression="zstd")
    return out.getvalue()


def require_columns() -> None:
    """Refuse where the package that writes columns is not installed."""
    if importlib.util.find_spec("pyarrow") is None:
        raise ProblemError(
            "not_acceptable",
            "this service writes no columns: install coatledger[tables], or ask for text/csv",
        )


def _table(frame: Frame) -> Any:
    import pyarrow

    fields = [_field(column) for column in frame.columns]
    around = {"title": frame.title, "says": frame.says, "notes": "\n".join(frame.notes)}
    arrays = [
        pyarrow.array([row[at] for row in frame.rows], type=field.type)
        for at, field in enumerate(fields)
    ]
    return pyarrow.Table.from_arrays(arrays, schema=pyarrow.schema(fields, metadata=around))


def _field(column: Column) -> Any:
    import pyarrow

    kinds = {
        "text": pyarrow.string(), "flag": pyarrow.bool_(), "count": pyarrow.int64(),
        "share": pyarrow.float64(), "number": pyarrow.float64(),
    }  # fmt: skip
    return pyarrow.field(column.name, kinds[column.kind], metadata={"label": column.label})
