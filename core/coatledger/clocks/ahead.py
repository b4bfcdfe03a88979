"""Films that are not there yet: how they will dry in the air as it is now.

The last reading of the room where the piece stands is held, or of the room read last; without any
reading the sheet's own climate is taken. Which of them it was is said.
"""

from collections.abc import Mapping
from datetime import datetime
from typing import Literal

from coatledger.clocks.learned import in_words
from coatledger.clocks.sheets import SheetRead, sheet_of, sheet_unknown
from coatledger.computations.drying import STAGES, Spread, Stage, spread
from coatledger.computations.drying_climate import NEVER_US, climate, course
from coatledger.computations.drying_clock import factor_points
from coatledger.computations.drying_one import Coat, Drying, Line, line_of
from coatledger.events.setup import Step
from coatledger.ledger.record import micros, moment
from coatledger.ledger.store import ClimateRow
from coatledger.subjects.counts import words
from coatledger.subjects.piece import Piece
from coatledger.subjects.view import View

Level = Literal["likely", "sure"]
_POINT: Mapping[Level, int] = {"likely": 1, "sure": 2}
_SHEET = spread()
_Ready = Mapping[Stage, datetime | None]


class Ahead:
    """What will be put on one piece. It keeps what it has read."""

    def __init__(self, view: View, piece: Piece, factors: Mapping[str, Spread]) -> None:
        self.view = view
        self.piece = piece
        self._factors = factors
        self._reading: ClimateRow | None = None
        self._is_read = False
        self._lines: dict[str, Line] = {}

    def ready(
        self, step: Step, at: datetime, assumed: dict[str, None], level: Level, *, bare_wood: bool
    ) -> _Ready:
        """Return when a film put on at a time reaches each stage, and say what that rests on."""
        read = self._sheet(step)
        assumed.update(dict.fromkeys(read.assumed))
        coat = Coat(micros(at), step.wet_film_um or read.sheet.reference_wet_film_um)
        drying = Drying(read.sheet, read.budget, coat, self._line(read, coat.applied_us, assumed))
        factor = self._factors.get(read.product or "", _SHEET)
        if words := in_words(read.product, factor):
            assumed[words] = None
        point = factor_points(factor, bare_wood=bare_wood)[_POINT[level]]
        reached = (drying.ready_us(stage, point, 1) for stage in range(len(STAGES)))
        return {
            stage: None if us == NEVER_US else moment(us)
            for stage, us in zip(STAGES, reached, strict=True)
        }

    def _sheet(self, step: Step) -> SheetRead:
        product = self.view.product(step.product)
        layer = step.act != "coat"
        if product is None and self.piece.coats and not layer:
            product = self.view.product_of_lot(self.piece.coats[-1].lot)
        if product is None:
            return sheet_unknown("water_borne", "no product is named for the next coat", layer)
        return sheet_of(product, layer)

    def _line(self, read: SheetRead, at_us: int, assumed: dict[str, None]) -> Line:
        reading = self._last_reading()
        if reading is None:
            air_c, rh_pct = read.sheet.reference_air_c, read.sheet.reference_rh_pct
            assumed["no reading of the room: the sheet's reference climate is taken"] = None
        else:
            air_c, rh_pct = reading.air_c, reading.rh_pct
            assumed[f"the last reading of room {reading.room} is held"] = None
        if read.key not in self._lines:
            steady = climate([0], [air_c], [rh_pct])
            self._lines[read.key] = line_of(course(read.sheet, steady, 0))
        return self._lines[read.key]._replace(origin_us=at_us)

    def _last_reading(self) -> ClimateRow | None:
        """The air a coat to come will dry in: where the piece stands, else the room read last."""
        if not self._is_read:
            self._is_read = True
            view = self.view
            here = view.climate_before(self.piece.room_at(view.at_us))
            found = () if here else map(view.climate_before, words("room", view.reader))
            told = [here, *found]
            self._reading = max(filter(None, told), key=lambda row: row.at_us, default=None)
        return self._reading
