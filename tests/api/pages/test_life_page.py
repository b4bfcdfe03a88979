"""The life of a piece in a browser: how it stands, its film, every act, its proof as it came."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from browser import DESK, PHONE, Device, Door
from coatledger.ledger.pack import pack_bytes, pack_of
from gun_side import describe_shop
from listening_service import Listening
from playwright.sync_api import Route


def lived(listens: Listening) -> None:
    """A shelf that is coated, has a nib, and is put right; one note was put right, too."""
    served = listens.served.at("1 06:00")
    describe_shop(listens)
    served.record("climate_read", room="spray", readings=[{"air_c": 21, "rh_pct": 50}])
    served.record("lot_received", lot="can-1", product="clear-w", amount_l=4)
    served.record(
        "piece_started", pieces=["S-1"], kind="shelf", species="white-oak", coat_area_m2=0.4,
        use="shelf", schedule="shelves",
    )  # fmt: skip
    wrong = served.later(minutes=10).record("sanded", pieces=["S-1"], stage="bare", grit=120)
    served.record(
        "event_amended", original=wrong["id"], reason="wrong_value",
        replacement={**wrong, "grit": 150},
    )  # fmt: skip
    served.later(minutes=10).record(
        "coat_applied", pieces=["S-1"], lot="can-1", gun="g1", room="spray", wet_film_um=100
    )
    served.later(hours=3).record("defect_found", pieces=["S-1"], kind="nib", face="show")


@contextmanager
def life(door: Door, listens: Listening, piece: str, scopes: tuple[str, ...] = ("read",),
         size: dict[str, int] | None = None) -> Iterator[Device]:  # fmt: skip
    served = listens.served
    with door.device(
        listens.url, token=served.token, scopes=scopes, size=size or dict(DESK), now=served.clock
    ) as device:
        yield device.open(f"/life#piece={piece}")


def test_a_life_is_told_from_bare_wood_on(door: Door, listens: Listening) -> None:
    lived(listens)
    with life(door, listens, "S-1") as device:
        assert "likely" in device.reads("#stands")
        acts = device.reads("#acts")
        assert acts.index("Started") < acts.index("Sanded") < acts.index("Coated")
        assert "put right later" in acts
        assert device.page.locator("#film svg .layer").count() == 1
        assert device.page.locator("#acts .trouble").count() == 1
        assert "coatledger proof S-1" in device.reads("#proof")
        assert device.wrong == []


def test_the_proof_is_kept_as_it_came(door: Door, listens: Listening, tmp_path: Path) -> None:
    lived(listens)
    with life(door, listens, "S-1", ("read", "audit")) as device:
        with device.page.expect_download() as kept:
            device.tap("Keep the proof pack")
        kept.value.save_as(tmp_path / kept.value.suggested_filename)
    data = (tmp_path / "S-1.proof.json").read_bytes()
    assert pack_bytes(pack_of(data)) == data, "in its own form, byte for byte"


def test_a_bare_piece_has_no_film_and_a_strange_word_no_life(
    door: Door, listens: Listening
) -> None:
    lived(listens)
    listens.served.record(
        "piece_started", pieces=["B-1"], kind="box", species="cherry", coat_area_m2=0.1, use="decor"
    )
    with life(door, listens, "B-1") as device:
        assert "No film was put on it yet" in device.reads("#film")
        device.page.get_by_label("Which piece").fill("X-9")
        device.tap("Show its life")
        device.waits_for("no piece X-9", within="#says")
        assert not device.page.locator("#told").is_visible()


def test_an_answer_that_comes_late_is_not_shown_as_another_pieces(
    door: Door, listens: Listening
) -> None:
    lived(listens)
    listens.served.pieces("B-1")
    held: list[Route] = []
    with life(door, listens, "B-1") as device:
        page = device.page
        page.route("**/v1/pieces/S-1/history", lambda route: held.append(route))
        for word in ("S-1", "B-1"):
            page.get_by_label("Which piece").fill(word)
            device.tap("Show its life")
        device.waits_for("B-1", within="#piece")
        with page.expect_response("**/v1/pieces/S-1/history") as late:
            held[0].continue_()
        late.value.finished()
        page.wait_for_timeout(300)
        assert device.reads("#piece") == "B-1"


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_it_is_for_everybody(door: Door, listens: Listening, size: dict[str, int]) -> None:
    lived(listens)
    with life(door, listens, "S-1", size=dict(size)) as device:
        wide = device.page.evaluate("document.documentElement.scrollWidth")
        assert wide <= size["width"]
        for scheme, media in (("light", "screen"), ("dark", "screen"), ("light", "print")):
            device.looks(scheme, media)
            assert device.barriers() == [], (scheme, media)


def test_the_drawing_needs_the_right_to_read_and_knows_what_was_known(listens: Listening) -> None:
    lived(listens)
    served = listens.served
    drawn = served.get("/v1/pieces/S-1/drawing")
    assert drawn.headers["content-type"].startswith("image/svg+xml")
    assert 'xmlns="http://www.w3.org/2000/svg"' in drawn.text
    assert served.get("/v1/pieces/S-1/drawing", token=served.key("storefront")).status_code == 403
    before = served.clock.replace(hour=6, minute=15).isoformat()
    bare = served.get("/v1/pieces/S-1/drawing", params={"as_of": before}).text
    assert ('class="wood"' in drawn.text, 'class="wood"' in bare) == (True, False)
    assert served.get("/v1/pieces/X-9/drawing").status_code == 404
