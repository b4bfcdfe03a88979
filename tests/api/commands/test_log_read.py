"""Reading a day log: what a person writes becomes the facts the ledger takes."""

from __future__ import annotations

from datetime import UTC, datetime

import msgspec
import pytest
from coatledger.events.catalogue import EventAmended
from coatledger.events.coating import CoatApplied
from coatledger.events.finish import LotMixed
from coatledger.events.preparing import Sanded
from coatledger.events.room_gun import ClimateRead
from coatledger.events.setup import OfferingDescribed, ShopDescribed
from coatledger.ledger.normal import normal_form
from coatledger_api.commands.log_check import Checked
from coatledger_api.commands.log_lines import NotALog
from coatledger_api.commands.log_read import Asked, Log, read_log
from hypothesis import given
from hypothesis import strategies as st

LISBON = Asked(zone="Europe/Lisbon")


def read(text: str, asked: Asked = LISBON, name: str = "-", service: str | None = None) -> Log:
    return read_log(text.encode(), name, asked, lambda: service)


def only(text: str, asked: Asked = LISBON) -> Checked:
    (line,) = read(text, asked).lines
    return line


def why(text: str, asked: Asked = LISBON) -> list[tuple[str, str]]:
    line = only(text, asked)
    assert line.fact is None
    return [(fault.pointer, fault.detail) for fault in line.faults]


def test_a_table_is_read_by_the_types_of_its_events() -> None:
    log = read(
        "type,occurred_at,pieces,grit,stage,wet,note\n"
        'sanded,2026-03-02 08:30,T-1 T-2;T-3,150,bare,no,"by hand, mostly"\n'
        "\n"
        "# noon\n"
        "blown_off,2026-03-02 12:00,T-1,,,,\n"
    )
    first, second = log.lines
    assert isinstance(first.fact, Sanded)
    assert first.fact.pieces == ("T-1", "T-2", "T-3")
    assert (first.fact.grit, first.fact.wet) == (150, False)
    assert first.fact.note == "by hand, mostly"
    assert first.fact.occurred_at == datetime(2026, 3, 2, 8, 30, tzinfo=UTC)
    assert second.number == 5
    assert [fault.pointer for fault in second.faults] == ["/by"]


def test_us_columns_are_converted_exactly_to_three_decimals() -> None:
    fact = only(
        "type,occurred_at,pieces,lot,wet_film_mil,amount_floz\n"
        "coat_applied,2026-03-02 08:30,T-1,can-1,4,12\n"
    ).fact
    assert isinstance(fact, CoatApplied)
    assert fact.wet_film_um == 101.6  # 4 x 25.4
    assert fact.amount_l == 0.355  # 12 x 231/128 cubic inches of 0.016387064 L: 0.354882


def test_one_reading_may_stand_in_columns_of_its_own() -> None:
    fact = only(
        "type,occurred_at,room,air_f,rh_pct\nclimate_read,2026-03-02 08:30,spray,70,55\n"
    ).fact
    assert isinstance(fact, ClimateRead)
    (reading,) = fact.readings
    assert (reading.air_c, reading.rh_pct) == (21.111, 55.0)


def test_several_readings_stand_in_one_cell_with_their_own_clock_times() -> None:
    fact = only(
        "type,occurred_at,ended_at,room,readings\n"
        "climate_read,2026-07-02 08:30,11:00,spray,"
        "air_c=21 rh_pct=50 at=8:30; air_f=70 rh_pct=55 at=10:30\n"
    ).fact
    assert isinstance(fact, ClimateRead)
    assert fact.ended_at == datetime(2026, 7, 2, 10, 0, tzinfo=UTC)
    assert [r.at for r in fact.readings] == [
        datetime(2026, 7, 2, 7, 30, tzinfo=UTC),
        datetime(2026, 7, 2, 9, 30, tzinfo=UTC),
    ]
    assert [r.air_c for r in fact.readings] == [21.0, 21.111]


def test_hours_parents_and_options_have_a_short_form() -> None:
    shop, mix, offer = (
        line.fact
        for line in read(
            "type\toccurred_at\tzone\thours\tlot\tproduct\tparents\toffering\tskus\tschedule\toptions\n"
            "shop_described\t2026-03-01 07:00\tEurope/Lisbon\t"
            "day=mon opens=07:00 closes=12:00; day=tue opens=07:00 closes=17:00\n"
            "lot_mixed\t2026-03-02 08:00\t\t\tmix-1\tclear-w\t"
            "lot=can-1 amount_l=1; lot=can-2 amount_floz=4 part=reducer\n"
            "offering_described\t2026-03-02 08:00\t\t\t\t\t\tbox\tB-1 B-2\ts-1\t"
            "sheen=matte|satin lid=hinged\n"
        ).lines
    )
    assert isinstance(shop, ShopDescribed)
    assert [(h.day, h.closes) for h in shop.hours] == [("mon", "12:00"), ("tue", "17:00")]
    assert isinstance(mix, LotMixed)
    assert [(p.lot, p.amount_l, p.part) for p in mix.parents] == [
        ("can-1", 1.0, "base"),
        ("can-2", 0.118, "reducer"),
    ]
    assert isinstance(offer, OfferingDescribed)
    assert offer.options == {"sheen": ("matte", "satin"), "lid": ("hinged",)}


def test_a_table_with_semicolons_between_cells_is_read_too() -> None:
    fact = only("type;occurred_at;pieces\npolished;2026-03-02 08:30;T-1 T-2\n").fact
    assert getattr(fact, "pieces", None) == ("T-1", "T-2")


def test_json_lines_are_strict_but_for_times_lists_and_units() -> None:
    good, text_for_a_number = read(
        '{"type":"coat_applied","occurred_at":"2026-03-02T08:30","pieces":"T-1 T-2","lot":"c",'
        '"wet_film_mil":4}\n'
        '{"type":"coat_applied","occurred_at":"2026-03-02T08:30Z","pieces":["T-1"],"lot":"c",'
        '"wet_film_um":"100"}\n'
    ).lines
    assert isinstance(good.fact, CoatApplied)
    assert (good.fact.pieces, good.fact.wet_film_um) == (("T-1", "T-2"), 101.6)
    assert [fault.pointer for fault in text_for_a_number.faults] == ["/wet_film_um"]


def test_the_same_fact_in_either_form_has_the_same_id() -> None:
    table = "type,occurred_at,room,air_c,rh_pct\nclimate_read,2026-07-02 08:30,spray,21,50\n"
    line = (
        '{"readings":[{"rh_pct":50.0,"air_c":21}],"room":"spray","type":"climate_read",'
        '"occurred_at":"2026-07-02T07:30:00Z","source":"bench"}'
    )
    first, second = only(table).fact, only(line).fact
    assert first is not None
    assert second is not None
    assert first.id == second.id
    assert first.id.version == 7


def test_another_fact_has_another_id() -> None:
    ids = {
        only(f"type,occurred_at,pieces\n{row}\n").fact
        for row in (
            "polished,2026-03-02 08:30,T-1",
            "polished,2026-03-02 08:31,T-1",
            "polished,2026-03-02 08:30,T-2",
            "released,2026-03-02 08:30,T-1",
        )
    }
    assert len({fact.id for fact in ids if fact is not None}) == 4


def test_an_id_that_is_given_stays() -> None:
    word = "01920000-0000-7000-8000-000000000001"
    fact = only(f"type,id,occurred_at,pieces\npolished,{word},2026-03-02 08:30,T-1\n").fact
    assert fact is not None
    assert str(fact.id) == word


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("2026-10-25 01:30", "there twice"),
        ("2026-03-29 01:30", "never there"),
        ("2026-02-30 08:00", "no time of the calendar"),
        ("2026-03-02", "is no time"),
        ("tomorrow", "is no time"),
        ("08:30", "names no day"),
        ("25:30", "names no day"),
    ],
)
def test_a_time_that_means_no_moment_is_refused(text: str, says: str) -> None:
    assert says in dict(why(f"type,occurred_at,pieces\npolished,{text},T-1\n"))["/occurred_at"]


def test_the_day_may_be_given_once_for_the_whole_log() -> None:
    asked = LISBON._replace(day=datetime(2026, 7, 2, tzinfo=UTC).date())
    fact = only("type,occurred_at,pieces\npolished,8:30,T-1\n", asked).fact
    assert fact is not None
    assert fact.occurred_at == datetime(2026, 7, 2, 7, 30, tzinfo=UTC)


def test_the_zone_is_the_callers_then_the_logs_then_the_services() -> None:
    log = (
        "type,occurred_at,zone,hours\n"
        "shop_described,2026-07-02 08:30,Europe/Lisbon,day=mon opens=07:00 closes=12:00\n"
    )
    assert read(log, Asked(zone="Asia/Tokyo")).zone == "Asia/Tokyo"
    assert read(log, Asked(), service="Asia/Tokyo").zone == "Europe/Lisbon"
    rest = "type,occurred_at,pieces\npolished,2026-07-02 08:30,T-1\n"
    assert read(rest, Asked(), service="Asia/Tokyo").zone_from == "the service"
    (fault,) = read(rest, Asked()).lines[0].faults
    assert "give --zone" in fault.detail


def test_a_line_tells_every_one_of_its_faults() -> None:
    faults = dict(
        why(
            "type,occurred_at,pieces,grit,stage,wet,lot\n"
            "sanded,2026-03-02 08:30,T-1 T/2,fine,bear,perhaps,can-1\n"
        )
    )
    assert set(faults) == {"/pieces/1", "/grit", "/stage", "/wet", "/lot"}
    assert "whole number" in faults["/grit"]
    assert "yes nor no" in faults["/wet"]


def test_faults_of_one_line_leave_the_others() -> None:
    log = read(
        '{"type":"polished","occurred_at":"2026-03-02T08:30Z","pieces":["T-1"]}\n'
        "{oops\n"
        "[1]\n"
        '{"type":"polisht","occurred_at":"2026-03-02T08:30Z","pieces":["T-1"]}\n'
        '{"type":"released","occurred_at":"2026-03-02T08:30Z","pieces":["T-1"]}\n'
    )
    assert [line.fact is not None for line in log.lines] == [True, False, False, False, True]
    assert "did you mean `polished`?" in log.lines[3].faults[0].detail


def test_a_number_with_more_than_three_decimals_and_an_end_before_its_beginning_are_refused() -> (
    None
):
    long = why(
        "type,occurred_at,room,air_c,rh_pct\nclimate_read,2026-03-02 08:30,spray,21.1234,50\n"
    )
    assert long == [("/readings/0/air_c", "a quantity has at most 3 decimals")]
    turned = why("type,occurred_at,ended_at,pieces\npolished,2026-03-02 08:30,08:00,T-1\n")
    assert turned[0][0] == "/ended_at"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("type,occurred_at,pices\n", "did you mean pieces?"),
        ("occurred_at,pieces\n", "`type` is missing"),
        ("type,type\n", "twice"),
        ('type,note\npolished,"open\n', "breaks in line"),
        ("type,occurred_at,\n", "field of no event"),
        ("", "no line"),
    ],
)
def test_a_table_that_cannot_be_read_as_a_whole_is_refused_as_a_whole(text: str, says: str) -> None:
    with pytest.raises(NotALog, match=says.replace("?", r"\?")):
        read(text, name="day.csv")


def test_a_file_in_another_encoding_and_an_unknown_zone_are_refused() -> None:
    with pytest.raises(NotALog, match="line 2 is not UTF-8"):
        read_log("type\nsch\xf6n".encode("latin-1"), "-", LISBON, lambda: None)
    with pytest.raises(NotALog, match="no zone"):
        read("type\n", Asked(zone="Mars/Base"))


def test_a_spreadsheets_mark_and_its_line_ends_do_no_harm() -> None:
    raw = "\ufefftype,occurred_at,pieces\r\npolished,2026-03-02 08:30,T-1\r\n".encode()
    (line,) = read_log(raw, "day.csv", LISBON, lambda: None).lines
    assert (line.number, line.fact is not None) == (2, True)


def test_too_many_cells_in_a_line_are_told() -> None:
    faults = why("type,occurred_at,pieces\npolished,2026-03-02 08:30,T-1,T-2\n")
    assert "4 cells under 3 columns" in faults[0][1]


def test_facts_are_told_in_the_order_they_happened_and_corrections_last() -> None:
    log = read(
        "type,occurred_at,pieces,original\n"
        "event_voided,2026-03-02 07:00,,01920000-0000-7000-8000-000000000001\n"
        "polished,2026-03-02 09:00,T-1,\n"
        "polished,2026-03-02 08:00,T-2,\n"
        "released,2026-03-02 08:00,T-1,\n"
    )
    assert [number for number, _ in log.told()] == [4, 5, 3, 2]


def test_a_replacement_may_leave_out_the_id_it_must_have() -> None:
    word = "01920000-0000-7000-8000-000000000001"
    fact = only(
        f'{{"type":"event_amended","occurred_at":"2026-03-02T09:00","original":"{word}",'
        '"replacement":{"type":"polished","occurred_at":"2026-03-02T08:00","pieces":"T-1"}}'
    ).fact
    assert isinstance(fact, EventAmended)
    assert str(fact.replacement.id) == word


@given(st.text(max_size=200))
def test_no_text_makes_the_reader_fail_in_another_way(text: str) -> None:
    for name in ("a.csv", "a.jsonl"):
        try:
            log = read(text, name=name)
        except NotALog:
            continue
        for line in log.lines:
            assert (line.fact is None) == bool(line.faults)


CELLS = st.sampled_from(["", "T-1", "21", "a=1", "a=1;b", "[1", '{"a":1}', "[[]]", "yes", "8:30"])


@given(st.lists(CELLS, min_size=7, max_size=7))
def test_no_cells_make_the_reader_fail_in_another_way(cells: list[str]) -> None:
    columns = "type,occurred_at,readings,pieces,options,replacement,air_f"
    for tag in ("climate_read", "event_amended", "offering_described", "order_taken"):
        row = ",".join('"' + cell.replace('"', '""') + '"' for cell in (tag, *cells[1:]))
        line = only(f"{columns}\n{row}\n")
        assert (line.fact is None) == bool(line.faults)
        if line.fact is not None:
            assert msgspec.json.decode(normal_form(line.fact))["type"] == tag
