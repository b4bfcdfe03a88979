"""A shop whose flow is told: hours, one finish, one can, pieces over weeks."""

from typing import Any

from bench import on_day
from coatledger.answers.flow.answer import FlowAnswer, flow
from coatledger.events.coating import CoatApplied
from coatledger.events.finish import LotReceived
from coatledger.events.leaving import Scrapped
from coatledger.events.setup import OpenHours, ProductDescribed, ShopDescribed
from coatledger.subjects.asked import ask
from story import Story, fact, given, inspected, returned, shipped, started

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri")


def shop(**fields: Any) -> tuple[Any, ...]:
    hours = tuple(OpenHours(day=day, opens="08:00", closes="16:00") for day in WEEKDAYS)  # type: ignore[arg-type]
    return (
        fact(ShopDescribed, "1 07:00", zone="UTC", hours=hours, people=2, **fields),
        fact(
            ProductDescribed, "1 07:00", product="clear-w", kind="water_borne", recoat_h=3.0,
            wrap_h=12.0, tack_free_h=1.0,
        ),
        fact(LotReceived, "1 07:05", lot="L1", product="clear-w", amount_l=5.0),
    )  # fmt: skip


def coat(at: str, until: str, *pieces: str, **fields: Any) -> CoatApplied:
    given = {"lot": "L1", "gun": "g1", "ended_at": on_day(until)}
    return fact(CoatApplied, at, pieces=pieces, **{**given, **fields})


def answer(story: Story, as_of: str | None = None, **asked: Any) -> FlowAnswer:
    with story.bench.store.reading() as reader:
        place = ask(reader, story.bench.now, on_day(as_of) if as_of else None)
        return flow(reader, place, **asked)


def hours(told: FlowAnswer) -> dict[str, float]:
    return {one.reason: one.hours for one in told.spent if one.hours}


def busy_shop() -> Story:
    """Forty pieces over eight weeks; one comes back, one is given up, two are still here."""
    facts: list[Any] = [*shop()]
    for number in range(40):
        day = 1 + (number // 5) * 7 + number % 5
        word = f"p{number}"
        facts += [
            started(word, at=f"{day} 08:{10 + number % 7}"),
            coat(f"{day} 09:00", f"{day} 09:20", word, hands_on_min=20),
            inspected(word, at=f"{day + 1} 09:00"),
        ]
        if number not in (7, 38, 39):
            facts.append(shipped(word, at=f"{day + 2} 15:{number % 9 + 10}"))
    facts += [
        fact(Scrapped, "20 09:00", pieces=("p7",)),
        returned("p3", at="20 10:00"),
        fact(Scrapped, "21 10:00", 1, pieces=("p3",)),
    ]
    story = given()
    story.bench.at("58 16:00")
    story.when(*sorted(facts, key=lambda one: one.occurred_at)).accepted()
    return story
