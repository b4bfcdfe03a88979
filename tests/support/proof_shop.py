"""A small week in a shop, told so that a proof pack has everything in it that one can have.

Piece T-1 is an ash bedside top of order O-1. It shares a coat with a top of another customer, gets
a late fact, an amended one, a void one, and comes back from its customer.
"""

from collections.abc import Callable

from bench import Bench
from coatledger.answers.proof import Signed, pack_of_piece
from coatledger.events.about import FindingSettled
from coatledger.events.bare import ConditionRecorded
from coatledger.events.coating import Moved
from coatledger.events.judging import DefectFound, Inspected, PhotoTaken
from coatledger.events.leaving import Packed, Returned, Shipped
from coatledger.events.orders import OrderLine, OrderTaken, PieceAllotted
from coatledger.events.preparing import Sanded
from coatledger.events.room_gun import ClimateRead, GunSetUp, Reading
from coatledger.events.setup import InstrumentChecked
from coatledger.ledger.pack import Pack
from coatledger.ledger.store import Store
from coatledger.ledger.tree import head_of
from coatledger_adapters.signing import Signer

PHOTO = "ab" * 32
SIGNER = Signer("dune-end", bytes(range(32)))
SIGNED_US = 1_772_800_000_000_000


def lived(store: Store) -> Bench:
    """Tell the week."""
    bench = Bench(store=store).open_shop()
    bench.record(InstrumentChecked, instrument="meter-2", kind="thermo_hygrometer", error=0.4,
                 unit="c")  # fmt: skip
    for order in ("O-1", "O-2"):
        bench.record(OrderTaken, order=order, lines=(OrderLine(line="a"),), customer="c-77")
    bench.pieces("T-1", "T-2", "T-3", species="ash")
    bench.pieces("S-1", kind="shelf", species="oak")
    bench.record(PieceAllotted, pieces=("T-1", "T-3"), order="O-1")
    bench.record(PieceAllotted, pieces=("T-2",), order="O-2")
    bench.record(ConditionRecorded, pieces=("T-1",), state="sound", photo_sha256=PHOTO)
    bench.record(Sanded, pieces=("T-1", "T-2"), stage="bare", grit=150)
    bench.record(GunSetUp, gun="g1", lot="can-1", nozzle_mm=1.3, cap_pressure_kpa=190.0)
    _read_air(bench.at("1 08:00"), 30)
    first = bench.at("1 09:00").coat("T-1", "T-2", wet_film_um=90.0)
    wrong = bench.at("1 09:30").coat("T-1", "S-1")
    bench.at("1 15:00").coat("T-1", "T-3")
    bench.at("1 15:30").record(PhotoTaken, pieces=("T-1",), sha256=PHOTO, shows="after")
    bench.at("2 08:00").record(Moved, pieces=("T-1",), room="store")
    bench.climate(20.0, 55.0, room="store", at="2 07:50")
    bench.void(wrong)
    bench.at("2 09:00").record(Inspected, pieces=("T-1",), point="final", passed=True)
    bench.amend(first, wet_film_um=110.0)
    bench.at("2 10:00").record(Packed, pieces=("T-1",), touching="paper")
    bench.record(Shipped, pieces=("T-1",), order="O-1")
    bench.at("4 10:00").record(Returned, pieces=("T-1",), why="finish")
    found = bench.record(DefectFound, pieces=("T-1",), kind="imprint", found_by="customer")
    bench.amend(first, wet_film_um=100.0)
    bench.record(FindingSettled, about=found.id, code="packed_before_wrap_safe", how="accepted")
    bench.record(Sanded, at="1 08:30", pieces=("T-1",), stage="bare", grit=180)
    return bench


def signed(store: Store) -> Signed:
    """Sign the head of a ledger."""
    with store.reading() as reader:
        note = SIGNER.sign(head_of(reader, store.shop))
    return Signed(note, SIGNED_US, None, SIGNER.key, SIGNER.seal, SIGNER.salt)


def pack_for(store: Store, piece: str = "T-1", stamp: Callable[[str], bytes] | None = None) -> Pack:
    """Write the pack of a piece under the present head, stamped by somebody or by nobody."""
    head = signed(store)
    if stamp is not None:
        head = head._replace(stamp=stamp(head.note.text))
    with store.reading() as reader:
        pack = pack_of_piece(reader, store.shop, piece, head)
    assert pack is not None
    return pack


def _read_air(bench: Bench, readings: int) -> None:
    for number in range(readings):
        bench.later(0.5)
        air = Reading(air_c=20.0 + number % 5 / 2, rh_pct=45.0 + number % 3)
        bench.record(ClimateRead, room="spray", readings=(air,), instrument="meter-2")
