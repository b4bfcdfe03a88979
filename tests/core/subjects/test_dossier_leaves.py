"""Which events come into a pack: all of the piece, and what those lean on, and no more."""

from bench import Bench, on_day
from coatledger.events.coating import Moved, Turned
from coatledger.events.finish import LotMeasured, LotMixed, Parent
from coatledger.events.leaving import Packed
from coatledger.events.room_gun import ClimateRead, GunFlushed, GunSetUp, Reading
from coatledger.events.setup import InstrumentChecked
from coatledger.ledger.correct import history
from coatledger.ledger.record import micros
from coatledger.subjects.dossier_leaves import Leaves, Window, leaves_of, windows


def picked(bench: Bench, piece: str = "A") -> Leaves:
    with bench.store.reading() as reader:
        return leaves_of(reader, piece, reader.head().size)


def types(leaves: Leaves, why: str) -> list[str]:
    return [leaves.rows[p].type for p in sorted(leaves.rows) if why in leaves.why[p]]


def readings(leaves: Leaves, room: str = "spray") -> list[str]:
    """The times of the readings picked, as day and hour."""
    found = []
    for event in leaves.events():
        if isinstance(event.event, ClimateRead) and event.event.room == room:
            at = event.event.occurred_at - on_day("1 00:00")
            found.append(f"{at.days + 1} {at.seconds // 3600:02}")
    return found


def test_events_of_other_pieces_stay_out() -> None:
    bench = Bench().open_shop()
    bench.pieces("A")
    bench.pieces("B")
    bench.coat("B")
    bench.record(Turned, pieces=("A",))
    assert types(picked(bench), "piece") == ["piece_started", "turned"]
    assert len(picked(bench).rows) == 2
    assert not picked(bench, "C").rows


def test_a_can_comes_with_its_own_life_but_not_with_other_peoples_coats() -> None:
    bench = Bench().open_shop()
    bench.pieces("A", "B")
    bench.coat("B")
    bench.record(LotMeasured, lot="can-1", left_l=4.0)
    bench.coat("A")
    leaves = picked(bench)
    assert types(leaves, "lot:can-1") == ["lot_received", "lot_stirred"]
    assert types(leaves, "product:clear-w") == ["product_described"]


def test_the_correction_of_a_sheet_comes_with_the_sheet() -> None:
    bench = Bench().open_shop()
    sheet = bench.clear("clear-w", cure_h=24.0)
    other = bench.pieces("B")
    bench.pieces("A")
    bench.coat("A")
    bench.amend(sheet, cure_h=48.0)
    bench.void(other)
    assert types(picked(bench), "product:clear-w") == [
        "product_described", "product_described", "event_amended",
    ]  # fmt: skip


def test_a_mix_brings_its_parents() -> None:
    bench = Bench().open_shop()
    bench.can("can-2", "clear-w")
    parents = (Parent(lot="can-1", amount_l=1.0), Parent(lot="can-2", amount_l=1.0))
    bench.record(LotMixed, lot="mix", product="clear-w", parents=parents)
    bench.pieces("A")
    bench.coat("A", lot="mix")
    leaves = picked(bench)
    assert types(leaves, "lot:mix") == ["lot_mixed"]
    assert types(leaves, "lot:can-2") == ["lot_received", "lot_stirred", "lot_mixed"]


def test_a_gun_brings_its_last_set_up_and_cleaning_before_the_coat() -> None:
    bench = Bench().open_shop()
    bench.pieces("A")
    for _ in range(3):
        bench.later(1).record(GunFlushed, gun="g1")
        bench.record(GunSetUp, gun="g1", lot="can-1")
    bench.later(1).coat("A")
    bench.later(1).record(GunFlushed, gun="g1")
    leaves = picked(bench)
    assert types(leaves, "gun:g1") == ["gun_described", "gun_flushed", "gun_set_up"]
    assert max(p for p in leaves.rows if leaves.rows[p].type == "gun_flushed") < 14


def test_the_air_is_that_of_the_time_the_film_dried_here() -> None:
    bench = Bench().open_shop()
    bench.pieces("A")
    for hour in range(8, 20):
        bench.at(f"1 {hour:02}:00").climate()
        if hour == 10:
            bench.coat("A")
        if hour == 14:
            bench.record(Packed, pieces=("A",), touching="paper")
    # The reading at ten was told before the coat; it held when the coat went on.
    assert readings(picked(bench)) == ["1 10", "1 11", "1 12", "1 13", "1 14"]


def test_the_air_follows_the_piece_into_another_room() -> None:
    bench = Bench().open_shop()
    bench.pieces("A")
    bench.at("1 09:00").climate(room="loft")
    for hour in range(10, 16):
        bench.at(f"1 {hour}:00").climate()
        bench.climate(room="loft")
        if hour == 11:
            bench.coat("A")
        if hour == 13:
            bench.record(Moved, pieces=("A",), room="loft")
    leaves = picked(bench)
    assert readings(leaves) == ["1 11", "1 12", "1 13"]
    assert readings(leaves, "loft") == ["1 13", "1 14", "1 15"]


def test_a_film_that_nobody_packs_is_followed_until_its_sheet_says_cured() -> None:
    bench = Bench().open_shop()
    bench.pieces("A")
    bench.at("1 08:00").coat("A")
    for day in range(2, 13):
        bench.at(f"{day} 08:00").climate()
    assert readings(picked(bench)) == [f"{day} 08" for day in range(2, 9)]  # 168 h


def test_windows_end_where_the_next_film_begins_or_the_piece_leaves() -> None:
    bench = Bench().open_shop()
    bench.pieces("A")
    bench.at("1 08:00").coat("A")
    bench.at("1 12:00").coat("A")
    bench.at("2 09:00").record(Packed, pieces=("A",), touching="paper")
    with bench.store.reading() as reader:
        facts = history(reader, "piece:A")
    films = [p for p in facts if p.fact.__struct_config__.tag == "coat_applied"]
    times = [micros(on_day(words)) for words in ("1 08:00", "1 12:00", "2 09:00")]
    assert windows(facts, films, {}) == (
        Window("spray", times[0], times[1]), Window("spray", times[1], times[2]),
    )  # fmt: skip
    assert windows((), (), {}) == ()


def test_an_instrument_brings_its_last_check_before_it_was_read() -> None:
    bench = Bench().open_shop()
    for number in range(3):
        bench.later(1).record(
            InstrumentChecked, instrument="m", kind="thermo_hygrometer", error=number / 10
        )
    reading = (Reading(air_c=20.0, rh_pct=50.0),)
    bench.record(ClimateRead, room="spray", readings=reading, instrument="m")
    bench.pieces("A")
    bench.coat("A")
    bench.later(1).record(InstrumentChecked, instrument="m", kind="thermo_hygrometer")
    leaves = picked(bench)
    checks = [p for p in leaves.rows if leaves.rows[p].type == "instrument_checked"]
    assert [leaves.why[p] for p in checks] == [["instrument:m"]]
    assert b'"error":0.2' in leaves.rows[checks[0]].leaf


def test_an_amendment_that_brings_a_piece_in_brings_its_original() -> None:
    bench = Bench()
    bench.pieces("A", "B")
    turned = bench.record(Turned, pieces=("B",))
    bench.amend(turned, pieces=("A",))
    leaves = picked(bench)
    assert types(leaves, "original") == ["turned"]
    assert types(leaves, "piece") == ["piece_started", "event_amended"]


def test_nothing_recorded_after_the_signed_head_comes_in() -> None:
    bench = Bench().open_shop()
    bench.pieces("A")
    bench.coat("A")
    with bench.store.reading() as reader:
        size = reader.head().size
    bench.record(Turned, pieces=("A",))
    bench.climate()
    bench.clear("clear-w")
    with bench.store.reading() as reader:
        assert max(leaves_of(reader, "A", size).rows) == size
