"""`coatledger record` against a running service: a day told once, twice, and in part."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest
from shell import Running, asked, call

HEADER = (
    "type,occurred_at,pieces,lot,product,amount_floz,kind,species,coat_area_ft2,use,stage,grit\n"
)
DAY = (
    HEADER
    + "lot_received,2026-03-02 07:00,,can-1,clear-w,128,,,,,,\n"
    + "sanded,2026-03-02 08:30,T-1 T-2,,,,,,,,bare,150\n"
    + "coat_applied,2026-03-02 09:00,T-1 T-2,can-1,,6,,,,,,\n"
    + "piece_started,2026-03-02 08:00,T-1 T-2,,,,bedside table,ash,12,decor,,\n"
)


def test_a_day_is_recorded_whatever_the_order_of_its_lines(service: Running) -> None:
    report = asked("record", "--zone", "Europe/Lisbon", told=DAY)
    assert (report["accepted"], report["repeated"], report["refused"]) == (4, 0, [])
    assert service.store.head().size == 4


def test_the_same_day_recorded_again_is_the_same_history(service: Running) -> None:
    call("record", "--zone", "Europe/Lisbon", told=DAY)
    more = DAY + "sanded,2026-03-02 10:30,T-1 T-2,,,,,,,,between_coats,320\n"
    report = asked("record", "--zone", "Europe/Lisbon", told=more)
    assert (report["accepted"], report["repeated"]) == (1, 4)
    assert service.store.head().size == 5


def test_a_bad_line_never_stops_the_rest_and_is_told_with_its_reason(service: Running) -> None:
    bad = (
        DAY
        + "sanded,2026-03-02 10:00,T-9,,,,,,,,bare,150\n"
        + "sanded,2026-03-02 10:00,T-1,,,,,,,,bear,150\n"
        + "sanded,2026-03-03 10:00,T-1,,,,,,,,bare,150\n"
    )
    result = call("record", "--zone", "Europe/Lisbon", told=bad)
    assert result.exit_code == 1
    report = asked("record", "--zone", "Europe/Lisbon", told=bad)
    assert report["repeated"] == 4
    told = {one["line"]: [fault["rule"] for fault in one["faults"]] for one in report["refused"]}
    assert told == {6: ["unknown_piece"], 7: ["invalid"], 8: ["occurs_in_future"]}
    assert "4 lines recorded, 0 recorded before, 3 refused." in result.stdout
    assert "bear" in result.stdout


def test_times_are_read_in_the_services_zone_and_it_is_said(service: Running) -> None:
    shop = (
        '{"type":"shop_described","occurred_at":"2026-03-01T07:00","zone":"America/New_York",'
        '"hours":[]}'
    )
    call("record", told=shop)
    result = call("record", told=DAY)
    assert "read as America/New_York, from the service" in result.stdout
    first = next(r for r in service.store.rows(0, 9) if r.type == "lot_received")
    assert first.occurred_us == datetime(2026, 3, 2, 12, 0, tzinfo=UTC).timestamp() * 1_000_000


def test_a_key_that_may_only_record_records_and_needs_the_zone_told(service: Running) -> None:
    key = service.key_for("record")
    report = asked("record", "--key", key, "--zone", "Europe/Lisbon", told=DAY)
    assert report["accepted"] == 4
    assert report["findings"]
    without = asked("record", "--key", key, told="type,occurred_at,pieces\npolished,8:30,T-1\n")
    assert "names no day" in without["refused"][0]["faults"][0]["detail"]


def test_a_dry_run_sends_nothing_and_needs_no_service(alone: Path) -> None:
    report = asked("record", "--dry-run", "--zone", "Europe/Lisbon", told=DAY)
    assert (report["unsent"], report["dry_run"]) == (4, True)
    bad = call("record", "--dry-run", "--zone", "Europe/Lisbon", told=HEADER + "sanded,8:30\n")
    assert bad.exit_code == 1
    assert "Nothing was sent." in bad.stdout


def test_a_log_of_more_facts_than_a_request_takes_goes_in_several(service: Running) -> None:
    day = "".join(
        f'{{"type":"air_moved","occurred_at":"2026-03-02T08:{second // 60:02d}:{second % 60:02d}Z",'
        '"room":"spray","device":"fan"}\n'
        for second in range(1203)
    )
    assert asked("record", told=day)["accepted"] == 1203
    assert service.store.head().size == 1203


def test_a_file_that_cannot_be_read_as_a_whole_sends_nothing(
    service: Running, tmp_path: Path
) -> None:
    path = tmp_path / "day.csv"
    path.write_text("type,pices\n")
    result = call("record", str(path), "--zone", "Europe/Lisbon")
    assert result.exit_code == 2
    assert "did you mean pieces?" in result.stderr
    assert "Nothing was sent." in result.stderr
    assert call("record", str(tmp_path / "none.csv")).exit_code == 2


def test_an_empty_log_says_so(service: Running) -> None:
    result = call("record", "--zone", "UTC", told="# nothing today\n")
    assert result.exit_code == 2
    assert "holds no line" in result.stderr
    assert "holds no fact" in call("record", "--form", "jsonl", told="# nothing\n").stdout


def test_a_service_that_is_not_there_is_named(service: Running) -> None:
    result = call("record", "--url", "http://127.0.0.1:9", "--zone", "Europe/Lisbon", told=DAY)
    assert result.exit_code == 3
    assert "No answer from http://127.0.0.1:9" in result.stderr
    assert "Give the same command again" in result.stderr


def test_a_wrong_key_is_told_as_the_service_tells_it(service: Running) -> None:
    result = call("record", "--key", "clk_wrong", "--zone", "Europe/Lisbon", told=DAY)
    assert result.exit_code == 1
    assert "No valid key" in result.stderr


def test_the_same_id_with_other_content_is_refused_by_its_line(service: Running) -> None:
    word = "01920000-0000-7000-8000-000000000001"
    lines = [
        {
            "type": "air_moved",
            "id": word,
            "occurred_at": "2026-03-02T08:00Z",
            "room": room,
            "device": "fan",
        }
        for room in ("spray", "drying")
    ]
    report = asked("record", told="\n".join(json.dumps(line) for line in lines))
    assert report["accepted"] == 1
    assert [(one["line"], one["faults"][0]["rule"]) for one in report["refused"]] == [
        (2, "id_reused")
    ]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--zone", "Mars/Base"), "no zone 'Mars/Base'"),
        (("--day", "yesterday"), "yesterday"),
        (("--form", "xml"), "xml"),
    ],
)
def test_a_wrong_option_is_refused_before_anything_is_sent(
    service: Running, words: tuple[str, ...], says: str
) -> None:
    result = call("record", *words, told=DAY)
    assert result.exit_code == 2
    assert says in result.stderr
    assert service.store.head().size == 0
