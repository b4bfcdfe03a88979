"""`coatledger verify`: offline, in words, with the first bad position."""

from collections.abc import Callable
from pathlib import Path

import pytest
from bench import Bench
from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.pack import pack_bytes
from coatledger_adapters.signing import Signer
from proof_shop import SIGNER, lived, pack_for
from shell import Running, call
from time_stamper import Stamper


@pytest.fixture
def file(tmp_path: Path) -> Path:
    store = MemoryStore("dune-end", "first")
    lived(store)
    path = tmp_path / "T-1.json"
    path.write_bytes(pack_bytes(pack_for(store)))
    return path


def test_a_pack_that_holds_is_told_in_two_lists(file: Path, alone: Path) -> None:
    result = call("verify", str(file), "--key", SIGNER.key.text)
    assert result.exit_code == 0
    assert alone.exists()  # no service, no configuration
    proven, stated = result.stdout.split("Only stated by the shop:")
    assert "The pack of piece T-1 of dune-end holds." in proven
    assert "each of its 19 events names the one before it" in " ".join(proven.split())
    assert "does not watch the bench" in stated


def test_a_bent_pack_is_refused_with_its_first_bad_event(file: Path) -> None:
    data = file.read_bytes()
    file.write_bytes(data.replace(b'"wet_film_um":90', b'"wet_film_um":95'))
    result = call("verify", str(file), "--key", SIGNER.key.text)
    assert result.exit_code == 1
    assert "The first event that is not as it was signed: 47." in result.stderr
    assert "the seal is not the shop's" in result.stderr


def test_the_key_is_not_taken_from_the_file(file: Path) -> None:
    result = call("verify", str(file))
    assert result.exit_code == 2
    assert "do not take it from there" in " ".join(result.stderr.split())


def test_another_shops_key_is_refused_and_a_mistyped_one_named(file: Path) -> None:
    stranger = Signer("dune-end", bytes(32))
    assert call("verify", str(file), "--key", stranger.key.text).exit_code == 1
    mistyped = call("verify", str(file), "--key", SIGNER.key.text[:-2] + "AA")
    assert mistyped.exit_code == 2
    assert "mistyped" in mistyped.stderr


@pytest.mark.parametrize("data", [b"", b"{}", b"[]", b"\xff\xfe", b'{"format":"other"}'])
def test_what_is_no_pack_is_refused_as_such(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "file"
    path.write_bytes(data)
    result = call("verify", str(path), "--key", SIGNER.key.text)
    assert result.exit_code == 1
    assert "is no proof pack" in result.stderr


def test_the_pack_is_also_written_as_a_page(file: Path, tmp_path: Path) -> None:
    page = tmp_path / "T-1.html"
    result = call("verify", str(file), "--key", SIGNER.key.text, "--page", str(page))
    assert result.exit_code == 0
    assert "Checked: it holds." in page.read_text(encoding="utf-8")


def stamped(path: Path, stamp: Callable[[str], bytes]) -> Path:
    store = MemoryStore("dune-end", "first")
    lived(store)
    path.write_bytes(pack_bytes(pack_for(store, stamp=stamp)))
    return path


def test_a_time_stamp_is_proven_by_its_issuers_certificate(tmp_path: Path) -> None:
    stamper = Stamper()
    file = stamped(tmp_path / "T-1.json", stamper.token)
    root = tmp_path / "root.pem"
    root.write_bytes(stamper.root_pem)
    known = call("verify", str(file), "--key", SIGNER.key.text, "--stamped-by", str(root))
    proven, _ = known.stdout.split("Only stated by the shop:")
    assert "CN=Harbour clock stamped the signed head on 2026-03-07 at 18:30:00Z" in proven
    unknown = call("verify", str(file), "--key", SIGNER.key.text)
    assert "is of 2026-03-07 at 18:30:00Z: give its issuer's" in " ".join(unknown.stdout.split())


def test_a_time_stamp_of_another_text_or_issuer_does_not_hold(tmp_path: Path) -> None:
    stamper = Stamper()
    stray = stamped(tmp_path / "T-1.json", lambda _: stamper.token("another text"))
    result = call("verify", str(stray), "--key", SIGNER.key.text)
    assert (result.exit_code, "over another text" in result.stderr) == (1, True)
    file = stamped(tmp_path / "T-2.json", stamper.token)
    root = tmp_path / "root.pem"
    root.write_bytes(Stamper("Another clock").root_pem)
    result = call("verify", str(file), "--key", SIGNER.key.text, "--stamped-by", str(root))
    assert (result.exit_code, "no certificate that was given" in result.stderr) == (1, True)
    root.write_text("no certificate")
    assert (
        call("verify", str(file), "--key", SIGNER.key.text, "--stamped-by", str(root)).exit_code
        == 2
    )


def test_a_pack_is_fetched_and_verified_with_the_key_that_was_said(
    service: Running, tmp_path: Path
) -> None:
    Bench(store=service.store).pieces("T-1")
    path = tmp_path / "some.json"
    fetched = call("proof", "T-1", str(path))
    assert fetched.exit_code == 0, fetched.stderr
    key = fetched.stdout.split("Public key: ")[1].strip()
    assert call("verify", str(path), "--key", key).exit_code == 0
    assert call("proof", "T-9", str(tmp_path / "none.json")).exit_code == 1
    assert not (tmp_path / "none.json").exists()
