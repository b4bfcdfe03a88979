"""Sheets of labels: every label on the paper, none on another, and what does not fit is refused."""

from itertools import combinations

import pytest
from coatledger_adapters.printed.paper import (
    LABEL_LEAST_MM,
    PAPERS,
    SLACK_MM,
    Paper,
    SheetError,
    sheet_of,
)
from hypothesis import assume, given
from hypothesis import strategies as st

LENGTHS = st.floats(0, 40, allow_nan=False)


def faults(**fields: float | None) -> set[str]:
    given: dict[str, float | None] = {"left_mm": 0, "top_mm": 0, **fields}
    with pytest.raises(SheetError) as refused:
        sheet_of(Paper(100, 100), 3, 4, **given)  # type: ignore[arg-type]
    return {name for name, _ in refused.value.faults}


def test_labels_fill_what_margins_and_gaps_leave() -> None:
    sheet = sheet_of(PAPERS["a4"], 3, 8, left_mm=8, top_mm=8, gap_x_mm=2, gap_y_mm=2)
    assert sheet.label_width_mm == pytest.approx((210 - 16 - 4) / 3)
    assert sheet.label_height_mm == pytest.approx((297 - 16 - 14) / 8)
    assert sheet.place(0) == (8, 8)
    assert sheet.place(23) == pytest.approx(
        (210 - 8 - sheet.label_width_mm, 297 - 8 - sheet.label_height_mm)
    )


def test_a_bought_sheet_is_given_as_its_box_says() -> None:
    sheet = sheet_of(
        PAPERS["letter"], 3, 10, left_mm=4.8, top_mm=12.7, gap_x_mm=3.2, label_width_mm=66.7,
        label_height_mm=25.4,
    )  # fmt: skip
    assert sheet.place(4) == pytest.approx((4.8 + 69.9, 12.7 + 25.4))


def test_what_does_not_fit_is_named_by_its_parameter() -> None:
    assert faults(label_width_mm=34) == {"label_width_mm"}
    assert faults(label_width_mm=34, label_height_mm=26) == {"label_width_mm", "label_height_mm"}
    assert faults(left_mm=40) == {"columns"}
    assert faults(gap_y_mm=25) == {"rows"}


@given(
    st.floats(20, 400), st.floats(20, 400), st.integers(1, 6), st.integers(1, 9),
    LENGTHS, LENGTHS, LENGTHS, LENGTHS,
)  # fmt: skip
def test_every_label_lies_on_the_paper_and_on_no_other(
    width: float, height: float, columns: int, rows: int, left: float, top: float, gap_x: float,
    gap_y: float,
) -> None:  # fmt: skip
    try:
        sheet = sheet_of(
            Paper(width, height), columns, rows, left_mm=left, top_mm=top, gap_x_mm=gap_x,
            gap_y_mm=gap_y,
        )  # fmt: skip
    except SheetError:
        assume(False)
    assert min(sheet.label_width_mm, sheet.label_height_mm) >= LABEL_LEAST_MM
    corners = [sheet.place(number) for number in range(sheet.holds)]
    for x, y in corners:
        assert x >= 0
        assert y >= 0
        assert x + sheet.label_width_mm <= width + SLACK_MM
        assert y + sheet.label_height_mm <= height + SLACK_MM
    for (ax, ay), (bx, by) in combinations(corners, 2):
        apart_x = abs(ax - bx) >= sheet.label_width_mm - SLACK_MM
        apart_y = abs(ay - by) >= sheet.label_height_mm - SLACK_MM
        assert apart_x or apart_y
