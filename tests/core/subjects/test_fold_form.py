"""The word for what makes the folds: it changes with a version or a form, and with nothing else."""

from unittest.mock import patch

from coatledger.subjects.fold_form import made_by
from coatledger.subjects.registry import FOLDS
from msgspec import Struct


class Tray(Struct):
    """A form of a state."""

    word: str
    coats: int = 0


class Longer(Struct):
    """A form with a field more."""

    word: str
    coats: int = 0
    held: bool = False


def word_with(**changed: object) -> str:
    with patch.dict(FOLDS, lot=FOLDS["lot"]._replace(**changed)):  # type: ignore[arg-type]
        return made_by()


def test_the_same_program_has_the_same_word() -> None:
    assert made_by() == made_by()
    assert len(made_by()) == 16


def test_a_version_that_goes_up_changes_it() -> None:
    assert word_with(version=FOLDS["lot"].version + 1) != made_by()


def test_a_state_of_another_form_changes_it_also_when_the_version_was_forgotten() -> None:
    assert word_with(state=Longer) != word_with(state=Tray) != made_by()


def test_what_only_explains_a_form_does_not() -> None:
    renamed = type("Tray", (Struct,), {"__annotations__": Tray.__annotations__, "coats": 0})
    renamed.__doc__ = "Explained otherwise."
    assert word_with(state=renamed) == word_with(state=Tray)
