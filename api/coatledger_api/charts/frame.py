"""The numbers of one answer as one flat table, from which every other form is made."""

import csv
import io
from collections.abc import Sequence
from html import escape
from typing import Any, Literal

from msgspec import Struct

from coatledger_api.pages import page

Kind = Literal["text", "flag", "count", "share", "number"]
Cell = str | int | float | bool | None


class Column(Struct, frozen=True):
    """One column: its name in the data, what people read above it, and what it holds."""

    name: str
    label: str
    kind: Kind = "text"


class Frame(Struct, frozen=True, kw_only=True):
    """A table with its title, what it says in words, and what its words mean."""

    title: str
    says: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    notes: tuple[str, ...] = ()

    def records(self) -> list[dict[str, Any]]:
        """Return the rows by the names of their columns."""
        names = [column.name for column in self.columns]
        return [dict(zip(names, row, strict=True)) for row in self.rows]


def csv_of(frame: Frame) -> bytes:
    """Write a frame as RFC 4180 says, with a header; nothing is an empty cell."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(column.name for column in frame.columns)
    writer.writerows([_plain(cell) for cell in row] for row in frame.rows)
    return out.getvalue().encode()


def html_of(frame: Frame) -> bytes:
    """Write a frame as a page with one table that a screen reader can go through."""
    return page(f"coatledger: {frame.title}", f"<h1>{escape(frame.title)}</h1>{table_of(frame)}")


def table_of(frame: Frame) -> str:
    """Write the table alone: caption, a header for each column and row, and the notes."""
    if not frame.rows:
        return f"<p>{escape(frame.says)}</p>{_notes(frame.notes)}"
    head = "".join(f'<th scope="col">{escape(column.label)}</th>' for column in frame.columns)
    body = "".join(f"<tr>{_cells(frame.columns, row)}</tr>" for row in frame.rows)
    return (
        f'<div class="wide"><table class="numbers"><caption>{escape(frame.says)}</caption>'
        f"<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>{_notes(frame.notes)}"
    )


def _cells(columns: Sequence[Column], row: Sequence[Cell]) -> str:
    first, *rest = zip(columns, row, strict=True)
    head = f'<th scope="row">{escape(words_of(first[0], first[1]))}</th>'
    return head + "".join(
        f'<td class="{column.kind}">{escape(words_of(column, cell))}</td>' for column, cell in rest
    )


def words_of(column: Column, cell: Cell) -> str:
    """Write one cell for people."""
    if cell is None:
        return "not said" if column.kind == "text" else "–"
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, str):
        return cell.replace("_", " ") if column.kind == "text" else cell
    if column.kind == "share":
        return f"{100 * cell:.1f} %"
    return f"{cell:,}" if isinstance(cell, int) else f"{cell:,.3g}"


def _notes(notes: Sequence[str]) -> str:
    return "".join(f'<p class="quiet">{escape(note)}</p>' for note in notes)


def _plain(cell: Cell) -> Cell:
    if isinstance(cell, bool):
        return "true" if cell else "false"
    return cell
