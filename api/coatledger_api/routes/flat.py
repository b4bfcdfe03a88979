"""The ledger's facts as flat tables, streamed, for whoever analyses them with other tools."""

from collections.abc import AsyncGenerator, Callable, Mapping
from functools import partial
from typing import Annotated, Any, Literal

from coatledger.answers.flat.columns import CoatRow, DefectRow, PieceRow, ReadingRow
from coatledger.answers.flat.paged import (
    Page,
    coats_told,
    defects_told,
    paged_pieces,
    paged_readings,
    piece_told,
)
from coatledger.events.base import Word
from coatledger.ledger.record import micros
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked
from msgspec import Meta, Struct

from coatledger_api.flat_files import ARROW, CSV, NDJSON, PARQUET, Written, written_as
from coatledger_api.operations import Call, Operation, Streaming, running
from coatledger_api.routes.recorded import Cursor, cursor_of, position_of
from coatledger_api.service import Service

FORMATS: Mapping[str, str] = {"ndjson": NDJSON, "csv": CSV, "arrow": ARROW, "parquet": PARQUET}
Reads = Callable[[Reader, Asked, str], Page]
BY: Mapping[type[Struct], Reads] = {
    CoatRow: lambda reader, asked, after: paged_pieces(reader, asked, after, coats_told),
    PieceRow: lambda reader, asked, after: paged_pieces(reader, asked, after, piece_told),
    DefectRow: lambda reader, asked, after: paged_pieces(reader, asked, after, defects_told),
    ReadingRow: paged_readings,
}


class TableQuery(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """In which form, and of which place in the feed."""

    format: Annotated[
        Literal["ndjson", "csv", "arrow", "parquet"] | None,
        Meta(description="The form, whatever Accept says."),
    ] = None
    cursor: Annotated[
        Cursor | None,
        Meta(description="What was recorded by this place in the feed; without it, by now."),
    ] = None


class PiecesTable(TableQuery, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Where to go on."""

    after: Annotated[Word | None, Meta(description="Begin after this piece.")] = None


class ReadingsTable(TableQuery, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Where to go on."""

    after: Annotated[int, Meta(ge=0, le=10**15, description="Begin after this position.")] = 0


def _table(path: str, row: type[Struct]) -> Callable[[Callable[..., Any]], Operation]:
    return running(
        "GET", path, tag="Numbers", scope="read", problems=("feed_rewound", "too_many_requests"),
        answers={NDJSON: row, CSV: str, ARROW: str, PARQUET: str},
    )  # fmt: skip


@_table("/v1/tables/coats", CoatRow)
async def stream_coats_table(call: Call[PiecesTable]) -> Streaming:
    """Stream every coat on every piece, one row each, joined with what was so and what came of it.

    Rows come in the order of pieces and show the ledger as it was at one place in the feed, named
    by the headers Coatledger-Position and Coatledger-Cursor, however much is recorded meanwhile. A
    download that broke off goes on with that `cursor` and `after` the last piece that came whole.
    """
    return await _streamed(call, CoatRow)


@_table("/v1/tables/pieces", PieceRow)
async def stream_pieces_table(call: Call[PiecesTable]) -> Streaming:
    """Stream every piece, one row each: what it is, when it came and left, how it did.

    Of one place in the feed, as the table of coats.
    """
    return await _streamed(call, PieceRow)


@_table("/v1/tables/defects", DefectRow)
async def stream_defects_table(call: Call[PiecesTable]) -> Streaming:
    """Stream every defect found on every piece, one row each, with the coat it was found on.

    Of one place in the feed, as the table of coats.
    """
    return await _streamed(call, DefectRow)


@_table("/v1/tables/readings", ReadingRow)
async def stream_readings_table(call: Call[ReadingsTable]) -> Streaming:
    """Stream every reading of every room's air, in the order in which they were recorded.

    `after` the last position that came, a later call gives only what is new.
    """
    return await _streamed(call, ReadingRow)


async def _streamed(call: Call[Any], kind: type[Struct]) -> Streaming:
    service, query = call.service, call.query
    form = FORMATS[query.format] if query.format else call.media_type
    written = written_as(form, kind)
    head = await service.read(lambda reader: reader.head())
    position = head.size if query.cursor is None else position_of(query.cursor, head)
    asked = Asked(now_us=micros(service.clock()), known=position)
    after = "" if query.after is None else str(query.after)
    media = f"{CSV}; charset=utf-8; header=present" if form == CSV else form
    headers = {
        "Cache-Control": "no-store",
        "Coatledger-Position": str(position),
        "Coatledger-Cursor": cursor_of(head, position),
    }
    return Streaming(_chunks(service, written, BY[kind], asked, after), media, headers)


async def _chunks(
    service: Service, written: Written, reads: Reads, asked: Asked, begin: str
) -> AsyncGenerator[bytes, None]:
    after: str | None = begin
    while after is not None:
        page = await service.read(_page(reads, asked, after))
        after = page.after
        chunk = await service.in_thread(partial(written.add, page.rows))
        if chunk:
            yield chunk
    chunk = await service.in_thread(written.end)
    if chunk:
        yield chunk


def _page(reads: Reads, asked: Asked, after: str) -> Callable[[Reader], Page]:
    return lambda reader: reads(reader, asked, after)


OPERATIONS: tuple[Operation, ...] = (
    stream_coats_table,
    stream_pieces_table,
    stream_defects_table,
    stream_readings_table,
)
