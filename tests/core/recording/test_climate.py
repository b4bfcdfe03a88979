"""A room's readings in force: read, corrected, moved to another room, taken back."""

from typing import Any

from bench import on_day
from coatledger.events.room_gun import ClimateRead, Reading
from coatledger.ledger.record import micros
from coatledger.ledger.store import Store
from coatledger.recording.session import Request, Session
from msgspec.structs import replace
from story import Story, amended, fact, given, voided

ALL = (-(1 << 62), 1 << 62)


def read(at: str, *air_c: float, room: str = "spray", n: int = 0) -> ClimateRead:
    """Readings ten minutes apart."""
    first = on_day(at)
    times = [on_day(f"{at[:-2]}{i}0") for i in range(len(air_c))]
    readings = tuple(
        Reading(air_c=air, rh_pct=50.0, at=when) for air, when in zip(air_c, times, strict=True)
    )
    assert times[0] == first
    return fact(ClimateRead, at, n, room=room, readings=readings, ended_at=times[-1])


def airs(story: Story, room: str = "spray", known: int | None = None) -> list[float]:
    with story.bench.store.reading() as reader:
        return [row.air_c for row in reader.climate(room, *ALL, known)]


def air_before(story: Story, at: str, known: int | None = None) -> float | None:
    with story.bench.store.reading() as reader:
        row = reader.climate_before("spray", micros(on_day(at)), known)
        return None if row is None else row.air_c


MORNING = read("1 08:00", 18.0, 19.0, 20.0)


def test_readings_stand_in_order_of_their_times_however_they_came(store: Store) -> None:
    story = given(read("1 12:00", 22.0), MORNING, store=store)
    assert airs(story) == [18.0, 19.0, 20.0, 22.0]
    assert (air_before(story, "1 08:15"), air_before(story, "1 07:59")) == (19.0, None)


def test_a_reading_without_its_own_time_was_read_when_the_fact_occurred(store: Store) -> None:
    plain = fact(ClimateRead, "1 08:00", room="spray", readings=(Reading(air_c=20, rh_pct=40),))
    assert air_before(given(plain, store=store), "1 08:00") == 20.0


def test_a_voided_reading_is_gone_from_its_correction_on(store: Store) -> None:
    story = given(MORNING, store=store)
    story.when(voided(MORNING)).accepted()
    assert airs(story) == []
    assert airs(story, known=1) == [18.0, 19.0, 20.0]
    assert air_before(story, "1 12:00", known=1) == 20.0


def test_the_latest_amendment_of_a_reading_counts_and_the_earlier_stay_known(store: Store) -> None:
    story = given(MORNING, store=store)
    for n, air in enumerate((21.0, 22.0)):
        fixed = tuple(replace(r, air_c=air) for r in MORNING.readings)
        story.when(amended(MORNING, n=n, readings=fixed)).accepted()
    story.when(voided(MORNING)).accepted()
    assert [airs(story, known=k)[:1] for k in range(5)] == [[], [18.0], [21.0], [22.0], []]
    assert airs(story) == []


def test_a_reading_moved_to_another_room_leaves_the_first(store: Store) -> None:
    story = given(MORNING, store=store)
    story.when(amended(MORNING, room="drying")).accepted()
    assert (airs(story), airs(story, "drying")) == ([], [18.0, 19.0, 20.0])
    story.when(amended(MORNING, n=1)).accepted()
    assert (airs(story), airs(story, "drying")) == ([18.0, 19.0, 20.0], [])
    story.when(amended(MORNING, n=2, room="drying")).accepted()
    story.when(voided(MORNING)).accepted()
    assert (airs(story), airs(story, "drying")) == ([], [])


def test_read_and_corrected_in_one_request(store: Store) -> None:
    story = given(store=store)
    fixed = amended(MORNING, readings=MORNING.readings[:1])
    story.when(MORNING, fixed, amended(MORNING, n=2, room="drying")).accepted()
    assert (airs(story), airs(story, "drying")) == ([], [18.0, 19.0, 20.0])
    assert [airs(story, known=k) for k in (1, 2)] == [[18.0, 19.0, 20.0], [18.0]]


def test_a_devices_offset_moves_its_readings(store: Store) -> None:
    story = given(store=store)
    story.when(MORNING, offset_ms=600_000).accepted()
    assert air_before(story, "1 08:00") == 19.0


def test_what_is_pending_reads_as_it_will_once_written(store: Store) -> None:
    """A finding computed within the request sees the climate the next request will see."""
    story = given(MORNING, read("1 12:00", 25.0), store=store)
    facts: tuple[Any, ...] = (read("1 11:00", 23.0), voided(read("1 12:00", 25.0)))
    with story.bench.store.writing() as writer:
        session = Session(writer, "trial", story.bench.now, lambda: bytes(16))
        session.take(Request(events=facts, by="key"))
        at_us = micros(on_day("1 13:00"))
        pending = [
            ([r.air_c for r in session.overlay.climate("spray", *ALL, known)],
             session.overlay.climate_before("spray", at_us, known))
            for known in (None, 2, 3, 4)
        ]  # fmt: skip
        writer.write(session.changes())
    assert pending[0][0] == [18.0, 19.0, 20.0, 23.0]
    assert pending[1][0] == [18.0, 19.0, 20.0, 25.0]
    for (seen, before), known in zip(pending, (None, 2, 3, 4), strict=True):
        assert seen == airs(story, known=known)
        assert before is not None
        assert before.air_c == air_before(story, "1 13:00", known)
