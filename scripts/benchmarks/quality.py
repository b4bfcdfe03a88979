"""Why pieces come back: does it find the driver, name the innocent, flag a doubling, stay quick?"""

import json
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime, timedelta
from itertools import islice
from pathlib import Path
from typing import Any

import duckdb
import numpy as np
from coatledger.answers.flow.answer import flow
from coatledger.answers.quality.table import quality
from coatledger.answers.quality.trend import trend
from coatledger.answers.quality.why import acts_of, ranked
from coatledger.computations.bernoulli_cusum import chart, design
from coatledger.events.catalogue import AnyEvent
from coatledger.ledger.record import micros, recorded
from coatledger.ledger.store import Store
from coatledger.recording.session import Request, Session
from coatledger.subjects.asked import Asked
from coatledger_adapters.migrate import migrate
from coatledger_adapters.sql_store import open_store
from long_history import BEGIN, Ids, history
from quality_shop import bad_weeks
from quality_worlds import DRIVEN, shop

SHOPS, QUIET = 200, 200
EVENTS, FIRST_SHARE = 1_000_000, 5
AT_ONCE, RUNS = 1_000, 7
USUAL, TIMES, APART = 0.06, 2.0, 2_000.0
DOUBLED = 4_000
LITTLE_SHOPS = 20


def main(arguments: Sequence[str]) -> int:
    """Measure and print; `--json` prints one object, `--shops N` and `--events N` make it short."""
    shops, events = _given(arguments, "--shops", SHOPS), _given(arguments, "--events", EVENTS)
    first, named = driver(shops), innocent(min(shops, QUIET))
    found = {
        "driver_ranked_first": first,
        "false_named": named,
        "rework_doubling_run_length_vs_theory": doubling(),
        "littles_residual_max": little(),
        **year(events),
        "shops": shops,
        "events": events,
    }
    if "--json" in arguments:
        print(json.dumps(found))
    else:
        for name, value in found.items():
            print(f"{name:<40}{value}")
    return 0


def driver(shops: int) -> float:
    """Return the share of shops whose one true driver comes first within its kind of defect."""
    first = 0
    for seed in range(shops):
        cases, true = shop(seed, driver=True)
        kinds, _ = ranked(acts_of(cases))
        mine = [kind for kind in kinds if kind.kind == DRIVEN and kind.candidates]
        first += bool(mine) and mine[0].candidates[0].fact == true
    return round(first / shops, 4)


def innocent(shops: int) -> float:
    """Return the share of shops without a driver in which anything is named."""
    named = 0
    for seed in range(10_000, 10_000 + shops):
        kinds, _ = ranked(acts_of(shop(seed, driver=False)[0]))
        named += any(kind.named for kind in kinds)
    return round(named / shops, 4)


def doubling() -> float:
    """Return the average number of pieces to the signal after a doubling, over what theory gives.

    The theory is exact (a Markov chain), so this is chance and any fault of the chart itself.
    """
    plan = design(USUAL, TIMES, APART)
    rng = np.random.default_rng(11)
    lengths = [
        chart((rng.random(3_000) < TIMES * USUAL).tolist(), plan.step, plan.bound).signals[0] + 1
        for _ in range(DOUBLED)
    ]
    return round(statistics.fmean(lengths) / plan.pieces_to_signal, 4)


def little() -> float:
    """Return the greatest residual of Little's law over simulated shops, as a share of the work."""
    worst = 0.0
    for seed in range(LITTLE_SHOPS):
        store, now = bad_weeks(seed)
        with store.reading() as reader:
            answer = flow(reader, Asked(now_us=micros(now)))
        assert answer.residual_share is not None
        worst = max(worst, answer.residual_share)
    return round(worst, 5)


def year(events: int) -> dict[str, Any]:
    """Return the milliseconds of a year's table at the longest history, how they grew since a fifth
    of it, and how they compare with DuckDB over the same events in Parquet."""
    with tempfile.TemporaryDirectory() as folder:
        address = f"sqlite:///{Path(folder) / 'ledger.db'}"
        migrate(address)
        store = open_store(address, "shop")
        try:
            stream, times = history(events, Ids()), []
            for share in (events // FIRST_SHARE, events - events // FIRST_SHARE):
                now = fill(store, islice(stream, share)) or BEGIN
                times.append(table_ms(store, now))
            beside = beside_duckdb(store, now, Path(folder))
        finally:
            store.close()
    here_ms, events_ms, pieces_ms = beside
    return {
        "year_table_ms": round(times[1], 1),
        "year_table_growth": round(times[1] / times[0], 3),
        "year_table_vs_duckdb": round(here_ms / events_ms, 3),
        "duckdb_ms": [round(events_ms, 1), round(pieces_ms, 1)],
    }


def table_ms(store: Store, now: datetime) -> float:
    """Time what a dashboard asks of the last year: tables by week and by can, and the chart."""
    asked = Asked(now_us=micros(now))

    def ask() -> None:
        with store.reading() as reader:
            quality(reader, asked, by="week")
        with store.reading() as reader:
            quality(reader, asked, by="lot")
        with store.reading() as reader:
            trend(reader, asked)

    return _median_ms(ask) / 3


def beside_duckdb(store: Store, now: datetime, folder: Path) -> tuple[float, float, float]:
    """Return milliseconds of the weekly table here, and of the same counts by DuckDB: over the
    exported events, and over a table of pieces that somebody made beforehand."""
    link = duckdb.connect()
    events, pieces = folder / "events.parquet", folder / "pieces.parquet"
    with (folder / "events.csv").open("w", encoding="utf-8") as out:
        out.writelines(exported(store))
    link.execute(
        f"copy (select * from read_csv('{folder / 'events.csv'}', header=false, columns="
        "{'seen': 'timestamp', 'type': 'varchar', 'pieces': 'varchar', 'point': 'varchar',"
        f" 'passed': 'boolean'}})) to '{events}' (format parquet)"
    )
    link.execute(f"copy ({PIECES.format(events=events)}) to '{pieces}' (format parquet)")
    since = [(now - timedelta(weeks=53)).replace(tzinfo=None)]
    asked = Asked(now_us=micros(now))

    def here() -> None:
        with store.reading() as reader:
            quality(reader, asked, by="week")

    def there(source: str) -> Callable[[], object]:
        return lambda: link.execute(TABLE.format(source=source), since).fetchall()

    return (
        _median_ms(here),
        _median_ms(there(f"({PIECES.format(events=events)})")),
        _median_ms(there(f"read_parquet('{pieces}')")),
    )


# Each piece once, at its first final inspection, as the ledger counts it.
PIECES = """
    with seen as (select seen, type, point, passed, unnest(string_split(pieces, ' ')) as piece
                  from read_parquet('{events}') where pieces is not null),
    firsts as (select piece, min(seen) as counted_at, arg_min(passed, seen) as passed
               from seen where type = 'inspected' and point = 'final' group by piece),
    fates as (select piece, min(seen) filter (type = 'rework_started') as reworked_at,
                     min(seen) filter (type = 'scrapped') as scrapped_at
              from seen where type in ('rework_started', 'scrapped') group by piece)
    select coalesce(counted_at, scrapped_at) as counted_at, reworked_at is not null as reworked,
           passed and (reworked_at is null or reworked_at > counted_at) as passed,
           scrapped_at is not null as scrapped
    from firsts full join fates using (piece)
"""
TABLE = (
    "select yearweek(counted_at), count(*), sum(passed::int), sum(reworked::int),"
    " sum(scrapped::int) from {source} where counted_at >= ? group by 1 order by 1"
)


def exported(store: Store) -> Iterator[str]:
    """Yield each event as an analyst would have it: when, what, of which pieces, how judged."""
    with store.reading() as reader:
        after, size = 0, reader.head().size
        while after < size:
            rows = reader.rows(after, 5_000)
            for row in rows:
                event = recorded(row).event
                pieces = " ".join(getattr(event, "pieces", ()))
                point, passed = getattr(event, "point", ""), getattr(event, "passed", "")
                when = event.occurred_at.replace(tzinfo=None)
                yield f"{when},{row.type},{pieces},{point},{passed}\n"
            after = rows[-1].position


def fill(store: Store, events: Iterator[AnyEvent]) -> datetime | None:
    """Record a history in large batches; return when its last fact happened."""
    now = None
    while group := tuple(islice(events, AT_ONCE)):
        now = max(event.occurred_at for event in group)
        with store.writing() as writer:
            session = Session(writer, store.shop, now, lambda: b"0123456789abcdef")
            session.take(Request(events=group, by="measure"))
            writer.write(session.changes())
    return now


def _median_ms(call: Callable[[], object]) -> float:
    times = []
    for _ in range(RUNS):
        begun = time.perf_counter()
        call()
        times.append((time.perf_counter() - begun) * 1000)
    return statistics.median(times)


def _given(arguments: Sequence[str], name: str, otherwise: int) -> int:
    return int(arguments[arguments.index(name) + 1]) if name in arguments else otherwise
