"""Whatever the ledger accepts, clocks and findings answer: bad sheets and wild readings too."""

from datetime import timedelta
from typing import Any, get_args

from bench import Bench, on_day
from coatledger.clocks.clocks import piece_clock
from coatledger.events import setup
from coatledger.events.base import Fact
from coatledger.events.coating import CoatApplied, DrynessChecked, Method, Turned
from coatledger.events.leaving import Packed, Shipped
from coatledger.events.preparing import Sanded, Stained
from coatledger.events.room_gun import GunSetUp
from coatledger.findings.find import findings_of_piece
from coatledger.findings.shop import open_findings_of_shop
from hypothesis import given
from hypothesis import strategies as st
from judged import judge


def numbers(low: float, high: float) -> st.SearchStrategy[float]:
    return st.integers(round(low * 1000), round(high * 1000)).map(lambda n: n / 1000)


HOURS = st.none() | numbers(0.001, 20_000)
SHEETS = st.fixed_dictionaries(
    {"kind": st.sampled_from(get_args(setup.ProductKind))},
    optional={
        "reference_air_c": numbers(-60, 120),
        "reference_rh_pct": numbers(0, 100),
        "reference_wet_film_um": numbers(0.001, 5000),
        "touch_dry_h": HOURS,
        "tack_free_h": HOURS,
        "recoat_h": HOURS,
        "recoat_max_h": HOURS,
        "wrap_h": HOURS,
        "cure_h": HOURS,
        "mfft_c": numbers(-60, 120),
        "burns_in": st.booleans(),
        "wet_film_max_um": numbers(0.001, 5000),
    },
)
AIR = st.lists(st.tuples(numbers(-60, 120), numbers(0, 100), st.none() | numbers(-60, 120)))
WORK: st.SearchStrategy[tuple[type[Fact], dict[str, Any]]] = st.one_of(
    st.fixed_dictionaries(
        {
            "lot": st.sampled_from(["can-x", "can-9"]),
            "method": st.sampled_from(get_args(Method)),
            "faces": st.sampled_from([("all",), ("show",), ("underside", "edges")]),
        },
        optional={
            "wet_film_um": numbers(0.001, 5000),
            "amount_l": numbers(0.001, 1000),
            "room": st.sampled_from(["wild", "attic"]),
        },
    ).map(lambda f: (CoatApplied, f)),
    st.sampled_from(["water_borne", "oil_based", "none"]).map(
        lambda b: (Stained, {"binder": b, "room": "wild"})
    ),
    st.booleans().map(lambda r: (DrynessChecked, {"stage": "sandable", "ready": r})),
    st.sampled_from([12, 150, 237, 5000]).map(
        lambda g: (Sanded, {"stage": "between_coats", "grit": g})
    ),
    st.just((Turned, {"resting_on": "points"})),
    st.just((Packed, {"touching": "bubble"})),
    st.just((Shipped, {})),
)


@given(sheet=SHEETS, air=AIR, work=st.lists(WORK, max_size=6), step=st.sampled_from([0, 1, 7, 300]))
def test_nothing_the_ledger_accepts_stops_a_clock_or_a_finding(
    sheet: dict[str, Any], air: list[Any], work: list[tuple[type[Fact], dict[str, Any]]], step: int
) -> None:
    bench = Bench()
    bench.record(setup.ProductDescribed, product="x", **sheet)
    bench.can("can-x", "x")
    bench.pieces("T-1", "T-2", species="mystery_wood")
    for i, (air_c, rh_pct, surface_c) in enumerate(air):
        bench.later(0.3 * i).climate(air_c, rh_pct, room="wild", surface_c=surface_c)
    bench.take(bench.fact(GunSetUp, gun="g", lot="can-x", nozzle_mm=1.3))
    for kind, fields in work:
        fact = bench.later(step).fact(kind, pieces=("T-1", "T-2"), **fields)
        if bench.view().piece("T-1").stage in ("packed", "shipped") and kind is not Shipped:
            continue
        if bench.view().piece("T-1").stage == "shipped":
            continue
        judge(bench, fact)
        bench.take(fact)
    bench.later(2)
    with bench.store.reading() as reader:
        found = findings_of_piece(reader, "T-1", as_of_us=bench.now_us)
    assert all(finding.at - timedelta(days=1) < bench.now for finding in found)
    view = bench.view()
    piece_clock(view, view.piece("T-1"), bench.now_us)
    open_findings_of_shop(view, bench.now_us)
    assert on_day("1 07:00") <= bench.now
