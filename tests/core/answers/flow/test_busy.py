"""The bottleneck, and what one more of it would give."""

import pytest
from flow_shop import answer, busy_shop


def test_the_busiest_comes_first_and_one_more_of_it_gives_no_more_than_the_next_allows() -> None:
    told = answer(busy_shop())
    assert told.bottleneck == told.busy[0].resource == "gun g1"
    people = next(one for one in told.busy if one.resource == "people")
    assert people.units == 2
    assert people.one_more_gives == 0.0
    # The gun works 20 minutes a piece, the two people 20 minutes between them.
    assert told.busy[0].one_more_gives == pytest.approx(1.0, abs=1e-6)
