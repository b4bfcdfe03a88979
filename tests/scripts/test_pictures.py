"""scripts/pictures draws every picture of a small shop, and writes a page to leaf through."""

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest
from coatledger_api.routes import numbers, promise_score, quality

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def pictures() -> ModuleType:
    spec = importlib.util.spec_from_file_location("pictures", ROOT / "scripts" / "pictures.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_every_address_that_can_be_drawn_is_drawn(pictures: ModuleType) -> None:
    drawn = {address.partition("?")[0] for address in pictures.NUMBERS.values()}
    there = {
        operation.path
        for module in (numbers, quality, promise_score)
        for operation in module.OPERATIONS
        if "image/png" in operation.answers
    }
    assert drawn == there
    assert len(there) > 5


def test_a_small_shop_is_drawn_in_the_look_asked_for_with_a_page_to_leaf_through(
    pictures: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pictures, "browser_here", lambda: None)
    assert pictures.main([str(tmp_path), "--shop", "few", "--look", "print"]) == 0
    made = sorted(path.name for path in tmp_path.glob("*.png"))
    assert len(made) == len(pictures.NUMBERS) * len(pictures.WIDTHS)
    for name in made:
        assert (tmp_path / name).read_bytes().startswith(b"\x89PNG\r\n")
    page = (tmp_path / "index.html").read_text(encoding="utf-8")
    assert all(f"<img src='{name}'" in page for name in made)
