"""What stands on labels: the word's few lines, of whom, in what order, and when nobody knows it."""

from datetime import date

from bench import Bench, on_day
from coatledger.answers.labels import LABELS_MAX, LabelKind, LabelList, label_list
from coatledger.events.finish import LotDiscarded, LotReceived
from coatledger.events.leaving import Scrapped
from coatledger.events.orders import OrderLine, OrderTaken, PieceAllotted, PromiseMade
from coatledger.events.setup import RoomDescribed
from coatledger.subjects.asked import ask


def told(
    bench: Bench, kind: LabelKind = "piece", *ids: str, after: str = "", **times: str
) -> LabelList:
    with bench.store.reading() as reader:
        placed = {name: on_day(words) for name, words in times.items()}
        return label_list(reader, ask(reader, bench.now, **placed), kind, ids, after)


def lines(found: LabelList) -> dict[str, tuple[str, ...]]:
    return {label.word: label.lines for label in found.labels}


def test_a_piece_says_what_it_is_when_it_is_due_and_for_which_order() -> None:
    bench = Bench().open_shop()
    bench.pieces("a", "b")
    assert lines(told(bench))["a"] == ("bedside top, cherry",)
    bench.record(OrderTaken, order="O-1", customer="c9", wanted_by=date(2026, 4, 9),
                 lines=(OrderLine(line="1", sku="bt"),))  # fmt: skip
    bench.later(1).record(PieceAllotted, pieces=("a",), order="O-1", line="1")
    assert lines(told(bench))["a"] == ("bedside top, cherry", "due Thu 9 Apr 2026", "order O-1")
    bench.record(PromiseMade, order="O-1", ships_by=date(2026, 4, 10), level_pct=80)
    assert lines(told(bench))["a"][1] == "due Fri 10 Apr 2026", "what was told comes before a wish"
    assert lines(told(bench))["b"] == ("bedside top, cherry",)
    assert "c9" not in str(told(bench)), "no customer stands on a label"


def test_only_what_is_here_gets_a_label_unless_it_is_asked_for() -> None:
    bench = Bench().open_shop()
    bench.pieces("a", "b", "c")
    bench.later(1).record(Scrapped, pieces=("b",))
    assert list(lines(told(bench))) == ["a", "c"]
    assert list(lines(told(bench, "piece", "c", "b"))) == ["c", "b"]
    assert list(lines(told(bench, after="a"))) == ["c"]
    assert list(lines(told(bench, as_of="1 07:00"))) == ["a", "b", "c"]


def test_a_can_a_gun_and_a_room_say_so() -> None:
    bench = Bench().open_shop()
    bench.record(LotReceived, lot="can-9", product="clear-w", amount_l=1.0,
                 use_by=date(2027, 1, 5))  # fmt: skip
    bench.record(RoomDescribed, room="drying", name="Drying room")
    assert lines(told(bench, "lot"))["can-9"] == ("can", "clear-w", "use by Tue 5 Jan 2027")
    assert lines(told(bench, "gun"))["g1"][0] == "gun"
    assert lines(told(bench, "room"))["drying"] == ("room", "Drying room")
    bench.later(1).record(LotDiscarded, lot="can-9", why="empty")
    assert "can-9" not in lines(told(bench, "lot"))


def test_words_nobody_used_are_named() -> None:
    bench = Bench().open_shop()
    bench.pieces("a")
    kinds: tuple[LabelKind, ...] = ("piece", "lot", "gun", "room")
    for kind in kinds:
        assert told(bench, kind, "nobody").missing == ("nobody",)
    assert told(bench, "piece", "a", "nobody").labels[0].word == "a"


def test_more_than_a_thousand_come_in_pages() -> None:
    bench = Bench().open_shop()
    for first in range(0, LABELS_MAX + 2, 334):
        bench.pieces(*(f"P-{n:04}" for n in range(first, first + 334)))
    page = told(bench)
    assert len(page.labels) == LABELS_MAX
    rest = told(bench, after=page.next_after or "")
    assert [label.word for label in rest.labels] == ["P-1000", "P-1001"]
    assert rest.next_after is None
