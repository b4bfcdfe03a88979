"""What dries in a room now, by product, and which of it the room's air puts at risk."""

from collections.abc import Iterator

from msgspec import Struct

from coatledger.clocks.answer import PieceClock
from coatledger.clocks.clocks import shop_clocks
from coatledger.clocks.reached import slowest_rates
from coatledger.clocks.sheets import sheet_of
from coatledger.computations import air
from coatledger.computations.drying_blush import blush
from coatledger.events.setup import ProductDescribed
from coatledger.ledger.store import ClimateRow, Reader
from coatledger.subjects.asked import Asked
from coatledger.subjects.counts import pieces
from coatledger.subjects.piece_life import OPEN_STAGES
from coatledger.subjects.view import View


class FilmHere(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One product's films that are not cured. `drying_speed` and `curing_speed` are times the speed
    in the sheet's own climate, of this air; `risks` what this air does to them."""

    product: str | None
    pieces: tuple[str, ...]
    drying_speed: float | None = None
    curing_speed: float | None = None
    risks: tuple[str, ...] = ()


def films_here(
    view: View, reader: Reader, asked: Asked, room: str, row: ClimateRow | None
) -> tuple[FilmHere, ...]:
    """Return what dries in a room, those at risk first; without a reading no risk is told."""
    here = [
        piece
        for piece in pieces(reader, asked, OPEN_STAGES)
        if (piece.coats or piece.layers) and piece.room_at(asked.now_us) == room
    ]
    clocks = [c for c in shop_clocks(view, here, asked.now_us) if c.readiness != "cured"]
    products: dict[str | None, dict[str, PieceClock]] = {}
    for clock in clocks:
        for face in clock.faces:
            if face.readiness != "cured":
                products.setdefault(face.product, {})[clock.piece] = clock
    films = [_film(view, word, found, row) for word, found in products.items()]
    return tuple(sorted(films, key=lambda film: (not film.risks, film.product or "")))


def _film(
    view: View, word: str | None, clocks: dict[str, PieceClock], row: ClimateRow | None
) -> FilmHere:
    described = view.product(word)
    if described is None or row is None:
        return FilmHere(product=word, pieces=tuple(clocks))
    leaving, curing = slowest_rates(sheet_of(described).sheet, row.air_c, row.rh_pct)
    return FilmHere(
        product=word,
        pieces=tuple(clocks),
        drying_speed=round(leaving, 3),
        curing_speed=round(curing, 3),
        risks=(*_by_air(described, row), *_by_clock(word, clocks)),
    )


def _by_air(described: ProductDescribed, row: ClimateRow) -> Iterator[str]:
    film_c = air.wet_bulb_c(row.air_c, row.rh_pct)
    mfft_c = described.mfft_c
    if described.kind == "water_borne" and mfft_c is not None and film_c < mfft_c:
        yield f"a wet film is at {film_c:.1f} C in this air and needs {mfft_c:g} C to form"
    for value, unit, low, high in (
        (row.air_c, "C", described.air_min_c, described.air_max_c),
        (row.rh_pct, "%", described.rh_min_pct, described.rh_max_pct),
    ):
        if low is not None and value < low:
            yield f"{value:g} {unit} is below the sheet's {low:g} {unit}"
        if high is not None and value > high:
            yield f"{value:g} {unit} is above the sheet's {high:g} {unit}"
    if described.kind == "lacquer" and 0.0 <= row.air_c <= 45.0 and row.rh_pct >= 5.0:
        risk = blush(row.air_c, row.rh_pct)
        if risk.at_risk:
            yield (
                f"a wet lacquer film may be at {risk.film_c:.1f} C, the dew point is "
                f"{risk.dew_point_c:.1f} C: it may whiten"
            )


def _by_clock(word: str | None, clocks: dict[str, PieceClock]) -> Iterator[str]:
    faces = [(name, face) for name, clock in clocks.items() for face in clock.faces]
    own = [(name, face) for name, face in faces if face.product == word]
    void = dict.fromkeys(name for name, face in own if face.void is not None)
    if void:
        yield f"void already, too cold while it dried: {', '.join(void)}"
    stuck = dict.fromkeys(
        name
        for name, face in own
        if face.void is None and any(stage.sure is None for stage in face.stages)
    )
    if stuck:
        yield f"never fully cured in this air: {', '.join(stuck)}"
