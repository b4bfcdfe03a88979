"""One can or mix: born once, used up by what was said to be taken, guessed about otherwise."""

from typing import Any

import pytest
from acts import golden
from any_event import ANY_STRUCT
from coatledger.events import finish
from coatledger.events.catalogue import EVENT_TYPES, SUBJECT_FIELDS, EventAmended, subjects_of
from coatledger.events.preparing import GrainFilled, Stained
from coatledger.subjects.lot import HOUR_US, Lot, evolve, initial, may_follow
from coatledger.subjects.registry import state_bytes, state_of
from hypothesis import given as drawn
from hypothesis import settings
from hypothesis import strategies as st
from msgspec.structs import replace
from story import coated, fact

RECEIVED = fact(finish.LotReceived, "1 08:00", lot="can-1", product="clear", amount_l=5.0)


def mixed(at: str = "1 09:00", **fields: Any) -> finish.LotMixed:
    parents = (
        finish.Parent(lot="can-1", amount_l=1.5),
        finish.Parent(lot="ext-2", amount_l=0.075, part="extender"),
    )
    return fact(finish.LotMixed, at, lot="mix-9", product="clear", parents=parents, **fields)


def lot_of(*facts: Any, word: str = "can-1") -> Lot:
    lot = initial(word)
    for told in facts:
        lot = evolve(lot, told)
    return lot


ABOUT_A_LOT = tuple(
    kind
    for kind in EVENT_TYPES
    if "lot" in kind.__struct_fields__ and SUBJECT_FIELDS["lot"] == "lot"
)


@settings(max_examples=80)
@drawn(st.lists(st.one_of([ANY_STRUCT[kind] for kind in ABOUT_A_LOT]), max_size=10))
def test_any_facts_in_any_order_fold(facts: list[Any]) -> None:
    lot = kept = initial("can-1")
    for told in facts:
        named = replace(told, lot="can-1")
        lot, kept = evolve(lot, named), evolve(state_of("lot", state_bytes(kept)), named)
        assert lot.left_l is None or lot.left_l >= 0
    assert state_bytes(kept) == state_bytes(lot)


def test_a_can_is_what_was_received_less_what_was_taken() -> None:
    lot = lot_of(
        RECEIVED,
        coated("a", amount_l=0.182),
        fact(Stained, "1 11:00", pieces=("a",), lot="can-1", amount_l=0.318),
    )
    assert (lot.left_l, lot.unmeasured) == (4.5, 0)


def test_acts_without_an_amount_are_counted_until_somebody_measures() -> None:
    lot = lot_of(
        RECEIVED, coated("a"), fact(GrainFilled, "1 11:00", pieces=("a",), lot="can-1"),
    )  # fmt: skip
    assert (lot.left_l, lot.unmeasured) == (5.0, 2)
    measured = evolve(lot, fact(finish.LotMeasured, "1 12:00", lot="can-1", left_l=4.2))
    assert (measured.left_l, measured.unmeasured) == (4.2, 0)


def test_a_can_is_empty_and_never_in_debt() -> None:
    assert lot_of(RECEIVED, coated("a", amount_l=7.0)).left_l == 0


def test_of_a_can_nobody_described_nothing_is_known_to_be_left() -> None:
    lot = lot_of(coated("a", amount_l=0.2), coated("a", at="1 12:00"))
    assert (lot.stage, lot.left_l, lot.unmeasured) == ("unborn", None, 1)
    received = evolve(lot, replace(RECEIVED, occurred_at=fact(finish.LotOpened, "2 08:00",
                                                             lot="can-1").occurred_at))  # fmt: skip
    assert (received.stage, received.left_l, received.unmeasured) == ("closed", 5.0, 0)


def test_a_can_opened_before_anybody_wrote_it_down_stays_open() -> None:
    assert lot_of(fact(finish.LotOpened, "1 07:00", lot="can-1"), RECEIVED).stage == "open"


def test_a_mix_is_the_sum_of_its_parents_and_takes_from_each() -> None:
    mix = lot_of(mixed(pot_life_h=5.5), word="mix-9")
    assert (mix.left_l, mix.mixed, mix.stage) == (1.575, True, "open")
    assert mix.pot_ends_us is not None
    assert mix.born_us is not None
    assert mix.pot_ends_us - mix.born_us == 5.5 * HOUR_US
    assert lot_of(RECEIVED, mixed()).left_l == 3.5
    assert subjects_of(mixed()) == ("lot:mix-9", "product:clear", "lot:can-1", "lot:ext-2")


def test_a_parent_may_be_poured_in_twice() -> None:
    twice = tuple(finish.Parent(lot="can-1", amount_l=0.5) for _ in range(2))
    assert lot_of(RECEIVED, replace(mixed(), parents=twice)).left_l == 4.0


@pytest.mark.parametrize("again", [RECEIVED, replace(mixed(), lot="can-1")])
def test_a_lot_is_born_once(again: Any) -> None:
    lot = lot_of(RECEIVED)
    later = replace(again, id=golden("turned").id)
    assert not may_follow(lot, later)
    assert evolve(lot, later) == replace(lot, disputed=(later.id,))


def test_being_a_parent_is_no_birth() -> None:
    assert may_follow(lot_of(RECEIVED), mixed())
    assert lot_of(mixed(), word="ext-2").born_us is None


def test_a_discarded_can_is_gone_and_empty() -> None:
    lot = lot_of(RECEIVED, fact(finish.LotDiscarded, "5 08:00", lot="can-1", left_l=1.2))
    assert (lot.stage, lot.left_l) == ("gone", 0.0)


def test_facts_about_a_can_are_kept_as_the_last_of_their_kind() -> None:
    told = [golden(tag) for tag in ("lot_stirred", "lot_strained", "lot_frozen")]
    viscosity = golden("viscosity_measured")
    lot = lot_of(*told, viscosity)
    assert None not in (lot.stirred_us, lot.strained_us, lot.frozen_us, lot.viscosity)
    assert lot.mesh_um == 190
    assert EventAmended not in ABOUT_A_LOT
