"""The ranges within which a formula was published, and the one error for leaving them.

Nothing here clamps: a value outside its source's range is refused with the range and the source.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt


class OutOfRange(ValueError):  # noqa: N818 - the name says what is wrong, as `Refused` does
    """A number outside the range in which its formula is valid, with the source of that range."""

    def __init__(self, quantity: str, value: float, low: float, high: float, source: str) -> None:
        super().__init__(f"{quantity} is {value:g}; {source} holds from {low:g} to {high:g}")
        self.quantity = quantity
        self.value = value
        self.low = low
        self.high = high
        self.source = source

    def __reduce__(self) -> tuple[type[OutOfRange], tuple[str, float, float, float, str]]:
        """Keep the five fields when the error crosses a process boundary."""
        return OutOfRange, (self.quantity, self.value, self.low, self.high, self.source)


def require(name: str, value: float, low: float, high: float, source: str) -> float:
    """Return `value` when it is finite and within [low, high], else raise `OutOfRange`."""
    if not math.isfinite(value) or not low <= value <= high:
        raise OutOfRange(name, value, low, high, source)
    return value


def require_all(
    name: str, values: npt.NDArray[np.float64], low: float, high: float, source: str
) -> npt.NDArray[np.float64]:
    """Return `values` when each is within [low, high], else name the first that is not."""
    inside = (values >= low) & (values <= high)
    if not bool(np.all(inside)):
        first = float(values.ravel()[int(np.argmin(inside.ravel()))])
        raise OutOfRange(name, first, low, high, source)
    return values
