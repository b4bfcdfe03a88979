"""Counts add up, are taken away, and leave nothing behind that is zero."""

from coatledger.recording.keeping import add_counts


def test_what_was_added_and_taken_away_leaves_nothing() -> None:
    total: dict[tuple[str, str], float] = {("shipped", "w"): 2.0}
    add_counts(total, {("shipped", "w"): 1.0, ("started", "w"): 1.0}, 1)
    assert total == {("shipped", "w"): 3.0, ("started", "w"): 1.0}
    add_counts(total, {("shipped", "w"): 1.0, ("started", "w"): 1.0}, -1)
    assert total == {("shipped", "w"): 2.0}


def test_a_count_may_be_owed_until_it_is_written() -> None:
    total: dict[tuple[str, str], float] = {}
    add_counts(total, {("here", "bare"): 1.0}, -1)
    assert total == {("here", "bare"): -1.0}
