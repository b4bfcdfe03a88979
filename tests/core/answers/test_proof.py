"""The proof pack as a whole: what is proven, what is counted, and what stays hidden."""

import json
from collections.abc import Sequence
from typing import Any

from bench import Bench
from coatledger.answers.proof import pack_of_piece, shown, told_faults
from coatledger.events.leaving import Shipped
from coatledger.events.orders import PieceAllotted
from coatledger.events.room_gun import GunFlushed, GunSetUp
from coatledger.findings.finding import Finding
from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.pack import Pack, commitment, pack_bytes, pack_of
from coatledger.ledger.pack_check import check_pack
from coatledger.ledger.record import Row
from coatledger_adapters.signing import verify
from long_history import Ids, history
from msgspec.structs import replace
from proof_shop import SIGNER, lived, pack_for, signed


def lived_store() -> MemoryStore:
    store = MemoryStore("dune-end", "first")
    lived(store)
    return store


STORE = lived_store()


def stated(pack: Pack) -> Any:
    return json.loads(bytes(pack.stated))


def holds(pack: Pack) -> bool:
    data = pack_bytes(pack)
    read = pack_of(data)
    return check_pack(data, read, SIGNER.key, verify).holds and not told_faults(read)


def test_a_piece_nobody_named_has_no_pack() -> None:
    head = signed(STORE)
    with STORE.reading() as reader:
        assert pack_of_piece(reader, "dune-end", "T-9", head) is None


def test_every_piece_has_a_pack_that_holds() -> None:
    for piece in ("T-1", "T-2", "T-3", "S-1"):
        assert holds(pack_for(STORE, piece))


def test_a_pack_under_an_older_head_holds_and_tells_what_was_then() -> None:
    bench = lived(MemoryStore("dune-end", "first"))
    head = signed(bench.store)
    bench.coat("T-1")
    with bench.store.reading() as reader:
        pack = pack_of_piece(reader, "dune-end", "T-1", head)
    assert pack is not None
    assert holds(pack)
    assert pack_bytes(pack) == pack_bytes(pack_for(STORE))


def test_sister_pieces_are_counted_and_other_orders_hidden() -> None:
    by = {(s["shared"], s["since"]): s for s in stated(pack_for(STORE))["sisters"]}
    can = by["lot:can-1", None]
    assert (can["pieces"], can["same_order"], can["no_order"]) == (2, 1, 0)
    (other,) = can["orders"]
    assert other == {"order": commitment(SIGNER.salt("O-2"), "O-2"), "pieces": 1}
    assert b"O-2" not in pack_bytes(pack_for(STORE))


def test_a_session_of_a_gun_ends_where_it_is_flushed() -> None:
    bench = Bench(store=MemoryStore("dune-end", "first")).open_shop()
    bench.pieces("A", "B", "C", "D")
    bench.record(GunSetUp, gun="g1", lot="can-1")
    bench.later(1).coat("A", "B")
    bench.later(1).record(GunFlushed, gun="g1")
    bench.later(1).coat("C")
    bench.coat("D", gun="g2")
    sisters = {s["shared"]: s["pieces"] for s in stated(pack_for(bench.store, "A"))["sisters"]}
    assert sisters == {"gun:g1": 1, "lot:can-1": 3}


def test_an_event_that_names_another_customers_order_is_withheld() -> None:
    bench = lived(MemoryStore("dune-end", "first"))
    bench.record(PieceAllotted, pieces=("T-2",), order="O-1")
    pack = pack_for(bench.store, "T-2")
    assert holds(pack)
    (hidden,) = (leaf for leaf in pack.leaves if leaf.withheld)
    assert hidden.order == commitment(SIGNER.salt("O-2"), "O-2")
    assert b"O-2" not in pack_bytes(pack)
    verdict = check_pack(pack_bytes(pack), pack, SIGNER.key, verify)
    assert f"event {hidden.position}, withheld" in " ".join(verdict.stated)
    assert "some are withheld" in " ".join(verdict.proven)


def test_the_order_a_piece_left_under_is_its_own() -> None:
    bench = lived(MemoryStore("dune-end", "first"))
    bench.record(Shipped, pieces=("T-2", "T-3"), order="O-2")
    ours, theirs = pack_for(bench.store, "T-2"), pack_for(bench.store, "T-3")
    assert not any(leaf.withheld for leaf in ours.leaves)
    (allotted,) = (leaf for leaf in theirs.leaves if leaf.withheld)
    assert allotted.order == commitment(SIGNER.salt("O-1"), "O-1")


def test_a_wrong_word_about_a_withheld_event_breaks_the_chain() -> None:
    bench = lived(MemoryStore("dune-end", "first"))
    bench.record(PieceAllotted, pieces=("T-2",), order="O-1")
    pack = pack_for(bench.store, "T-2")
    leaves = tuple(replace(x, before=3) if x.withheld else x for x in pack.leaves)
    wrong = replace(pack, leaves=leaves)
    verdict = check_pack(pack_bytes(wrong), wrong, SIGNER.key, verify)
    assert any("names event 3" in str(fault) for fault in verdict.faults)


def test_findings_are_stated_as_they_are_handed_in() -> None:
    fact = next(event for event in shown(pack_for(STORE)) if event.position == 47).event
    finding = Finding(
        code="film_too_thick", severity="caution", about=fact.id, at=fact.occurred_at,
        cause="lot:can-1", seen=(), why="why", what_to_do="what", source="sheet",
    )  # fmt: skip
    head = signed(STORE)
    with STORE.reading() as reader:
        pack = pack_of_piece(reader, "dune-end", "T-1", head, [finding])
    assert pack is not None
    assert holds(pack)
    assert [f["code"] for f in stated(pack)["findings"]] == ["film_too_thick"]


def test_a_time_stamp_goes_along_with_the_head() -> None:
    with STORE.reading() as reader:
        pack = pack_of_piece(reader, "dune-end", "T-1", signed(STORE)._replace(stamp=b"token"))
    assert pack is not None
    assert holds(pack)
    verdict = check_pack(pack_bytes(pack), pack, SIGNER.key, verify)
    assert "time stamp" in verdict.stated[-1]


def test_told_faults_are_named_when_events_cannot_be_read() -> None:
    pack = pack_for(STORE)
    broken = replace(pack.leaves[0], leaf=pack.leaves[0].leaf.copy())
    assert told_faults(replace(pack, leaves=(*pack.leaves[1:], broken))) == ()
    nothing = replace(pack, leaves=pack.leaves[:1])
    assert "is not what its events tell" in told_faults(nothing)[0].says


class Counting(MemoryStore):
    """A store that counts the events it finds by subject."""

    found = 0

    def of_subject(self, subject: str, **wanted: Any) -> Sequence[Row]:
        rows = super().of_subject(subject, **wanted)
        self.found += len(rows)
        return rows


def test_a_pack_looks_at_no_more_of_a_long_history_than_of_a_short_one() -> None:
    found = []
    for events in (300, 3_000):
        store = Counting("dune-end", "first")
        bench = Bench("600 00:00", store=store)
        for event in history(events, Ids()):
            bench.post(event)
        head, store.found = signed(store), 0
        assert pack_of_piece(store, "dune-end", "P3-1", head) is not None
        found.append(store.found)
    assert found[0] == found[1]
