"""The README's day, recorded as its reader would, and every question asked of it."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime
from pathlib import Path

import pytest
from shell import Running, asked, call

README = Path(__file__).resolve().parents[3] / "README.md"


def block(form: str) -> str:
    """The README's one example in a form."""
    (text,) = re.findall(rf"```{form}\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)
    return str(text)


@pytest.fixture
def monday(service: Running, now: list[datetime]) -> Running:
    now[0] = datetime(2026, 3, 2, 13, 30, tzinfo=UTC)
    for form, lines in (("jsonl", 6), ("csv", 8)):
        report = asked("record", told=block(form))
        assert report["refused"] == []
        assert report["accepted"] == lines
    return service


def test_the_days_zone_comes_from_the_shop(monday: Running) -> None:
    again = asked("record", told=block("csv"))
    assert (again["zone"], again["zone_from"]) == ("Europe/Lisbon", "the service")
    assert (again["accepted"], again["repeated"]) == (0, 8)


def test_a_piece_says_how_it_stands(monday: Running) -> None:
    one, other = asked("piece", "T-1"), asked("piece", "T-2")
    assert (one["stage"], one["coats_done"], one["coats_wanted"]) == ("coated", 1, 2)
    assert one["next"]["act"] == "coat"
    assert other["next"]["act"] == "scuff"
    told = call("piece", "T-1").stdout
    assert "T-1: bedside table, ash, decor, 0.93 m² to coat." in told
    assert "Stage: coated; 1 of 2 coats" in told
    assert "Next: coat, top coat of clear-w" in told
    assert "102 µm wet, applied Mon 2026-03-02 09:" in told
    assert "Ships: likely" in told


def test_the_film_dries_by_its_sheet_and_the_air(monday: Running) -> None:
    (clock,) = asked("piece", "T-1")["clock"]["faces"]
    assert clock["wet_film_um"] == 101.6
    hours = {
        stage["stage"]: _hours(clock["applied_at"], stage["likely"]) for stage in clock["stages"]
    }
    # At about 21 °C and 50 % the sheet's 3 h hold, a little longer for a film of 101.6 um on 100.
    assert hours["sandable"] == pytest.approx(3.0, rel=0.1)
    assert hours["wrap_safe"] == pytest.approx(24.0, rel=0.1)


def test_clocks_list_what_dries_soonest_first(monday: Running) -> None:
    clocks = asked("clocks")["clocks"]
    assert {clock["piece"] for clock in clocks} == {"T-1", "T-2"}
    told = call("clocks").stdout
    assert "2 pieces drying." in told
    assert re.search(r"^T-1 +spray", told, re.MULTILINE)
    assert asked("clocks", "--room", "nowhere")["clocks"] == []


def test_pieces_are_listed_and_filtered(monday: Running) -> None:
    assert [row["piece"] for row in asked("pieces")["pieces"]] == ["T-1", "T-2"]
    assert asked("pieces", "--stage", "shipped", "--stage", "packed")["pieces"] == []
    page = asked("pieces", "--limit", "1")
    assert page["next_after"] == "T-1"
    assert "There are more: --after T-1" in call("pieces", "--limit", "1").stdout
    assert re.search(r"T-2 .* coated .* 1 of 2", call("pieces", "--after", "T-1").stdout)


def test_history_tells_every_act_with_its_id(monday: Running) -> None:
    told = call("history", "T-1", "--ids").stdout
    assert "5 events about piece:T-1." in told
    assert "T-2 waits" in told
    assert "with 1 more" in told
    entries = asked("history", "T-1")["entries"]
    assert all(entry["event"] in told for entry in entries)


def test_history_may_be_asked_as_of_a_time_in_the_shops_zone(monday: Running) -> None:
    assert len(asked("history", "T-1", "--as-of", "2026-03-02 08:45")["entries"]) == 3
    assert asked("piece", "T-1", "--as-of", "2026-03-02 08:59")["stage"] == "prepared"
    unknown = call("piece", "T-1", "--known-at", "2026-03-02 08:00")
    assert unknown.exit_code == 1
    assert "no piece T-1 was known then" in unknown.stderr
    assert "--as-of: 'noon' is no time" in call("piece", "T-1", "--as-of", "noon").stderr


def test_rework_and_throughput_count_once_there_is_something_to_count(
    monday: Running, now: list[datetime]
) -> None:
    assert "No piece has had its final inspection yet" in call("rework").stdout
    assert "In the shop: 2 pieces (2 coated)." in call("throughput").stdout
    week: list[dict[str, object]] = [
        {"type": "inspected", "pieces": "T-1", "point": "final", "passed": True},
        {"type": "defect_found", "pieces": "T-2", "kind": "nib"},
        {"type": "rework_started", "pieces": "T-2", "remedy": "spot_sand", "because": "nib"},
        {"type": "rework_finished", "pieces": "T-2", "done": "spot_sand"},
        {"type": "inspected", "pieces": "T-2", "point": "final", "passed": True},
        {"type": "packed", "pieces": "T-1", "touching": "paper"},
        {"type": "shipped", "pieces": "T-1"},
    ]
    now[0] = datetime(2026, 3, 4, 12, 0, tzinfo=UTC)
    lines = (json.dumps({**fact, "occurred_at": f"11:{n:02}"}) for n, fact in enumerate(week))
    assert asked("record", "--day", "2026-03-04", told="\n".join(lines))["refused"] == []
    told = call("rework").stdout
    # Wilson, 95 %, 1 of 2: 9.5 to 90.5 %.
    assert "Of 2 pieces inspected 1 passed" in told
    assert "50.0 % (9.5 % to 90.5 %)" in told
    assert "So few pieces prove little" in told
    assert re.search(r"^nib +1 +0$", told, re.MULTILINE)
    gone = call("throughput").stdout
    assert "Shipped: 1 piece, 1.0 a week." in gone
    assert "In the shop: 1 piece (1 passed)." in gone
    assert asked("rework", "--last-week", "2026-W09")["total"]["inspected"] == 0


def test_findings_of_the_recorded_lines_are_told(monday: Running, now: list[datetime]) -> None:
    now[0] = datetime(2026, 3, 2, 13, 50, tzinfo=UTC)
    early = (
        '{"type":"coat_applied","occurred_at":"2026-03-02T11:10","pieces":"T-2","lot":"can-1",'
        '"gun":"g1","room":"spray","wet_film_mil":4}'
    )
    report = asked("record", told=early)
    codes = {finding["code"] for finding in report["findings"]}
    assert "recoat_too_early" in codes
    assert all(finding["line"] == 1 for finding in report["findings"])
    assert asked("record", told=early)["findings"] == []


def test_a_shop_of_us_units_is_told_in_them(service: Running) -> None:
    lines = block("jsonl").replace('"people": 2', '"people": 2, "units": "us"')
    call("record", told=lines)
    call("record", told=block("csv"))
    told = call("piece", "T-1").stdout
    assert "10.0 ft² to coat" in told
    assert "4.0 mil wet" in told
    assert "wet film: 4.0 mil" in call("history", "T-1").stdout


def test_json_is_the_services_answer_untouched(monday: Running) -> None:
    import httpx

    answer = httpx.get(
        f"{monday.url}/v1/throughput", headers={"Authorization": f"Bearer {monday.key}"}
    )
    assert call("throughput", "--json").stdout_bytes.rstrip(b"\n") == answer.content


def _hours(first: str, last: str) -> float:
    moments = [datetime.fromisoformat(text) for text in (first, last)]
    return (moments[1] - moments[0]).total_seconds() / 3600
