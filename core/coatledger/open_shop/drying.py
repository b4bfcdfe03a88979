"""How long a film that is not there yet keeps a piece waiting, by product and stage."""

from collections.abc import Mapping
from types import MappingProxyType

from coatledger.clocks.sheets import SheetRead, sheet_of, sheet_unknown
from coatledger.computations.drying import STAGES, Spread, Stage, spread
from coatledger.computations.drying_climate import NEVER_US, climate, course
from coatledger.computations.drying_clock import one_coat, ready_times_us
from coatledger.computations.simulate.shop import Likely
from coatledger.events.setup import Step
from coatledger.ledger.store import ClimateRow
from coatledger.subjects.counts import words
from coatledger.subjects.view import View

MINUTE_US = 60_000_000
# A film that the air of now never dries: somebody warms the room. No published source.
UNTIL_WARMED = Likely(1_440.0, 2_880.0, 10_080.0)
NO_FACTORS: Mapping[str, Spread] = MappingProxyType({})


class Films:
    """The films to come in the air as it is now. It keeps what it has worked out."""

    def __init__(self, view: View, factors: Mapping[str, Spread]) -> None:
        self._view = view
        self._factors = factors
        self._reading = _read_last(view)
        self._known: dict[tuple[str, float, bool], Mapping[Stage, Likely]] = {}
        self.assumed: dict[str, None] = {}
        if self._reading is None:
            self.assumed["no reading of a room: the sheet's reference climate is taken"] = None
        else:
            self.assumed[f"the last reading of room {self._reading.room} is held"] = None

    def waits(self, step: Step, fallback: str | None, bare: bool) -> Mapping[Stage, Likely]:
        """Return the minutes until each stage of a film put on now."""
        read = self._sheet(step, fallback)
        self.assumed.update(dict.fromkeys(read.assumed))
        film_um = step.wet_film_um or read.sheet.reference_wet_film_um
        key = (read.key, film_um, bare)
        if key not in self._known:
            self._known[key] = self._run(read, film_um, bare)
        return self._known[key]

    def has_sheet(self, step: Step, fallback: str | None = None) -> bool:
        """Whether somebody described what a step puts on."""
        return self._view.product(step.product or fallback) is not None

    def _sheet(self, step: Step, fallback: str | None) -> SheetRead:
        product = self._view.product(step.product or fallback)
        layer = step.act != "coat"
        if product is None:
            return sheet_unknown("water_borne", "no product is named for a coat", layer)
        return sheet_of(product, layer)

    def _run(self, read: SheetRead, film_um: float, bare: bool) -> Mapping[Stage, Likely]:
        at_us, reading = self._view.at_us, self._reading
        air_c = read.sheet.reference_air_c if reading is None else reading.air_c
        rh_pct = read.sheet.reference_rh_pct if reading is None else reading.rh_pct
        air = course(read.sheet, climate([at_us], [air_c], [rh_pct]), at_us)
        factor = self._factors.get(read.product or "", spread())
        ready = ready_times_us(read.sheet, one_coat(at_us, film_um, bare_wood=bare), air, factor)
        return {
            stage: UNTIL_WARMED if int(row[2]) >= NEVER_US // 64
            else Likely(*((int(us) - at_us) / MINUTE_US for us in row))
            for stage, row in zip(STAGES, ready[0], strict=True)
        }  # fmt: skip


def _read_last(view: View) -> ClimateRow | None:
    found = (view.climate_before(room) for room in words("room", view.reader))
    return max((row for row in found if row), key=lambda row: row.at_us, default=None)
