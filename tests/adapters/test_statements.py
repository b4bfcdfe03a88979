"""Statements for many rows: few sizes of them, so that a connection keeps few."""

from coatledger_adapters.statements import ROWS_AT_ONCE, after_rows, for_rows, rows_in_groups
from hypothesis import given
from hypothesis import strategies as st


@given(st.integers(0, 1_000))
def test_rows_are_cut_in_order_into_groups_of_the_sizes_kept(count: int) -> None:
    groups = list(rows_in_groups(range(count)))
    assert [row for group in groups for row in group] == list(range(count))
    assert {len(group) for group in groups} <= set(ROWS_AT_ONCE)
    assert len(groups) <= count // ROWS_AT_ONCE[-1] + 3


def test_few_rows_are_one_statement() -> None:
    for count in range(1, 17):
        assert [len(group) for group in rows_in_groups(range(count))] == [count]


def test_what_is_done_where_a_row_is_there_follows_the_rows() -> None:
    one = "INSERT INTO tally (name, value) VALUES (?, ?) ON CONFLICT (name) DO NOTHING"
    assert for_rows(one, 2) == one.replace("(?, ?)", "(?, ?), (?, ?)")
    assert after_rows(one) == " ON CONFLICT (name) DO NOTHING"
    assert after_rows("INSERT INTO note (name) VALUES (?)") == ""
