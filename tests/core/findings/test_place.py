"""What stood just before a fact, read once."""

from datetime import timedelta

from bench import Bench, on_day
from coatledger.events.judging import Held
from coatledger.events.room_gun import GunFlushed
from coatledger.events.setup import ShopDescribed
from coatledger.findings.finding import Seen
from coatledger.findings.place import Place, seen, zone_of
from coatledger.ledger.record import micros
from coatledger.subjects.piece import Piece
from judged import ready


def place(bench: Bench, *words: str) -> Place:
    fact = bench.would_coat(*(words or ("T-1",)))
    return Place(bench.view(), fact)


def test_a_reading_counts_for_half_a_day() -> None:
    bench = ready()
    assert place(bench.at("1 19:45")).reading("spray") is not None
    assert place(bench.at("1 19:46")).reading("spray") is None
    assert place(bench).reading(None) is None


def test_a_wait_nearly_over_counts_as_over() -> None:
    bench = ready()
    bench.coat("T-1")
    bench.later(2.84)
    waiting = place(bench)
    assert waiting.wait(waiting.pieces[0], "sandable") is not None
    done = place(bench.at("1 10:52"))
    assert done.wait(done.pieces[0], "sandable") is None


def test_the_day_is_the_shops_own() -> None:
    bench = ready()
    assert place(bench).today(micros(on_day("1 23:30")))
    bench.record(ShopDescribed, zone="Europe/Helsinki", hours=())
    assert not place(bench).today(micros(on_day("1 23:30")))
    assert not place(bench).today(None)


def test_a_zone_nobody_knows_is_taken_for_utc() -> None:
    assert zone_of("Nowhere/At_All").key == "UTC"


def test_a_gun_is_clean_until_it_is_used_again() -> None:
    bench = ready()
    assert place(bench).uncleaned_use("g1") is None
    coat = bench.coat("T-1")
    used = place(bench).uncleaned_use("g1")
    assert used is not None
    assert used.fact.id == coat.id
    bench.record(GunFlushed, gun="g1")
    assert place(bench).uncleaned_use("g1") is None


def test_evidence_is_told_once_and_names_only_the_pieces_it_is_true_of() -> None:
    def free(piece: Piece) -> Seen | None:
        return None if piece.held else seen("not T-2")

    bench = ready()
    bench.record(Held, pieces=("T-2",))
    hit = place(bench, "T-1", "T-2", "T-3").each(free)
    assert hit is not None
    assert (hit.pieces, hit.cause) == (("T-1", "T-3"), "piece:T-1")
    assert [one.says for one in hit.seen] == ["not T-2"]


def test_neighbours_that_went_through_the_same_are_looked_at_once() -> None:
    bench = ready()
    bench.record(Held, pieces=("T-3",))
    bench.coat("T-1", "T-2", "T-3")
    groups = place(bench, "T-1", "T-2", "T-3").alike
    assert [words for _, words in groups] == [["T-1", "T-2"], ["T-3"]]
    assert groups[0][0].piece == "T-1"


def test_a_turn_tells_pieces_apart_only_in_an_act_that_took_its_time() -> None:
    bench = ready()
    bench.coat("T-1", "T-2", ended_at=bench.now + timedelta(minutes=10))
    assert len(place(bench, "T-1", "T-2").alike) == 2
