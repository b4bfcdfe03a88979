"""Proposed schedules: the sheet decides, habit fills in, and each step says why."""

from typing import get_args

import msgspec
import pytest
from coatledger.computations import practice, schedule
from coatledger.computations.ranges import OutOfRange
from coatledger.computations.schedule import Ask, Proposal, Sheet, propose
from coatledger.computations.schedule_cost import MIN_PER_M2
from coatledger.computations.wood_species import SPECIES
from coatledger.events.setup import Act, Look, Use
from hypothesis import given
from hypothesis import strategies as st

change = msgspec.structs.replace
ASH = Ask(species="ash", use="decor")

asks = st.builds(
    Ask,
    species=st.sampled_from([*SPECIES, "bog yew"]),
    use=st.sampled_from(get_args(Use)),
    look=st.sampled_from(get_args(Look)),
    stained=st.booleans(),
    stain_binder=st.sampled_from(["water_borne", "lacquer", "oil_based", "none"]),
    dear=st.booleans(),
    sheen=st.sampled_from(["dead_flat", "satin", "gloss"]),
    widest_panel_mm=st.floats(0, 1000),
    sheet=st.builds(
        Sheet,
        kind=st.sampled_from(["water_borne", "lacquer", "oil_based"]),
        coats_max=st.one_of(st.none(), st.integers(2, 6)),
        recoat_h=st.one_of(st.none(), st.floats(0.5, 48)),
        burns_in=st.booleans(),
    ),
)


def acts(proposal: Proposal) -> list[str]:
    return [step.act for step in proposal.steps]


def roles(proposal: Proposal) -> list[str | None]:
    return [step.role for step in proposal.steps if step.act == "coat"]


def said(proposal: Proposal, words: str) -> bool:
    return any(words in caution for caution in proposal.cautions)


@given(ask=asks)
def test_every_proposal_is_a_schedule_the_shop_can_record(ask: Ask) -> None:
    made = propose(ask)
    assert set(acts(made)) <= set(get_args(Act)) & set(MIN_PER_M2)
    assert all(step.reason and step.source for step in made.steps)
    assert acts(made)[-2:] == ["inspect", "pack"]
    film = [step for step in made.steps if step.wet_film_um is not None]
    assert len(film) == made.coats
    assert film[-1].role == "top"
    assert acts(made)[0] == "sand"
    if ask.stained:
        assert acts(made).index("stain") < made.steps.index(film[0])
    assert "come before this proposal" in made.cautions[-1]


def test_decor_takes_three_coats_and_a_table_four_or_five() -> None:
    """Common practice, no published source."""
    assert propose(ASH).coats == practice.COATS_DECOR
    assert propose(change(ASH, use="table")).coats == practice.COATS_TABLE[0]
    assert propose(change(ASH, use="table", dear=True)).coats == practice.COATS_TABLE[1]
    assert propose(change(ASH, use="hard_use")).coats == practice.COATS_TABLE[1]
    assert propose(change(ASH, use="hard_use", dear=True)).coats == practice.COATS_TABLE[1]


def test_the_sheet_decides_over_habit() -> None:
    sheet = Sheet(
        coats_max=2, recoat_h=1.5, wrap_h=48, bare_grit_max=120, scuff_grit=400, wet_film_um=75
    )
    made = propose(change(ASH, use="table", sheet=sheet))
    assert made.coats == 2
    assert {step.wet_film_um for step in made.steps if step.act == "coat"} == {75}
    assert [step.grit_p for step in made.steps if step.act == "sand" and not step.by_hand] == [120]
    assert [step.grit_p for step in made.steps if step.act == "scuff"] == [400]
    (cure,) = [step for step in made.steps if step.act == "cure"]
    assert (cure.wait_h, cure.source) == (48, schedule.SHEET)
    assert not said(made, "sheet's times are not known")
    assert propose(change(ASH, sheet=Sheet(coats_min=4))).coats == 4
    with pytest.raises(OutOfRange, match="data sheet: coats_max is not below"):
        propose(change(ASH, sheet=Sheet(coats_min=4, coats_max=3)))


def test_wood_is_sanded_to_p150_and_finer_under_stain() -> None:
    """Common practice, no published source."""

    def grits(ask: Ask) -> list[int | None]:
        return [step.grit_p for step in propose(ask).steps if step.act == "sand"]

    assert grits(ASH) == [120, practice.BARE_GRIT_P]
    stained = change(ASH, stained=True, stain_binder="oil_based")
    assert grits(stained) == [120, 150, 180, practice.BARE_GRIT_UNDER_STAIN_P]


def test_open_pores_are_filled_for_a_filled_look_and_said_to_show_otherwise() -> None:
    filled = propose(change(ASH, look="filled"))
    assert acts(filled).index("fill_grain") < acts(filled).index("cure")
    assert roles(filled) == ["sealer", "tie", "build", "build", "top"]
    natural = propose(ASH)
    assert "fill_grain" not in acts(natural)
    assert said(natural, "pores of ash stay visible")
    assert roles(natural) == ["sealer", "build", "top"]
    maple = propose(Ask(species="maple", use="decor", look="filled"))
    assert "fill_grain" not in acts(maple)
    assert said(maple, "needs no filler")


def test_grain_is_raised_first_where_water_will_raise_it_and_it_matters() -> None:
    assert "raise_grain" in acts(propose(change(ASH, use="table")))
    assert "raise_grain" in acts(propose(change(ASH, stained=True)))
    assert "raise_grain" not in acts(propose(ASH))
    assert "raise_grain" not in acts(propose(change(ASH, use="table", sheet=Sheet(kind="lacquer"))))


def test_stain_brings_its_tie_coat_its_washcoat_and_a_scuff_by_hand() -> None:
    oil = propose(change(ASH, stained=True, stain_binder="oil_based"))
    assert roles(oil)[0] == "tie"
    assert said(oil, "Oily rags")
    cherry = propose(Ask(species="cherry", use="box", stained=True))
    assert roles(cherry)[0] == "sealer"
    assert acts(cherry).index("coat") < acts(cherry).index("stain")
    scuffs = [step.by_hand for step in oil.steps if step.act == "scuff"]
    assert scuffs == [True, False]


def test_a_lacquer_that_burns_in_is_scuffed_once_and_blushes_in_damp_air() -> None:
    made = propose(change(ASH, sheet=Sheet(kind="lacquer", burns_in=True)))
    assert acts(made).count("scuff") == 1
    assert said(made, "blushes in damp air")


def test_woods_bring_their_own_cautions() -> None:
    assert said(propose(Ask(species="pine", use="decor")), "dents on standoff points")
    assert said(propose(Ask(species="white oak", use="shelf")), "tannin")
    assert said(propose(Ask(species="cherry", use="box")), "darkens in daylight")
    assert said(propose(Ask(species="walnut", use="table")), "looks cold")
    yellowed = Ask(species="maple", use="decor", sheet=Sheet(kind="oil_based"))
    assert said(propose(yellowed), "yellows a light wood")
    assert said(propose(Ask(species="bog yew", use="decor")), "Nothing is known of bog yew")


def test_a_wide_panel_is_coated_on_all_its_faces() -> None:
    assert propose(change(ASH, widest_panel_mm=practice.WIDE_PANEL_MM)).faces == ("all",)
    wide = propose(change(ASH, widest_panel_mm=600))
    assert said(wide, "same film on both faces")
    assert propose(ASH).faces == ("show", "edges")


def test_each_wait_is_the_trades_where_no_sheet_speaks() -> None:
    """Common practice, no published source: 3 h between coats, a night, days for a table."""
    made = propose(ASH)
    waits = {(step.act, step.wait_h) for step in made.steps if step.wait_h}
    assert waits == {("coat", 3.0), ("cure", practice.NIGHT_BEFORE_PACKING_H)}
    (table,) = [step for step in propose(change(ASH, use="table")).steps if step.act == "cure"]
    assert table.wait_h == practice.TABLE_BEFORE_HANDLING_H
    assert said(made, practice.PRACTICE)


def test_a_filled_gloss_is_rubbed_out() -> None:
    made = propose(change(ASH, look="filled", sheen="gloss"))
    assert acts(made).index("cure") < acts(made).index("rub_out") < acts(made).index("pack")
    with pytest.raises(ValueError, match="no sheen is called shiny"):
        propose(change(ASH, sheen="shiny"))


def test_a_piece_is_dear_from_the_shops_own_line() -> None:
    assert schedule.is_dear(100_000, 100_000)
    assert not schedule.is_dear(99_999, 100_000)
    with pytest.raises(OutOfRange, match="shop's own line"):
        schedule.is_dear(1, 0)


def test_every_sentence_of_practice_is_one() -> None:
    for code, sentence in practice.PRACTICES.items():
        assert sentence.endswith("."), code
        assert sentence[0].isupper() or sentence[0].isdigit(), code
