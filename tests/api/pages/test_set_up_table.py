"""Pieces from a table on the set-up page: every fault first, then batches to send again."""

import pytest
from browser import Door
from listening_service import Listening
from office import Office, office
from playwright.sync_api import FilePayload

TABLE = """# a note of the shop's own
pieces;kind;species;area to coat;use;occurred_at
BT-01 BT-02;"bedside table; small";ash;0.9;decor;2026-02-20 08:30
JB-01;jewellery box;cherry;0.25;Box;
"""


def looks_at(who: Office, text: str) -> Office:
    """Paste a table, and let every row be checked."""
    who.device.page.locator("#table-text").fill(text)
    return who.tapes("Look at it", "Check every row")


def test_a_table_is_read_by_the_names_of_its_columns_and_recorded_as_imported(
    door: Door, listens: Listening
) -> None:
    with office(door, listens) as who:
        who.goes_to("shop").fill({"zone": "Europe/Lisbon"}).hang_up()
        looks_at(_opened(who), TABLE).device.waits_for("3 pieces, and no fault")
        assert listens.served.size == 1
        who.hang_up("Record 3 pieces")
        first, second = who.last_facts("piece_started")
        assert (first["kind"], first["coat_area_m2"]) == ("bedside table; small", 0.9)
        assert first["occurred_at"].startswith("2026-02-20T08:30:00")
        assert second["use"] == "box"
        assert {one["source"] for one in (first, second)} == {"import"}
        assert who.device.wrong == []


@pytest.mark.parametrize(
    ("row", "fault"),
    [
        ("A B!,shelf,ash,1,shelf", "line 3, pieces: B!: letters, digits, dots and dashes only"),
        ("OK-1,shelf,ash,1,shelf", "line 3, pieces: OK-1 stands in line 2 already"),
        ("W-1,shelf,ash,1,shelf", "line 3, pieces: W-1 is here already"),
        ("A,shelf,ash,1,door", "line 3, use: door is none of decor, shelf, box"),
        ("A,shelf,ash,one,shelf", "line 3, coat_area_m2: one is no number"),
        ("A,shelf,ash,0,shelf", "line 3, coat_area_m2: this cannot be"),
        ("A,shelf,ash,1.2345,shelf", "line 3, coat_area_m2: at most three decimals"),
        ("A,shelf,,1,shelf", "line 3, species:"),
        ("A,shelf,ash,1,shelf,more", "line 3: 6 cells under 5 columns"),
    ],
)  # fmt: skip
def test_every_fault_is_named_by_line_and_column_before_anything_is_written(
    door: Door, listens: Listening, row: str, fault: str
) -> None:
    with office(door, listens) as who:
        listens.served.pieces("W-1")
        table = f"pieces,kind,species,coat_area_m2,use\nOK-1,shelf,ash,1,shelf\n{row}\n"
        looks_at(_opened(who), table).device.waits_for("One fault. Nothing was written")
        assert fault in who.device.reads(".faults")
        assert who.device.page.get_by_role("button", name="Record").count() == 0
        assert who.device.barriers() == []
        assert listens.served.size == 1


def test_a_time_that_the_change_of_the_clocks_makes_double_or_impossible_is_a_fault(
    door: Door, listens: Listening
) -> None:
    with office(door, listens) as who:
        who.goes_to("shop").fill({"zone": "Europe/Lisbon"}).hang_up()
        rows = [
            f"P-{n},shelf,ash,1,shelf,{when}"
            for n, when in enumerate(("2025-03-30 01:30", "2025-10-26 01:30", "2025-10-26 03:30"))
        ]
        table = "\n".join(["pieces,kind,species,coat_area_m2,use,occurred_at", *rows])
        looks_at(_opened(who), table).device.waits_for("2 faults")
        told = who.device.reads(".faults")
        assert "line 2, occurred_at: 2025-03-30 01:30 never comes" in told
        assert "line 3, occurred_at: 2025-10-26 01:30 comes twice" in told


def test_square_feet_are_converted_and_what_is_alike_is_said_once(
    door: Door, listens: Listening
) -> None:
    with office(door, listens) as who:
        page = _opened(who).device.page
        page.locator("#table-text").fill("Piece\tcoat_area_ft2\nT-1\t10\n")
        who.tapes("Look at it")
        page.get_by_text("Say once what is the same").tap()
        who.fill({"kind": "dining table", "species": "walnut"})
        who.tapes("table", "Check every row").device.waits_for("One piece, and no fault")
        who.hang_up("Record one piece")
        (fact,) = who.last_facts("piece_started")
        assert (fact["pieces"], fact["coat_area_m2"], fact["use"]) == (["T-1"], 0.929, "table")


def test_a_long_table_goes_in_steps_and_goes_on_after_a_lost_answer_without_doubling(
    door: Door, listens: Listening
) -> None:
    rows = [f"P-{n},shelf,ash,1,shelf" for n in range(2_300)]
    table = "\n".join(["pieces,kind,species,coat_area_m2,use", *rows])
    with office(door, listens) as who:
        _brings(_opened(who), table)
        who.device.loses_answers(share=2).tap("Record 2300 pieces")
        who.device.waits_for("1000 of 2300 rows are recorded.")
        assert listens.served.size == 2_000
        who.device.hears_answers()
        # The page was closed meanwhile: the same table again is the same facts.
        who.device.open("/set-up#table")
        _brings(who, table)
        who.hang_up("Record 2300 pieces")
        assert listens.served.size == 2_300


def _brings(who: Office, table: str) -> None:
    """Bring a table as a file, as spreadsheets write one."""
    file: FilePayload = {
        "name": "pieces.csv",
        "mimeType": "text/csv",
        "buffer": b"\xef\xbb\xbf" + table.encode(),
    }
    who.device.page.locator("#table-file").set_input_files(file)
    who.tapes("Check every row").device.waits_for("2300 pieces, and no fault")


def _opened(who: Office) -> Office:
    who.goes_to("pieces").device.tap("From a table (CSV)", role="link")
    who.device.page.locator("#table-text").wait_for()
    return who
