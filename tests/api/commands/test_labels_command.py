"""Labels from the command line."""

from pathlib import Path

from printer import page_count, printed, read, text_of
from shell import Running, call


def test_labels_of_all_pieces_come_on_a_sheet(pieces: Running, tmp_path: Path) -> None:
    file = tmp_path / "today.pdf"
    done = call("labels", "--out", str(file), "--base", "http://bench.local:8700", "--paper",
                "letter", "--columns", "2", "--rows", "5", "--outline")  # fmt: skip
    assert done.exit_code == 0, done.stderr
    assert "Print at 100 %" in done.stdout
    assert "T-1" in text_of(file.read_bytes())
    assert "T-2" in text_of(file.read_bytes())


def test_one_label_comes_from_a_roll(pieces: Running, tmp_path: Path) -> None:
    file = tmp_path / "one.pdf"
    done = call("labels", "T-2", "--out", str(file), "--roll", "50", "25", "--base",
                "http://bench.local:8700/")  # fmt: skip
    assert done.exit_code == 0, done.stderr
    assert read(printed(file.read_bytes())) == "http://bench.local:8700/gun-side#piece=T-2"


def test_an_svg_is_written_where_the_file_says_so(pieces: Running, tmp_path: Path) -> None:
    file = tmp_path / "one.svg"
    assert call("labels", "--out", str(file), "--base", pieces.url).exit_code == 0
    assert file.read_text(encoding="utf-8").startswith("<svg ")


def test_what_cannot_be_printed_is_told(pieces: Running, tmp_path: Path) -> None:
    done = call("labels", "--kind", "can", "can-1", "--out", str(tmp_path / "x.pdf"))
    assert done.exit_code == 1
    assert "no lot can-1" in done.stderr
    done = call("labels", "--size", "90", "30", "--out", str(tmp_path / "x.pdf"))
    assert "label_width_mm" in done.stderr
    assert not (tmp_path / "x.pdf").exists()


def test_two_hundred_long_words_go_in_one_request(service: Running, tmp_path: Path) -> None:
    words = [f"{'W' * 36}-{n:03}" for n in range(200)]
    line = (
        '{"type":"piece_started","occurred_at":"2026-03-02T08:00","pieces":"' + " ".join(words)
        + '","kind":"shelf","species":"ash","coat_area_m2":0.4,"use":"shelf"}'
    )  # fmt: skip
    assert call("record", told=line).exit_code == 0
    file = tmp_path / "many.pdf"
    done = call("labels", *words, "--out", str(file), "--base", service.url)
    assert done.exit_code == 0, done.stderr
    assert page_count(file.read_bytes()) == 9
