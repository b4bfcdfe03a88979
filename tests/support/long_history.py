"""A shop's history as long as wanted: the same days over and over, one gun, one room, new cans."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from uuid import UUID

from coatledger.events import bare, coating, finish, judging, leaving, preparing, room_gun, setup
from coatledger.events.catalogue import AnyEvent

BEGIN = datetime(2020, 1, 6, 8, tzinfo=UTC)
PIECES_A_BATCH = 4
COATS = 3


class Ids:
    """Ids in order, so that a run can be repeated."""

    def __init__(self, first: int = 1) -> None:
        self._next = first

    def __call__(self) -> UUID:
        self._next += 1
        return UUID(int=(7 << 76) | (2 << 62) | self._next)


def described(ids: Ids) -> tuple[AnyEvent, ...]:
    """The shop, its room, gun, finish and schedule."""
    hours = tuple(
        setup.OpenHours(day=day, opens="08:00", closes="17:00")
        for day in ("mon", "tue", "wed", "thu", "fri")
    )
    steps = (
        setup.Step(act="sand", grit=150),
        *(setup.Step(act="blow_off"), setup.Step(act="coat", product="clear")) * COATS,
        setup.Step(act="inspect"),
        setup.Step(act="pack"),
    )
    return (
        setup.ShopDescribed(id=ids(), occurred_at=BEGIN, zone="Europe/Dublin", hours=hours),
        setup.RoomDescribed(id=ids(), occurred_at=BEGIN, room="R1", rh_max_pct=65.0),
        setup.GunDescribed(id=ids(), occurred_at=BEGIN, gun="G1"),
        setup.ProductDescribed(
            id=ids(), occurred_at=BEGIN, product="clear", kind="water_borne",
            reference_wet_film_um=100.0, recoat_h=3.0, wrap_h=24.0, cure_h=168.0, mfft_c=8.0,
        ),
        setup.ScheduleDescribed(id=ids(), occurred_at=BEGIN, schedule="S1", steps=steps),
    )  # fmt: skip


def batch(ids: Ids, number: int) -> Iterator[AnyEvent]:
    """One batch of pieces from bare wood to the carrier, with its can and the room's air."""
    at = BEGIN + timedelta(hours=2 * number)
    pieces = tuple(f"P{number}-{i}" for i in range(PIECES_A_BATCH))
    lot = f"L{number // 10}"
    if number % 10 == 0:
        yield finish.LotReceived(id=ids(), occurred_at=at, lot=lot, product="clear", amount_l=20.0)
    yield bare.PieceStarted(
        id=ids(), occurred_at=at, pieces=pieces, kind="white-oak shelf", species="white-oak",
        coat_area_m2=0.8, use="shelf", schedule="S1",
    )  # fmt: skip
    yield preparing.Sanded(
        id=ids(), occurred_at=at + timedelta(minutes=10), pieces=pieces, stage="bare", grit=150
    )
    for coat in range(COATS):
        then = at + timedelta(minutes=20 + 30 * coat)
        yield room_gun.ClimateRead(
            id=ids(), occurred_at=then, room="R1",
            readings=(room_gun.Reading(air_c=20.5 + number % 3, rh_pct=48.0 + number % 7),),
        )  # fmt: skip
        yield preparing.BlownOff(id=ids(), occurred_at=then, pieces=pieces, by="vacuum")
        yield finish.LotStirred(id=ids(), occurred_at=then, lot=lot)
        yield room_gun.GunSetUp(id=ids(), occurred_at=then, gun="G1", lot=lot, nozzle_mm=1.3)
        yield coating.CoatApplied(
            id=ids(), occurred_at=then + timedelta(minutes=5), pieces=pieces, lot=lot, gun="G1",
            room="R1", wet_film_um=100.0,
        )  # fmt: skip
        yield room_gun.GunFlushed(id=ids(), occurred_at=then + timedelta(minutes=15), gun="G1")
    later = at + timedelta(hours=1, minutes=55)
    yield judging.Inspected(id=ids(), occurred_at=later, pieces=pieces, point="final", passed=True)
    yield leaving.Packed(id=ids(), occurred_at=later, pieces=pieces, touching="paper")
    yield leaving.Shipped(id=ids(), occurred_at=later, pieces=pieces)


def history(events: int, ids: Ids) -> Iterator[AnyEvent]:
    """That many events, a little more to end a batch."""
    made = 0
    for event in described(ids):
        made += 1
        yield event
    number = 0
    while made < events:
        for event in batch(ids, number):
            made += 1
            yield event
        number += 1
