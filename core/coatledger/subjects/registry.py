"""The one table of subjects: how each kind begins, folds, is judged, listed and tallied.

`types` names the events a fold looks at when it is made again from history; None means all. A long
history that does not matter (a room's readings, a gun's coats) is left out there, so that a late
fact costs the same after ten years as after ten days.
"""

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

import msgspec

from coatledger.events.base import Fact
from coatledger.subjects import described, gun, lot, order, piece_fold, tallies, tallies_plain
from coatledger.subjects.parked import PARKED, ParkedError, ParkedState
from coatledger.subjects.piece import Piece

Contribution = Mapping[tuple[str, str], float]


class Fold(NamedTuple):
    """One kind of subject. The state type differs by kind, so its functions take Any."""

    version: int
    state: type[msgspec.Struct]
    initial: Callable[[str], Any]
    evolve: Callable[[Any, Fact], Any]
    shelf: Callable[[Any], str]
    types: tuple[str, ...] | None = None
    may_follow: Callable[[Any, Fact], bool] | None = None
    tally: Callable[[Any], Contribution] | None = None
    # States that are equal in this are tallied alike, so that most facts need not be tallied.
    counted: Callable[[Any], object] | None = None


def _no_shelf(_: object) -> str:
    return ""


FOLDS: Mapping[str, Fold] = {
    "piece": Fold(
        version=piece_fold.VERSION,
        state=Piece,
        initial=piece_fold.initial,
        evolve=piece_fold.evolve,
        shelf=lambda piece: piece.stage,
        may_follow=piece_fold.may_follow,
        tally=tallies.of_piece,
        counted=tallies_plain.counted,
    ),
    "order": Fold(
        version=order.VERSION,
        state=order.Order,
        initial=order.initial,
        evolve=order.evolve,
        shelf=lambda o: o.shelf,
        may_follow=order.may_follow,
    ),
    "lot": Fold(
        version=lot.VERSION,
        state=lot.Lot,
        initial=lot.initial,
        evolve=lot.evolve,
        shelf=lambda can: can.stage,
        may_follow=lot.may_follow,
    ),
    "gun": Fold(
        version=gun.VERSION,
        state=gun.Gun,
        initial=gun.initial,
        evolve=gun.evolve,
        shelf=_no_shelf,
        types=("gun_described", "gun_set_up", "gun_flushed", "gun_strip_cleaned"),
    ),
    "room": Fold(
        version=described.VERSION,
        state=described.Room,
        initial=lambda word: described.Room(room=word),
        evolve=described.evolve_room,
        shelf=_no_shelf,
        types=("room_described", "air_moved"),
    ),
    "product": Fold(
        version=described.VERSION,
        state=described.Product,
        initial=lambda word: described.Product(product=word),
        evolve=described.evolve_product,
        shelf=_no_shelf,
        types=("product_described",),
    ),
    "schedule": Fold(
        version=described.VERSION,
        state=described.Schedule,
        initial=lambda word: described.Schedule(schedule=word),
        evolve=described.evolve_schedule,
        shelf=_no_shelf,
        types=("schedule_described",),
    ),
    "offering": Fold(
        version=described.VERSION,
        state=described.Offering,
        initial=lambda word: described.Offering(offering=word),
        evolve=described.evolve_offering,
        shelf=_no_shelf,
        types=("offering_described",),
    ),
    "shop": Fold(
        version=described.VERSION,
        state=described.Shop,
        initial=lambda _: described.Shop(),
        evolve=described.evolve_shop,
        shelf=_no_shelf,
        types=(
            "shop_described",
            "closure_announced",
            "person_absent",
            "rags_dealt_with",
            "air_line_serviced",
        ),
    ),
    "instrument": Fold(
        version=described.VERSION,
        state=described.Named,
        initial=lambda word: described.Named(word=word),
        evolve=described.evolve_named,
        shelf=_no_shelf,
        types=("instrument_checked",),
    ),
    "person": Fold(
        version=described.VERSION,
        state=described.Named,
        initial=lambda word: described.Named(word=word),
        evolve=described.evolve_named,
        shelf=_no_shelf,
        types=("person_absent",),
    ),
}


def kind_of(subject: str) -> str:
    """Return the kind of a subject: `piece:T-1` is a piece, `shop` the shop."""
    return subject.partition(":")[0]


def word_of(subject: str) -> str:
    """Return the shop's own word in a subject."""
    return subject.partition(":")[2]


_ENCODER = msgspec.json.Encoder(order="deterministic")
_DECODERS: Mapping[str, "msgspec.json.Decoder[Any]"] = {
    kind: msgspec.json.Decoder(fold.state) for kind, fold in FOLDS.items()
}


def state_bytes(state: msgspec.Struct | ParkedState) -> bytes:
    """Write a fold's state; the same facts give the same bytes."""
    return _ENCODER.encode(state.says if isinstance(state, ParkedState) else state)


def state_of(kind: str, data: bytes) -> Any:
    """Read a fold's state back; of a parked subject there is none, which is raised."""
    if data[:1] == b'"':  # a reason stands there, not a state
        raise ParkedError(msgspec.json.decode(data, type=str))
    return _DECODERS[kind].decode(data)


def state_or_parked(kind: str, data: bytes) -> Any:
    """Read a fold's state back, or why there is none."""
    try:
        return state_of(kind, data)
    except ParkedError as parked:
        return ParkedState(parked.says)


def shelf_of(kind: Fold, state: Any) -> str:
    """Return the shelf a subject is listed on."""
    return PARKED if isinstance(state, ParkedState) else kind.shelf(state)


def tally_of(kind: Fold, state: Any) -> Contribution:
    """Return what a subject adds to the shop's counts."""
    return {} if kind.tally is None or isinstance(state, ParkedState) else kind.tally(state)
