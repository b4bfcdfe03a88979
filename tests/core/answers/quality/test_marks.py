"""What was new in the shop, beside a change."""

from worse_shop import answered, weeks_of


def test_what_was_new_stands_beside_the_change_and_is_not_called_its_cause() -> None:
    worse = answered(weeks_of([1, 0, 2, 1, 1, 0, 1, 2, 1] * 2 + [4, 5, 3, 4, 4, 5]))
    near = {(mark.what, mark.says) for mark in worse.marks if mark.near_change}
    assert ("person", "first coat by tom") in near
    assert ("filter", "the air line's filter was changed") in near
    assert ("nozzle", "g1: nozzle 1.1 mm after 1.3 mm") in near
    assert ("lot", "first coat from can L3") in near
    assert not any("cause" in mark.says for mark in worse.marks)
