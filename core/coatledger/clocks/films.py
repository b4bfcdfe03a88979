"""The films on a piece, oldest first: every stain, filler and coat with the wet film it was.

What the gauge read comes first, then the share of the act's litres, then the sheet's own film;
which of them it was is said.
"""

from typing import Literal
from uuid import UUID

from msgspec import Struct

from coatledger.clocks.sheets import WET_FILM_RANGE_UM, SheetRead, sheet_of, sheet_unknown
from coatledger.computations import drying_one
from coatledger.computations.drying import Kind
from coatledger.computations.film import (
    FACE_SHARE,
    TRANSFER_EFFICIENCY,
    face_area_m2,
    wet_film_from_amount_um,
)
from coatledger.events.coating import CoatApplied
from coatledger.ledger.correct import history
from coatledger.subjects.lot import Lot
from coatledger.subjects.piece import FACES, Coat, Layer, Piece
from coatledger.subjects.view import View

EXTENDER_MOST_PCT = 50.0  # what the drying model was checked for


class Film(Struct, frozen=True, kw_only=True):
    """One film on one piece: when this piece had got it, how thick, of what."""

    event: UUID
    what: Literal["coat", "stain", "filler"]
    applied_us: int
    wet_film_um: float
    read: SheetRead
    faces: tuple[str, ...] = ("all",)
    lot: str | None = None
    room: str | None = None
    extender_pct: float = 0.0
    crosslinked: bool = False
    assumed: tuple[str, ...] = ()

    def on(self, face: str) -> bool:
        """Say whether this film lies on a face; stain and filler lie on all."""
        return "all" in self.faces or face in self.faces

    def coat(self, below_um: float) -> drying_one.Coat:
        """Write the film as the drying model wants it, over so much that is still wet below."""
        return drying_one.Coat(
            self.applied_us, self.wet_film_um, below_um, self.extender_pct, self.crosslinked
        )


class Stack(Struct, frozen=True):
    """Faces that carry the same films, lowest first."""

    faces: tuple[str, ...]
    films: tuple[Film, ...]


def films_of(view: View, piece: Piece) -> tuple[Film, ...]:
    """List what lies on a piece, in the order it was put on."""
    films = [_layer_film(view, layer) for layer in piece.layers]
    films += [_coat_film(view, piece, coat) for coat in piece.coats]
    return tuple(sorted(films, key=lambda film: film.applied_us))


def stacks_of(films: tuple[Film, ...]) -> tuple[Stack, ...]:
    """Group a piece's faces by the films they carry; bare faces are left out."""
    if all("all" in film.faces for film in films):  # as most work is done
        return (Stack(FACES, films),) if films else ()
    found: dict[tuple[UUID, ...], tuple[list[str], tuple[Film, ...]]] = {}
    for face in FACES:
        own = tuple(film for film in films if film.on(face))
        if own:
            found.setdefault(tuple(f.event for f in own), ([], own))[0].append(face)
    return tuple(Stack(tuple(faces), own) for faces, own in found.values())


def done_us(coat: Coat) -> int:
    """Return when this piece had its coat: the act's time shared out in the order of its pieces."""
    if coat.ended_us is None:
        return coat.at_us
    return coat.at_us + (coat.ended_us - coat.at_us) * (coat.place + 1) // coat.sharers


def read_of(
    view: View, lot: str | None, used_us: int, kind: Kind, why: str, layer: bool
) -> SheetRead:
    """Return the sheet of what is in a can as it was in force when the can was used, or common
    practice of a kind with the reason."""
    product = view.product_of_lot(lot, used_us)
    return sheet_unknown(kind, why, layer) if product is None else sheet_of(product, layer)


def _coat_film(view: View, piece: Piece, coat: Coat) -> Film:
    why = f"nobody described what is in {coat.lot}"
    read = read_of(view, coat.lot, coat.at_us, "water_borne", why, False)
    says: list[str] = []
    extender_pct, crosslinked = _mixed_in(view.lot(coat.lot), says)
    return Film(
        event=coat.event,
        what="coat",
        applied_us=done_us(coat),
        wet_film_um=_wet_film_um(view, piece, coat, read, says),
        read=read,
        faces=coat.faces,
        lot=coat.lot,
        room=coat.room,
        extender_pct=extender_pct,
        crosslinked=crosslinked,
        assumed=tuple(says),
    )


def _layer_film(view: View, layer: Layer) -> Film:
    kind: Kind = "water_borne"
    if layer.binder == "oil_based" or layer.what == "filler":
        kind = "oil_based"
    elif layer.binder == "lacquer":
        kind = "lacquer"
    why = f"no sheet for the {layer.what}"
    read = read_of(view, layer.lot, layer.at_us, kind, why, True)
    return Film(
        event=layer.event,
        what=layer.what,
        applied_us=layer.at_us,
        wet_film_um=read.sheet.reference_wet_film_um,
        read=read,
        lot=layer.lot,
        room=layer.room,
        assumed=(f"the {layer.what} is taken to be as thick as its sheet has it",),
    )


def _wet_film_um(view: View, piece: Piece, coat: Coat, read: SheetRead, says: list[str]) -> float:
    low, high = WET_FILM_RANGE_UM
    film_um = coat.wet_film_um
    if film_um is None and coat.amount_l is not None:
        film_um = _from_litres_um(view, piece, coat, coat.amount_l, says)
    if film_um is not None and low <= film_um <= high:
        return film_um
    if film_um is not None:
        says.append(f"a wet film of {film_um:.3g} um is no coat; the sheet's film is taken")
    else:
        says.append(f"no wet film was read: the sheet's, {read.sheet.reference_wet_film_um:g} um")
    return read.sheet.reference_wet_film_um


def _from_litres_um(
    view: View, piece: Piece, coat: Coat, amount_l: float, says: list[str]
) -> float | None:
    """Spread the act's litres over all the pieces of the act, by area and face."""
    if piece.coat_area_m2 is None:
        return None
    shares = face_area_m2(1.0, coat.faces, FACE_SHARE)
    areas_m2 = [piece.coat_area_m2]
    if coat.sharers > 1:
        others = [w for w in _act_pieces(view, piece, coat) if w != piece.piece]
        known = [view.piece(word).coat_area_m2 for word in others]
        if len(known) != coat.sharers - 1 or None in known:
            says.append("areas of the act's other pieces are not known: taken to be alike")
            known = [piece.coat_area_m2] * (coat.sharers - 1)
        areas_m2 += [area for area in known if area is not None]
    efficiency = TRANSFER_EFFICIENCY[coat.method]
    says.append(
        f"wet film from {amount_l:g} L over {len(areas_m2)} piece(s), "
        f"{efficiency.likely_pct:g} % staying ({efficiency.source})"
    )
    return wet_film_from_amount_um(amount_l, sum(areas_m2) * shares, efficiency.likely_pct)


def _act_pieces(view: View, piece: Piece, coat: Coat) -> tuple[str, ...]:
    """Name the pieces of an act as it stands after corrections: the piece's own history knows."""
    placed = history(view.reader, f"piece:{piece.piece}", known=view.known, types=("coat_applied",))
    for one in placed:
        if one.fact.id == coat.event and isinstance(one.fact, CoatApplied):
            return one.fact.pieces
    return ()


def _mixed_in(lot: Lot, says: list[str]) -> tuple[float, bool]:
    """Return per cent of extender on the rest of a mix, and whether a crosslinker is in it."""
    if not lot.parents:
        return 0.0, False
    extender_l = sum(p.amount_l for p in lot.parents if p.part == "extender")
    rest_l = sum(p.amount_l for p in lot.parents if p.part != "extender")
    crosslinked = any(p.part == "crosslinker" for p in lot.parents)
    if not extender_l or not rest_l:
        return 0.0, crosslinked
    pct = 100.0 * extender_l / rest_l
    if pct > EXTENDER_MOST_PCT:
        says.append(f"{pct:.0f} % of extender is more than the clock knows: {EXTENDER_MOST_PCT:g}")
        pct = EXTENDER_MOST_PCT
    return pct, crosslinked
