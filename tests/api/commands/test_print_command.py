"""Things to print from the command line."""

from pathlib import Path

import pytest
from printer import page_count, text_of
from shell import Running, call


@pytest.mark.parametrize("thing", ["traveller", "care-card", "packing-slip"])
def test_each_thing_is_written_to_a_file(pieces: Running, tmp_path: Path, thing: str) -> None:
    file = tmp_path / "out.pdf"
    done = call("print", thing, "T-1", "T-2", "--out", str(file), "--paper", "letter",
                "--units", "us", "--base", pieces.url)  # fmt: skip
    assert done.exit_code == 0, done.stderr
    assert page_count(file.read_bytes()) == 1
    assert "T-2" in text_of(file.read_bytes())
    page = tmp_path / "out.html"
    assert call("print", thing, "T-1", "--out", str(page), "--base", pieces.url).exit_code == 0
    assert page.read_text(encoding="utf-8").startswith("<!doctype html>")


def test_whose_it_is_must_be_said(pieces: Running, tmp_path: Path) -> None:
    assert call("print", "care-card").exit_code == 2
    done = call("print", "care-card", "--order", "O-1", "--out", str(tmp_path / "x.pdf"))
    assert done.exit_code == 1
    assert "nothing is called O-1" in done.stderr
    assert not (tmp_path / "x.pdf").exists()
