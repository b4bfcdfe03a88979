"""The page of a proof pack: everything on it, nothing fetched, nothing run, nothing let through."""

import re
from html.parser import HTMLParser

from bench import Bench
from coatledger.answers.proof import pack_of_piece
from coatledger.events.coating import Turned
from coatledger.findings.finding import Finding
from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.pack import Pack, pack_bytes
from coatledger.ledger.pack_check import check_pack
from coatledger_adapters.signing import Signer, verify
from coatledger_api.paper.proof_page import proof_page
from proof_shop import PHOTO, SIGNER, lived, pack_for, signed

STORE = MemoryStore("dune-end", "first")
lived(STORE)
PACK = pack_for(STORE)
VOID = {"meta", "br", "line", "rect", "circle", "polyline"}


class Reading(HTMLParser):
    """Collects tags and words, and finds what was left open."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: set[str] = set()
        self.links: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.links += [value or "" for name, value in attrs if name in ("src", "href")]
        self.links += [name for name, _ in attrs if name.startswith("on")]
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert tag in VOID or self.open.pop() == tag


def page_of(pack: Pack, key: Signer = SIGNER) -> str:
    return proof_page(pack, check_pack(pack_bytes(pack), pack, key.key, verify)).decode()


PAGE = page_of(PACK)
WORDS = re.sub(r"<[^>]+>", " ", PAGE)


def test_the_page_is_whole_and_neither_fetches_nor_runs_anything() -> None:
    reading = Reading()
    reading.feed(PAGE)
    assert reading.open == []
    assert not reading.tags & {"script", "link", "img", "iframe", "object", "form"}
    assert reading.links == []
    assert "url(" not in PAGE
    assert "http" not in PAGE


def test_the_page_shows_every_part_of_the_pack() -> None:
    for heading in (
        "The film", "What was done", "Corrections, side by side", "What it rests on",
        "How it looked", "Beside it", "What is proven, and what is only stated", "The signed head",
    ):  # fmt: skip
        assert f">{heading}<" in PAGE
    for words in (
        "ash bedside top", "wet film: 110", "never happened", PHOTO, "meter-2", "1.3 mm",
        "20 to 22 °C", "told 3 days later", "a claim in event 58 was known", SIGNER.key.text,
    ):  # fmt: skip
        assert words in WORDS, words


def test_the_page_says_whether_it_was_checked() -> None:
    assert "Checked: it holds." in PAGE
    assert "Not checked here." in proof_page(PACK).decode()
    assert "It does not hold." in page_of(PACK, Signer("dune-end", bytes(32)))


def test_a_voided_fact_is_struck_through() -> None:
    (row,) = re.findall(r"<tr class=gone>.*?</tr>", PAGE)
    assert "S-1" in row
    assert "voided" in row


def test_words_from_outside_stay_words() -> None:
    bench = Bench(store=MemoryStore("dune-end", "first"))
    bench.pieces("A", kind="<script>alert(1)</script>")
    finding = Finding(
        code="odd", severity="note", about=bench.record(Turned, pieces=("A",)).id, at=bench.now,
        cause="x", seen=(), why="<b>why</b>", what_to_do="", source="",
    )  # fmt: skip
    with bench.store.reading() as reader:
        pack = pack_of_piece(reader, "dune-end", "A", signed(bench.store), [finding])
    assert pack is not None
    page = page_of(pack)
    assert "<script" not in page
    assert "<b>why" not in page
    assert "&lt;b&gt;why" in page


def test_a_piece_without_a_film_says_so() -> None:
    bench = Bench(store=MemoryStore("dune-end", "first"))
    bench.pieces("A")
    assert "No film was put on it." in page_of(pack_for(bench.store, "A"))
