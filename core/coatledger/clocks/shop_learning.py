"""What a shop has learned of one product: the checks on its recent coats, and the factor they give.

There is no index from a product to its checks; they are reached through the product's last cans,
the last coats from those and the pieces they lie on, a bounded number of each. So learning costs
the same however long the history is.
"""

import math
from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple
from uuid import UUID

from msgspec import Struct
from msgspec.structs import replace

from coatledger.clocks.films import Film, Stack, films_of, stacks_of
from coatledger.clocks.rooms import LOOK_BACK_US, Rooms, path_of
from coatledger.clocks.runs import Run
from coatledger.computations import learning
from coatledger.computations.drying import Spread, spread
from coatledger.computations.drying_clock import BARE_WOOD_LOG_SD
from coatledger.events.coating import CoatApplied
from coatledger.events.finish import LotMixed, LotReceived
from coatledger.subjects.piece import Check, Piece
from coatledger.subjects.view import View

LOTS_MOST: Final = 8
COATS_MOST: Final = 25
CHECKS_MOST: Final = 200


class Learned(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A product in this shop against its sheet: factor on the sheet's hours before and after.

    `coats` counts coats that were checked. `posterior` is of the next coat, `own` of the product:
    coats differ from one to the next. `drift` says whether the newest can dries unlike the others,
    when both have been checked, and `says` so in words.
    """

    product: str
    checks: int
    coats: int
    prior: Spread
    posterior: Spread
    own: Spread | None = None
    newest_lot: str | None = None
    drift: learning.Drift | None = None
    says: str = ""


class Observed(Struct, frozen=True, kw_only=True):
    """One check of one coat as the learning wants it; the coat, its can, the check itself."""

    check: learning.Check
    lot: str
    piece: str
    coat: UUID
    applied_us: int
    bare_wood: bool
    seen: Check


def learned(view: View, product: str, now_us: int) -> Learned:
    """Return what the shop's last checks say of a product."""
    return concluded(view, product, observed(view, product, now_us))


def observed(view: View, product: str, now_us: int) -> tuple[Observed, ...]:
    """List a product's checks, oldest first.

    *Valid:* the last 8 cans, 25 coats of each and 200 checks; films of the last 120 days.
    """
    return observations(view, product, recent_lots(view, product), now_us)


def concluded(view: View, product: str, seen: tuple[Observed, ...]) -> Learned:
    """Return what checks say of a product, and whether the newest can differs from the others."""
    before = spread()
    if not seen:
        return Learned(product=product, checks=0, coats=0, prior=before, posterior=before)
    belief = believed(seen)
    lots = recent_lots(view, product)
    # A piece coated from one of these cans may carry a checked coat from one before them.
    newest = max((s.lot for s in seen), key=lambda lot: lots.index(lot) if lot in lots else -1)
    new = [s for s in seen if s.lot == newest]
    old = [s for s in seen if s.lot != newest]
    drift = None
    if old and new:
        usual = of_coats(believed(old), any(s.bare_wood for s in new))
        drift = learning.drift(usual, *learning.intervals([s.check for s in new]))
    return Learned(
        product=product,
        checks=len(seen),
        coats=len({s.check.coat for s in seen}),
        prior=before,
        posterior=learning.next_coat(belief),
        own=Spread(*(float(point) for point in learning.factor_quantiles(belief))),
        newest_lot=newest,
        drift=drift,
        says=_in_words(newest, drift),
    )


def believed(seen: Sequence[Observed]) -> learning.Posterior:
    """Return what is believed of a product after checks; coats on bare wood differ more.

    *Reference:* `learning.learn` on interval-censored factors, the log variances of coat and of
    bare wood added. *Valid:* checks of a piece also narrow its own clock, by which its coat counts
    a little twice.
    """
    belief = learning.prior()
    for bare_wood in (False, True):
        checks = [one.check for one in seen if one.bare_wood == bare_wood]
        if checks:
            told = learning.learn(of_coats(belief, bare_wood), *learning.intervals(checks))
            belief = replace(belief, weights=told.weights)
    return belief


def of_coats(belief: learning.Posterior, bare_wood: bool) -> learning.Posterior:
    """Return a belief as it holds for coats on bare wood, or over a film."""
    if not bare_wood:
        return belief
    return replace(belief, coat_log_sd=math.hypot(belief.coat_log_sd, BARE_WOOD_LOG_SD))


def _in_words(lot: str, drift: learning.Drift | None) -> str:
    if drift is None:
        return "only one can has been checked: nothing is known of how cans differ"
    slower = drift.slower_p50
    how = f"{slower:.2f} times as long as" if slower >= 1.0 else f"{slower:.2f} of the time of"
    if not drift.notice:
        return (
            f"{lot} takes {how} the cans before it, well within how cans differ "
            f"(odds {drift.odds:.2g} to 1 for a real difference; {learning.NOTICE_ODDS:g} are "
            "wanted before it is said)"
        )
    return (
        f"{lot} dries unlike the cans before it: {how} them (odds {drift.odds:.3g} to 1); look at "
        "its stirring, age and film, and check more coats"
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
    return Observed(
        check=learning.Check(coat, reached, job.check.ready),
        lot=film.lot or "",
        piece=job.piece.piece,
        coat=film.event,
        applied_us=film.applied_us,
        bare_wood=len(run.films) == 1,
        seen=job.check,
    )
