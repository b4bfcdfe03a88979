"""Proofs over HTTP: the pack as a file and a page, the signed head, and what others add to it."""

import base64
from hashlib import sha256
from pathlib import Path

import pytest
from coatledger.computations import merkle
from coatledger.computations.signed_note import Key, checkpoint_of, key_of, note_of, signed_by
from coatledger.ledger.pack import pack_of
from coatledger.ledger.pack_check import check_pack
from coatledger_adapters.signing import verify
from served import Served, refusal
from shell import call
from time_stamper import Stamper

STRAY = base64.b64encode(Stamper().token("another text")).decode()
LINE = "— witness.example/w1 YWJjZHNpZ25hdHVyZQ=="


@pytest.fixture
def shop(served_on_each: Served) -> Served:
    served_on_each.pieces("T-1", "T-2")
    served_on_each.record("turned", pieces=["T-1"])
    return served_on_each


def public_key(shop: Served) -> Key:
    return key_of(shop.get("/v1/checkpoint").json()["key"])


def test_a_piece_s_proof_is_a_file_that_holds(shop: Served, tmp_path: Path) -> None:
    answer = shop.get("/v1/pieces/T-1/proof")
    assert answer.status_code == 200
    pack = pack_of(answer.content)
    assert check_pack(answer.content, pack, public_key(shop), verify).holds
    file = tmp_path / "T-1.json"
    file.write_bytes(answer.content)
    assert call("verify", str(file), "--key", public_key(shop).text).exit_code == 0


def test_asking_again_gives_the_same_bytes_until_something_is_recorded(shop: Served) -> None:
    first = shop.get("/v1/pieces/T-1/proof")
    assert shop.later(hours=1).get("/v1/pieces/T-1/proof").content == first.content
    shop.record("turned", pieces=["T-2"])
    assert shop.get("/v1/pieces/T-1/proof").content != first.content


def test_the_proof_is_also_a_page_that_its_own_policy_lets_be_styled(shop: Served) -> None:
    answer = shop.get("/v1/pieces/T-1/proof", headers={"Accept": "text/html"})
    assert answer.headers["content-type"] == "text/html; charset=utf-8"
    assert "Checked: it holds." in answer.text
    style = answer.text.split("<style>")[1].split("</style>")[0]
    digest = base64.b64encode(sha256(style.encode()).digest()).decode()
    assert f"'sha256-{digest}'" in answer.headers["content-security-policy"]


def test_a_piece_nobody_named_has_no_proof(shop: Served) -> None:
    refusal(shop.get("/v1/pieces/T-9/proof"), 404, "not_found")


def test_findings_come_along_as_stated(shop: Served) -> None:
    shop.record("coat_applied", pieces=["T-1"], lot="can-1", room="spray", wet_film_um=100)
    stated = shop.get("/v1/pieces/T-1/proof").json()["stated"]
    assert {finding["code"] for finding in stated["findings"]} >= {"not_yet_described"}


def test_the_signed_head_verifies_and_proves_what_came_before(shop: Served) -> None:
    old = shop.get("/v1/checkpoint").json()
    shop.record("turned", pieces=["T-2"])
    new = shop.get("/v1/checkpoint", params={"since": old["size"]}).json()
    assert (old["size"], new["size"], new["since"]) == (2, 3, 2)
    heads = [checkpoint_of(note_of(one["note"]).text) for one in (old, new)]
    for one in (old, new):
        assert signed_by(note_of(one["note"]), key_of(one["key"]), verify) == 0
    steps = [base64.b64decode(step) for step in new["consistency"]]
    assert merkle.verify_consistency(2, 3, steps, heads[0].root, heads[1].root)


def test_the_head_is_also_the_note_itself(shop: Served) -> None:
    answer = shop.get("/v1/checkpoint", headers={"Accept": "text/plain"})
    assert answer.text == shop.get("/v1/checkpoint").json()["note"]


def test_a_head_before_there_is_anything_can_be_signed(served: Served) -> None:
    assert served.get("/v1/checkpoint").json()["size"] == 0


def test_a_beginning_longer_than_the_ledger_is_not_found(shop: Served) -> None:
    refusal(shop.get("/v1/checkpoint", params={"since": 9}), 404, "not_found")


def test_what_outsiders_say_is_kept_and_travels_with_the_pack(shop: Served) -> None:
    head = shop.get("/v1/checkpoint").json()
    stamp = base64.b64encode(Stamper().token(note_of(head["note"]).text)).decode()
    body = {"size": head["size"], "lines": [LINE], "stamp": stamp}
    answer = shop.ask("POST", "/v1/checkpoint", json=body)
    assert answer.status_code == 200, answer.text
    assert LINE in answer.json()["note"]
    pack = pack_of(shop.get("/v1/pieces/T-1/proof").content)
    assert LINE in pack.checkpoint
    assert pack.stamp == stamp
    page = shop.get("/v1/pieces/T-1/proof", headers={"Accept": "text/html"}).text
    assert "the time stamp over the head is of 2026-03-07 at 18:30:00Z" in page


@pytest.mark.parametrize(
    ("body", "status", "kind"),
    [
        ({"size": 7}, 404, "not_found"),
        ({"size": 2, "lines": ["no line"]}, 422, "invalid"),
        ({"size": 2, "stamp": "dG9rZW4"}, 422, "invalid"),
        ({"size": 2, "stamp": "dG9rZW4="}, 422, "invalid"),
        ({"size": 2, "stamp": STRAY}, 422, "invalid"),
        ({"size": 0}, 422, "invalid"),
        ({"size": 2, "more": 1}, 422, "invalid"),
        ([], 422, "invalid"),
    ],
)
def test_what_cannot_be_added_is_refused(
    shop: Served, body: object, status: int, kind: str
) -> None:
    shop.get("/v1/checkpoint")
    refusal(shop.ask("POST", "/v1/checkpoint", json=body), status, kind)


@pytest.mark.parametrize("path", ["/v1/pieces/T-1/proof", "/v1/checkpoint"])
def test_proofs_need_the_scope_of_an_auditor(shop: Served, path: str) -> None:
    refusal(shop.get(path, token=shop.key("read", "record")), 403, "forbidden")
    assert shop.get(path, token=shop.key("audit")).status_code == 200
    vouched = shop.ask("POST", "/v1/checkpoint", json={"size": 2}, token=shop.key("audit"))
    refusal(vouched, 403, "forbidden")
