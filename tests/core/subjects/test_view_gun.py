"""A gun looked at from the present, from its stored fold, is the gun of its history."""

from bench import Bench
from coatledger.events.room_gun import GunFlushed, GunSetUp, GunStripCleaned
from coatledger.events.setup import GunDescribed
from coatledger.subjects.view import View
from hypothesis import given
from hypothesis import strategies as st

ACTS = st.lists(
    st.tuples(
        st.sampled_from([GunDescribed, GunSetUp, GunFlushed, GunStripCleaned]),
        st.integers(1, 9),
    ),
    max_size=8,
)


@given(acts=ACTS, day=st.integers(1, 10))
def test_present_and_history_agree_wherever_a_fact_came_late(
    acts: list[tuple[type[GunDescribed], int]], day: int
) -> None:
    bench = Bench("9 12:00")
    for kind, on in acts:
        fields = {"lot": "can-1"} if kind.__name__ == "GunSetUp" else {}
        bench.record(kind, gun="g1", at=f"{on} 08:00", **fields)
    present = bench.view(f"{day} 09:00")
    told = View(present.reader, present.at_us, known=len(acts))
    assert present.gun("g1").set_up == told.gun("g1").set_up
    assert present.gun("g1").flushed == told.gun("g1").flushed
    assert present.gun("g1").strip_cleaned == told.gun("g1").strip_cleaned
    assert present.gun_described("g1") == told.gun_described("g1")
