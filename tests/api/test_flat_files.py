"""Files of rows written as they come: whole when put together, and of any length in little room."""

from __future__ import annotations

import io
import os
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import UUID

import pytest
from coatledger.answers.flat.columns import CoatRow
from coatledger_api.flat_files import ARROW, CSV, NDJSON, PARQUET, written_as
from msgspec import json
from pyarrow import ipc, parquet

FORMS = (NDJSON, CSV, ARROW, PARQUET)
ROWS, A_PAGE = 200_000, 1_000
GROWTH_MB_MAX = 50
STATM = Path("/proc/self/statm")


def coat(number: int) -> CoatRow:
    at = datetime(2026, 3, 2, 9, tzinfo=UTC) + timedelta(minutes=number)
    return CoatRow(
        piece=f"P-{number}", coat_number=1, event=UUID(int=number), at=at, ended_at=None,
        kind="shelf", wood="white-oak", schedule=None, order=None, product="clear-w",
        lot=f"can-{number % 97}", gun="g1", room="spray", person=None, role="top", method="hvlp",
        faces="show edges", wet_film_um=100.0 + number % 7, share_l=number / 7, in_rework=False,
        blown_off_by="vacuum", cloth=None, waited_h=None, air_c=20.5, rh_pct=None,
        defects='nib "and" more, or not', reworked=number % 3 == 0,
    )  # fmt: skip


def pages(rows: int) -> Iterator[list[CoatRow]]:
    for first in range(0, rows, A_PAGE):
        yield [coat(number) for number in range(first, min(rows, first + A_PAGE))]


@pytest.mark.parametrize("form", FORMS)
def test_pages_put_together_are_one_file(form: str) -> None:
    written = written_as(form, CoatRow)
    body = b"".join([*(written.add(page) for page in pages(2_500)), written.end()])
    if form == NDJSON:
        told = [json.decode(line, type=CoatRow) for line in body.splitlines()]
        assert told == [coat(number) for number in range(2_500)]
    elif form == CSV:
        assert body.count(b"\r\n") == 2_501
        assert b'"nib ""and"" more, or not"' in body
    else:
        file = io.BytesIO(body)
        table = ipc.open_stream(file).read_all() if form == ARROW else parquet.read_table(file)
        assert table.column("piece").to_pylist() == [f"P-{n}" for n in range(2_500)]
        assert table.column("share_l").to_pylist() == [n / 7 for n in range(2_500)]


@pytest.mark.skipif(not STATM.exists(), reason="the memory of a process is read from Linux")
@pytest.mark.parametrize("form", FORMS)
def test_two_hundred_thousand_rows_need_the_room_of_a_few_pages(form: str) -> None:
    written = written_as(form, CoatRow)
    (page,) = pages(A_PAGE)
    for _ in range(40):  # whatever is loaded and allotted once
        written.add(page)
    before, most, sent = resident_mb(), 0.0, 0
    for _ in range(ROWS // A_PAGE):
        sent += len(written.add(page))
        most = max(most, resident_mb())
    assert sent > 100_000
    assert most - before < GROWTH_MB_MAX


def resident_mb() -> float:
    return int(STATM.read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6
