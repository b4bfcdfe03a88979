"""What is left at hand between writes is what the store would say, whoever wrote meanwhile."""

import random

import pytest
from any_history import any_history
from bench import Bench
from coatledger.events.finish import LotStirred
from coatledger.events.preparing import Sanded
from coatledger.events.room_gun import ClimateRead, GunFlushed, Reading
from coatledger.ledger.correct import FAR, last
from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.record import micros
from coatledger.recording import at_hand
from coatledger.recording.at_hand import AtHand
from coatledger.recording.session import Request, Session
from coatledger.subjects.registry import state_bytes

SUBJECTS = ("piece:A", "piece:B", "piece:unknown", "lot:can-1", "gun:g1", "room:spray", "shop")
GUN_USES = ("coat_applied", "gun_set_up", "gun_flushed")


@pytest.mark.parametrize("seed", range(12))
def test_after_any_history_it_says_what_the_store_says(seed: int) -> None:
    bench = any_history(MemoryStore("trial"), seed)
    rng = random.Random(seed)
    with bench.store.reading() as reader:
        held = bench.at_hand
        held.begin(reader)
        stored = reader.folds(SUBJECTS)
        for subject, entry in held.entries(SUBJECTS).items():
            one = stored.get(subject)
            assert entry.named == (0 if one is None else one.position)
            assert entry.shelf == (None if one is None else one.shelf)
            if one is not None:
                assert (state_bytes(entry.state), entry.folded_us) == (one.state, one.folded_us)
        seen = 0
        for _ in range(60):
            at_us = micros(bench.now) - int(rng.random() * 100 * 3_600_000_000)
            types = rng.choice((GUN_USES, ("coat_applied",), ("gun_flushed",)))
            subject, count = rng.choice(SUBJECTS), rng.choice((1, 6, 12))
            found = held.last(subject, types, at_us, count)
            if found is not None:
                seen += 1
                assert found == last(reader, subject, types, at_us, count=count)
            assert held.climate_before("spray", at_us) == reader.climate_before("spray", at_us)
            last_us = rng.choice((FAR, at_us + 10**11))
            assert list(held.climate("spray", at_us, last_us)) == list(
                reader.climate("spray", at_us, last_us)
            )


def test_what_somebody_else_wrote_is_seen() -> None:
    bench = Bench().open_shop()
    bench.pieces("A")
    bench.coat("A")
    elsewhere = AtHand()
    bench.at_hand, mine = elsewhere, bench.at_hand
    bench.record(Sanded, pieces=("A",), stage="between_coats", grit=320)
    bench.at_hand = mine
    with bench.store.reading() as reader:
        mine.begin(reader)
        assert len(mine.entries(("piece:A",))["piece:A"].state.sandings) == 1


def test_what_was_never_committed_is_not_believed() -> None:
    bench = Bench().open_shop()
    bench.pieces("A")
    fact = bench.would_coat("A")
    with bench.store.writing() as writer:
        session = Session(writer, "trial", bench.now, lambda: bytes(16), bench.at_hand)
        session.take(Request(events=(fact,), by="key"))
    with bench.store.reading() as reader:
        bench.at_hand.begin(reader)
        assert not bench.at_hand.entries(("piece:A",))["piece:A"].state.coats
        assert not bench.at_hand.last("gun:g1", ("coat_applied",), FAR, 3)


def test_it_never_holds_more_than_its_bounds(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(at_hand, "SUBJECTS_MAX", 8)
    monkeypatch.setattr(at_hand, "ENDS", 3)
    bench = Bench().open_shop()
    words = tuple(f"P{i}" for i in range(30))
    bench.pieces(*words)
    for i, word in enumerate(words):
        bench.record(ClimateRead, room="spray", readings=(Reading(air_c=20.0 + i, rh_pct=50.0),))
        bench.later(0.1)
        bench.record(LotStirred, lot="can-1")
        bench.post(bench.would_coat(word), judged=True)
        bench.record(GunFlushed, gun="g1")
    assert len(bench.at_hand._entries) <= 8
    with bench.store.reading() as reader:
        bench.at_hand.begin(reader)
        types = ("coat_applied",)
        found = bench.at_hand.last("gun:g1", types, FAR, 2)
        assert found == last(reader, "gun:g1", types, FAR, count=2)
        assert bench.at_hand.last("gun:g1", types, FAR, 4) is None
        assert all(len(end.facts) <= 3 for end in bench.at_hand._ends["gun:g1"].values())
        assert len(bench.at_hand.entries(("piece:P3",))["piece:P3"].state.coats) == 1
