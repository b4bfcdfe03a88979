"""A subject whose facts cannot be folded is set apart: the rest of the shop goes on without it.

That is a fault of the program, never of who recorded. Its events stay, and it is folded again from
its whole history whenever something is recorded about it, so a correction or a mended program
brings it back.
"""

from typing import Final, NamedTuple

PARKED: Final = "parked"  # the shelf it is listed on


class ParkedState(NamedTuple):
    """What stands where the subject's state would be: why there is none."""

    says: str


class ParkedError(Exception):
    """This subject's facts cannot be folded; the others' can."""

    def __init__(self, says: str) -> None:
        super().__init__(says)
        self.says = says
