"""What a shop has learned of one product: the checks on its recent coats, and the factor they give.

There is no index from a product to its checks; they are reached through the product's last cans,
the last coats from those and the pieces they lie on, a bounded number of each. So learning costs
the same however long the history is.
"""

from collections.abc import Iterator
from typing import Final, NamedTuple

from msgspec import Struct

from coatledger.clocks.films import Film, Stack, films_of, stacks_of
from coatledger.clocks.rooms import LOOK_BACK_US, Rooms, path_of
from coatledger.clocks.runs import Run
from coatledger.computations import learning
from coatledger.computations.drying import Spread, spread
from coatledger.events.coating import CoatApplied
from coatledger.events.finish import LotMixed, LotReceived
from coatledger.subjects.piece import Check, Piece
from coatledger.subjects.view import View

LOTS_MOST: Final = 8
COATS_MOST: Final = 25
CHECKS_MOST: Final = 200


class Learned(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A product in this shop against its sheet: factor on the sheet's hours before and after.

    `coats` counts coats that were checked. `drift` says whether the newest can dries unlike the
    others, when both have been checked.
    """

    product: str
    checks: int
    coats: int
    prior: Spread
    posterior: Spread
    newest_lot: str | None = None
    drift: learning.Drift | None = None


class Observed(Struct, frozen=True):
    """One check of one coat as the learning wants it, and the can the coat came from."""

    check: learning.Check
    lot: str


def learned(view: View, product: str, now_us: int) -> Learned:
    """Return what the shop's last checks say of a product.

    *Reference:* `learning.learn` on interval-censored factors. *Valid:* the last 8 cans, 25 coats
    of each and 200 checks; films of the last 120 days.
    """
    lots = recent_lots(view, product)
    seen = observations(view, product, lots, now_us)
    before = spread()
    if not seen:
        return Learned(product=product, checks=0, coats=0, prior=before, posterior=before)
    belief = learning.learn(learning.prior(), *learning.intervals([s.check for s in seen]))
    # A piece coated from one of these cans may carry a checked coat from one before them.
    newest = max((s.lot for s in seen), key=lambda lot: lots.index(lot) if lot in lots else -1)
    new = [s.check for s in seen if s.lot == newest]
    old = [s.check for s in seen if s.lot != newest]
    drift = None
    if old and new:
        usual = learning.learn(learning.prior(), *learning.intervals(old))
        drift = learning.drift(usual, *learning.intervals(new))
    return Learned(
        product=product,
        checks=len(seen),
        coats=len({s.check.coat for s in seen}),
        prior=before,
        posterior=learning.next_coat(belief),
        newest_lot=newest,
        drift=drift,
    )


def recent_lots(view: View, product: str) -> tuple[str, ...]:
    """Name the last cans and mixes of a product, oldest first."""
    placed = view.last(f"product:{product}", ("lot_received", "lot_mixed"), LOTS_MOST)
    return tuple(p.fact.lot for p in placed if isinstance(p.fact, LotReceived | LotMixed))


def observations(
    view: View, product: str, lots: tuple[str, ...], now_us: int
) -> tuple[Observed, ...]:
    """List the checks on the last coats from these cans, newest kept when there are too many."""
    words: dict[str, None] = {}
    for lot in lots:
        for placed in view.last(f"lot:{lot}", ("coat_applied",), COATS_MOST):
            if isinstance(placed.fact, CoatApplied):
                words.update(dict.fromkeys(placed.fact.pieces))
    jobs = [job for word in words for job in _checked(view, view.piece(word), product, now_us)]
    kept = sorted(jobs, key=lambda job: job.check.at_us)[-CHECKS_MOST:]
    first_us = min((job.films[0].applied_us for job in kept), default=now_us)
    rooms = Rooms(view, now_us, first_us)
    return tuple(_observed(job, rooms) for job in kept)


class _Job(NamedTuple):
    """A check and the films under the finger, lowest first."""

    check: Check
    piece: Piece
    films: tuple[Film, ...]


def _checked(view: View, piece: Piece, product: str, now_us: int) -> Iterator[_Job]:
    """Pair each check of a piece with the films under the finger, when the top one is of interest.

    One check of one coat counts once, on the face that was tried.
    """
    films = films_of(view, piece) if piece.checks else ()
    for check in piece.checks:
        under = tuple(f for f in films if f.on(check.face) and f.applied_us < check.at_us)
        if not under or under[-1].read.product != product or under[-1].what != "coat":
            continue
        if check.at_us <= now_us and under[-1].applied_us > now_us - LOOK_BACK_US:
            yield _Job(check, piece, under)


def _observed(job: _Job, rooms: Rooms) -> Observed:
    film = job.films[-1]
    stack = next(s for s in stacks_of(job.films) if job.check.face in s.faces)
    path = path_of(job.piece, job.films, rooms.now_us)
    run = Run(Stack(stack.faces, job.films), path, (), rooms.now_us, rooms)
    # A check minutes after the coat, or months, says as much at the end of the factors' grid.
    reached = run.top_reached(job.check)
    coat = f"{film.event}:{job.piece.piece}"
    return Observed(learning.Check(coat, reached, job.check.ready), film.lot or "")
