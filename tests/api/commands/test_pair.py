"""Pairing and changing keys from the command line, as the person at the office screen does."""

import re
from datetime import datetime, timedelta
from pathlib import Path

import httpx
import pytest
from coatledger_adapters.qr import lines
from coatledger_api.commands import pair
from shell import Running, call


def told_link(stdout: str) -> str:
    (link,) = re.findall(r"^http\S+/pair#\S+$", stdout, re.MULTILINE)
    return str(link)


def claimed(service: Running, link: str) -> httpx.Response:
    code = link.partition("#")[2]
    return httpx.post(f"{service.url}/v1/pairings/claim", json={"code": code})


def test_a_code_is_shown_and_a_device_gets_its_key_for_it(service: Running) -> None:
    shown = call("pair", "phone on the stand", "--base", "http://bench.local:8700")
    assert shown.exit_code == 0, shown.stderr
    link = told_link(shown.stdout)
    assert link.startswith("http://bench.local:8700/pair#")
    assert "\n".join(lines(link)) in shown.stdout
    assert "phone on the stand may read and record. Good until 20:10 (UTC)" in shown.stderr
    answer = claimed(service, link)
    assert answer.status_code == 201
    key = service.keys.find(answer.json()["key"])
    assert key is not None
    assert key.label == "phone on the stand"


def test_what_means_this_machine_is_told_as_others_call_it(
    service: Running, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pair, "own_address", lambda: "192.168.7.20")
    shown = call("pair", "tablet", "--scope", "read", "--days", "30")
    port = service.url.rpartition(":")[2]
    assert told_link(shown.stdout).startswith(f"http://192.168.7.20:{port}/pair#")
    assert "--address 0.0.0.0" in shown.stderr
    assert "tablet may read." in shown.stderr
    monkeypatch.setattr(pair, "own_address", lambda: None)
    shown = call("pair", "tablet")
    assert told_link(shown.stdout).startswith(service.url)
    assert "say with --base" in shown.stderr


def test_it_waits_until_the_code_was_read(
    service: Running, monkeypatch: pytest.MonkeyPatch
) -> None:
    def read_meanwhile(_: float) -> None:
        (waiting,) = service.keys.offered()
        service.keys.claim(waiting.code_hash, waiting.made_us, lambda _: key)

    service.key_for("read")
    *_, key = service.keys.all()
    monkeypatch.setattr(pair, "sleep", read_meanwhile)
    # The trial's clock stands in March; this machine's would call the code over.
    monkeypatch.setattr(pair, "time", lambda: 0.0)
    shown = call("pair", "phone", "--base", service.url, "--wait")
    assert f"Paired: its key is {key.key_id}." in shown.stderr


def test_it_says_when_nobody_read_the_code(
    service: Running, monkeypatch: pytest.MonkeyPatch, now: list[datetime]
) -> None:
    late = (now[0] + timedelta(minutes=11)).timestamp()
    monkeypatch.setattr(pair, "time", lambda: late)
    shown = call("pair", "phone", "--base", service.url, "--wait")
    assert shown.exit_code == 1
    assert "nobody read it" in shown.stderr


def test_a_base_that_is_no_address_is_refused(service: Running) -> None:
    shown = call("pair", "phone", "--base", "bench")
    assert shown.exit_code == 2
    assert "--base 'bench' does not begin with http" in shown.stderr


def test_the_key_in_use_is_changed_for_a_new_one(service: Running) -> None:
    done = call("key", "rotate", "--overlap-h", "2")
    assert done.exit_code == 0, done.stderr
    token = done.stdout.strip()
    for good in (token, service.key):
        assert call("pieces", "--key", good).exit_code == 0
    again = call("key", "rotate", "--key", token, service.key[4:12])
    assert again.exit_code == 1
    assert "took the place" in again.stderr


def test_a_publishable_word_is_made_and_listed_as_such(tmp_path: Path) -> None:
    made = call("key", "make", "our pages", "--publishable", "--home", str(tmp_path))
    assert made.exit_code == 0, made.stderr
    assert made.stdout.startswith("clw_")
    assert "Strangers may read" in made.stderr
    listed = call("key", "list", "--home", str(tmp_path)).stdout
    assert "storefront (publishable)" in listed
    wrong = call("key", "make", "x", "--publishable", "--scope", "read", "--home", str(tmp_path))
    assert wrong.exit_code == 2
