"""A shop whose weeks come out as told: so many of ten pieces reworked."""

from collections.abc import Sequence

from coatledger.answers.quality.trend import TrendAnswer, trend
from coatledger.events.coating import CoatApplied
from coatledger.events.room_gun import AirLineServiced, GunSetUp
from coatledger.subjects.asked import ask
from story import Story, fact, given, inspected, rework, started


def weeks_of(bad: Sequence[int], size: int = 10) -> Story:
    """So many pieces a week, coated Monday, reworked Tuesday, inspected Wednesday."""
    story: Story = given()
    for week, many in enumerate(bad):
        day = 1 + 7 * week
        words = tuple(f"w{week}-{i}" for i in range(size))
        story.bench.at(f"{day + 3} 08:00")
        facts = [
            started(*words, at=f"{day} 08:00"),
            fact(
                CoatApplied, f"{day} 09:00", pieces=words, lot=f"L{week // 6}", gun="g1",
                actor="tom" if week >= 18 else "mae",
            ),
            inspected(*words, at=f"{day + 2} 09:00"),
        ]  # fmt: skip
        if many:
            facts.insert(2, rework(*words[:many], at=f"{day + 1} 09:00", because="nib"))
        if week == 18:
            facts.append(fact(AirLineServiced, f"{day} 07:00", filter_changed=True))
            facts.append(fact(GunSetUp, f"{day} 07:10", gun="g1", lot="L3", nozzle_mm=1.1))
        if week == 0:
            facts.append(fact(GunSetUp, f"{day} 07:10", gun="g1", lot="L0", nozzle_mm=1.3))
        story.when(*facts).accepted()
    return story


def answered(story: Story) -> TrendAnswer:
    with story.bench.store.reading() as reader:
        return trend(reader, ask(reader, story.bench.now))
