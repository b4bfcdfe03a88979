"""Where a piece's time goes: every hour once, each for a reason."""

import pytest
from coatledger.events.finish import LotReceived
from coatledger.events.leaving import Scrapped
from flow_shop import answer, coat, hours, shop
from story import fact, given, packed, sanded, shipped, started


def test_every_hour_of_a_piece_is_told_once_and_for_a_reason() -> None:
    """Start 8:00; coat 9:00-9:30; dry till 12:30; coat 14:00-14:30; dry 12 h to 2:30; packed 10:00
    next day; shipped 15:00."""
    told = answer(
        given(
            *shop(),
            started("a", at="1 08:00"),
            coat("1 09:00", "1 09:30", "a", hands_on_min=30),
            coat("1 14:00", "1 14:30", "a", hands_on_min=30),
            packed("a", at="2 10:00"),
            shipped("a", at="2 15:00"),
        )
    )
    assert hours(told) == {
        "hands": 1.0, "clock": 3.0 + 12.0, "closed": 5.5, "people": 1.0 + 1.5 + 2.0 + 5.0,
    }  # fmt: skip
    assert sum(hours(told).values()) == pytest.approx(31.0)
    assert told.touch_share == pytest.approx(1 / 31, abs=1e-6)
    assert [one.days for one in told.lead_time if one.percent == 50.0] == [round(31 / 24, 3)]


def test_a_piece_waits_for_finish_for_a_gun_and_for_a_rack_place() -> None:
    late = fact(LotReceived, "1 11:00", lot="L2", product="clear-w", amount_l=5.0)
    told = answer(
        given(
            *shop(), late,
            started("a", "b", at="1 08:00"),
            coat("1 12:00", "1 13:00", "b"),
            coat("1 13:00", "1 13:30", "a", lot="L2"),
            fact(Scrapped, "1 13:30", pieces=("a",)),
        )
    )  # fmt: skip
    # a: finish till 11, then an hour for people, an hour while the gun was at work on b.
    assert hours(told) == {"hands": 0.5, "finish": 3.0, "gun": 1.0, "people": 1.0}
    racked = answer(
        given(
            *shop(rack_places=1),
            started("a", "b", at="1 08:00"),
            coat("1 08:00", "1 08:00", "b"),
            coat("1 15:00", "1 15:00", "b"),
            sanded("a", at="1 11:00"),
            fact(Scrapped, "1 11:00", 1, pieces=("a",)),
        )
    )
    assert hours(racked) == {"rack": 3.0}
