"""The one place that knows of the compiler: numba, which is not asked for but used where it is.

Without it the same numbers come from arrays that hold all replications in step, only slower. The
compiled code is kept beside the source; it is made anew when the file of what is entered changes,
not when that of a part does, so whoever changes a part touches `kernel` too.
"""

from collections.abc import Callable
from importlib.util import find_spec
from typing import Any, Final, TypeVar

F = TypeVar("F", bound=Callable[..., Any])

COMPILES: Final = find_spec("numba") is not None


def part(function: F) -> F:
    """Let a function of numbers and arrays be written into whatever calls it."""
    return _made(function, {"inline": "always"}) if COMPILES else function


def entered(function: F) -> F:
    """Compile a function at its first call. The interpreter's lock is free while it runs.

    Nothing it does makes an array, so that none has to be counted, which is most of the time saved.
    """
    if not COMPILES:
        return function
    try:
        return _made(function, {"nogil": True, "cache": True})
    except RuntimeError:  # nowhere to keep what was compiled: each process compiles its own
        return _made(function, {"nogil": True})


def _made(function: F, options: dict[str, object]) -> F:
    import numba

    njit: Any = numba.njit
    made: F = njit(error_model="numpy", _nrt=False, **options)(function)
    return made
