"""The shop that is measured: pieces, cans and guns described, and coats to post on them.

Coats come in blocks. In each, 64 benches with a gun and a can of their own give ten lots of three
pieces three coats, four hours apart, so that every stretch of the stream holds first, second and
third coats, no history grows without end, and the rules of the trade find the work in order.
"""

from collections.abc import Iterable, Iterator
from datetime import UTC, datetime, timedelta
from itertools import islice
from uuid import UUID, uuid4

from coatledger.events import bare, coating, finish, preparing, room_gun, setup
from coatledger.events.catalogue import AnyEvent
from coatledger.ledger.store import Store
from coatledger.recording.session import Request, Session

BENCHES = 64
GROUPS = 10 * BENCHES
COATS = 3
BLOCK = GROUPS * COATS
PIECES = 3
SHOP = "dune-end"
AT_ONCE = 1_000
FIRST_COAT = timedelta(hours=8)
BETWEEN = timedelta(hours=4)


def begin() -> datetime:
    """The day the measured shop works on: yesterday, from midnight UTC.

    Whatever the time is now, no act lies ahead and all of them lie on one day of the shop, so that
    the rules of the trade find as much at noon as in the evening.
    """
    return datetime.now(UTC).replace(hour=0, minute=0, second=0, microsecond=0) - timedelta(days=1)


def new_id(at: datetime) -> UUID:
    """An id as a device makes it: version 7, in the order of time but for its random end."""
    ms = int(at.timestamp() * 1000)
    low = uuid4().int & ((1 << 74) - 1)
    return UUID(int=ms << 80 | 7 << 76 | (low >> 62) << 64 | 2 << 62 | low & ((1 << 62) - 1))


def described(day: datetime) -> Iterator[AnyEvent]:
    """The shop, its room with a reading an hour, and its finish with a whole data sheet."""
    hours = tuple(
        setup.OpenHours(day=name, opens="07:00", closes="17:00")
        for name in ("mon", "tue", "wed", "thu", "fri")
    )
    yield setup.ShopDescribed(id=new_id(day), occurred_at=day, zone="Europe/Dublin", hours=hours)
    yield setup.RoomDescribed(id=new_id(day), occurred_at=day, room="R1", rh_max_pct=65.0)
    yield setup.ProductDescribed(
        id=new_id(day), occurred_at=day, product="clear", kind="water_borne",
        volume_solids_pct=33.0, reference_wet_film_um=100.0, touch_dry_h=0.5, tack_free_h=1.0,
        recoat_h=3.0, recoat_max_h=48.0, wrap_h=24.0, cure_h=168.0, mfft_c=8.0,
        air_min_c=15.0, air_max_c=30.0, rh_min_pct=20.0, rh_max_pct=70.0,
        wet_film_min_um=75.0, wet_film_max_um=125.0,
    )  # fmt: skip
    for hour in range(19):
        reading = room_gun.Reading(air_c=20.5 + hour % 3, rh_pct=48.0 + hour % 7)
        at = day + timedelta(hours=hour)
        yield room_gun.ClimateRead(id=new_id(at), occurred_at=at, room="R1", readings=(reading,))


def prepared(day: datetime, block: int) -> Iterator[AnyEvent]:
    """What one block of coats needs: its cans and guns, its pieces sanded and blown off."""
    early, later = day + timedelta(hours=1), day + timedelta(hours=7)
    for bench in range(BENCHES):
        lot, gun = f"L{block}-{bench}", f"G{block}-{bench}"
        yield finish.LotReceived(
            id=new_id(early), occurred_at=early, lot=lot, product="clear", amount_l=20.0
        )
        yield setup.GunDescribed(id=new_id(early), occurred_at=early, gun=gun, method="hvlp")
        yield finish.LotStirred(id=new_id(later), occurred_at=later, lot=lot)
        yield room_gun.GunSetUp(
            id=new_id(later), occurred_at=later, gun=gun, lot=lot, nozzle_mm=1.3
        )
    for first in range(0, GROUPS, 64):
        words = tuple(w for group in range(first, first + 64) for w in pieces(block, group))
        yield bare.PieceStarted(
            id=new_id(early), occurred_at=early, pieces=words, kind="white-oak shelf",
            species="white-oak", coat_area_m2=0.8, use="shelf",
        )  # fmt: skip
        yield preparing.Sanded(
            id=new_id(later), occurred_at=later, pieces=words, stage="bare", grit=150
        )
        yield preparing.BlownOff(id=new_id(later), occurred_at=later, pieces=words, by="vacuum")


def pieces(block: int, group: int) -> tuple[str, ...]:
    """Three pieces that are always coated together."""
    return tuple(f"P{block}-{group}-{i}" for i in range(PIECES))


def coat(day: datetime, number: int) -> coating.CoatApplied:
    """The `number`-th coat of the whole stream."""
    block, within = divmod(number, BLOCK)
    layer, group = divmod(within, GROUPS)
    at = day + FIRST_COAT + layer * BETWEEN + timedelta(milliseconds=within)
    return coating.CoatApplied(
        id=new_id(at), occurred_at=at, pieces=pieces(block, group),
        lot=f"L{block}-{group % BENCHES}", gun=f"G{block}-{group % BENCHES}", room="R1",
        wet_film_um=100.0, amount_l=0.2,
    )  # fmt: skip


def fill(store: Store, events: Iterable[AnyEvent], at_once: int = AT_ONCE) -> int:
    """Record events in large batches, as the service does; return how many there were."""
    stream, count = iter(events), 0
    while group := tuple(islice(stream, at_once)):
        post(store, group)
        count += len(group)
    return count


def prepare(store: Store, day: datetime, coats: int) -> None:
    """Record everything that so many coats need."""
    fill(store, described(day))
    for block in range(-(-coats // BLOCK)):
        fill(store, prepared(day, block))


def post(store: Store, events: tuple[AnyEvent, ...]) -> None:
    """Record events in one transaction."""
    with store.writing() as writer:
        session = Session(writer, store.shop, datetime.now(UTC), lambda: bytes(16))
        session.take(Request(events=events, by="measure"))
        writer.write(session.changes())
