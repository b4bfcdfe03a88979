"""Where a piece stands in its schedule: facts decide, whether every step was logged or not."""

from coatledger.events.preparing import BlownOff, Stained
from coatledger.events.setup import ScheduleDescribed, Step
from coatledger.subjects.plan import Plan, plan
from story import Story, coated, fact, given, inspected, packed, sanded, started

SCHEDULE = fact(
    ScheduleDescribed,
    "1 07:00",
    schedule="s",
    faces=("show", "edges"),
    steps=(
        Step(act="sand", grit=120),
        Step(act="sand", grit=180),
        Step(act="stain"),
        Step(act="coat", role="sealer"),
        Step(act="scuff", grit=320),
        Step(act="blow_off"),
        Step(act="coat", role="top"),
        Step(act="inspect"),
        Step(act="pack"),
    ),
)


def of(story: Story, schedule: ScheduleDescribed | None = SCHEDULE) -> Plan:
    return plan(story.piece("a"), schedule)


def acts(found: Plan) -> list[str]:
    return [step.act for step in found.remaining]


def test_each_logged_step_is_done_once() -> None:
    story = given(started("a"), sanded("a", at="1 08:30"))
    assert acts(of(story))[:3] == ["sand", "stain", "coat"]
    story.when(sanded("a", at="1 09:00"), fact(Stained, "1 09:30", pieces=("a",)))
    assert acts(of(story))[0] == "coat"


def test_a_coat_leaves_behind_what_stood_before_it_logged_or_not() -> None:
    story = given(started("a"), coated("a"))
    assert acts(of(story)) == ["scuff", "blow_off", "coat", "inspect", "pack"]
    story.when(sanded("a", at="1 13:00", stage="between_coats", grit=320))
    assert acts(of(story))[0] == "blow_off"
    story.when(fact(BlownOff, "1 13:05", pieces=("a",), by="vacuum"))
    assert acts(of(story))[0] == "coat"


def test_a_piece_has_as_many_coats_as_its_poorest_face() -> None:
    story = given(started("a"), coated("a", faces=("show",)))
    assert (of(story).coats_done, of(story).coats_wanted) == (0, 2)
    story.when(coated("a", at="1 10:20", faces=("edges",)))
    assert of(story).coats_done == 1


def test_after_the_last_coat_comes_looking_and_packing() -> None:
    story = given(started("a"), coated("a"), coated("a", at="1 15:00"))
    assert acts(of(story)) == ["inspect", "pack"]
    story.when(inspected("a"))
    assert acts(of(story)) == ["pack"]
    story.when(packed("a"))
    assert acts(of(story)) == []


def test_more_coats_than_planned_are_no_trouble() -> None:
    story = given(started("a"), *(coated("a", at=f"1 1{n}:00") for n in range(4)))
    assert acts(of(story)) == ["inspect", "pack"]


def test_without_a_schedule_the_use_gives_the_number_of_coats() -> None:
    for use, coats in (("decor", 3), ("table", 4), ("hard_use", 5)):
        found = of(given(started("a", use=use)), None)
        assert (found.coats_wanted, found.assumed) == (coats, True)
