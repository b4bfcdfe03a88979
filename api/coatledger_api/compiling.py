"""What the engine's compiler makes, made by a process of its own and kept for every later start.

A compiler leaves some 300 MB behind where it ran and takes a processor for half a minute: a process
that ends gives both back, and the service only loads what was made.
"""

import os
import subprocess
import sys
from collections.abc import Sequence
from contextlib import suppress
from datetime import UTC, datetime, time
from pathlib import Path
from typing import Final

from coatledger.computations.calendar import Hours, Opening
from coatledger.computations.simulate import compiled
from coatledger.computations.simulate.compiled import COMPILES
from coatledger.computations.simulate.forward import simulate
from coatledger.computations.simulate.shop import Batch, Hand, OpenShop, Operation, Sprayer

# Where the compiler keeps what it made, by its own name for it; else beside the source.
PLACE: Final = "NUMBA_CACHE_DIR"
CALMLY: Final = 10
_THEN = datetime(2026, 3, 2, 8, tzinfo=UTC)
# As small as a shop can be that has one of everything the engine knows.
_SMALL = OpenShop(
    now=_THEN,
    hours=Hours("UTC", (Opening(1, time(8), time(17)),)),
    people=(Hand("a"),),
    guns=(Sprayer("g"),),
    batches=(
        Batch(
            id="b", order="o", pieces=1, ordered_at=_THEN, due=_THEN.date(),
            operations=(
                Operation(name="coat", needs="spray", product="clear", piece_min=1.0),
                Operation(name="look", needs="person", piece_min=1.0, rework_chance=0.1, back=1,
                          rounds=1),
            ),
        ),
    ),
    pick_up_weekdays=(1,),
    cut_off=time(17),
)  # fmt: skip


def keep_in(folder: Path) -> None:
    """Have it kept in a folder where nothing may be written beside the source, as where a program
    is installed for everybody; whoever runs the service may have named another place."""
    if COMPILES and PLACE not in os.environ and not os.access(_source().parent, os.W_OK):
        os.environ[PLACE] = str(folder)


def load() -> None:
    """Load the engine: it is compiled now, unless that was kept."""
    simulate(_SMALL, 1, 2)


def begun_apart() -> subprocess.Popen[bytes] | None:
    """Begin to compile in a process of its own; None where nothing needs to be, or nothing could be
    kept. What looks as new as its source and is not (it was made for another processor, say) is
    compiled by whoever loads it, which costs memory only."""
    made = _made()
    if made is None or (made and min(map(_age, made)) <= _age(_source())):
        return None
    program = [sys.executable, "-c", f"from {__name__} import _compile; _compile()"]
    return subprocess.Popen(program, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL)


def _compile() -> None:
    with suppress(AttributeError, OSError):  # not every system has it, or lets it
        os.nice(CALMLY)
    load()
    for path in _made() or ():
        path.touch()  # it is right for the source as it is, also where only that one's time changed


def _made() -> Sequence[Path] | None:
    """Name what was kept; None where nothing can be."""
    if not COMPILES:
        return None
    # The compiler takes a while to load.
    from coatledger.computations.simulate.kernel import run_all

    place = run_all.stats.cache_path  # type: ignore[attr-defined]
    return None if place is None else tuple(Path(place).glob("kernel.run_all-*.nbi"))


def _source() -> Path:
    return Path(compiled.__file__).with_name("kernel.py")


def _age(path: Path) -> float:
    return -path.stat().st_mtime
