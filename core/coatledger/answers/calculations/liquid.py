"""Calculations about the liquid in the cup: viscosity, nozzle, thinning, the next mix."""

from collections.abc import Mapping
from datetime import datetime
from typing import Annotated

from msgspec import Meta, Struct

from coatledger.answers.calculations.calculation import Calculation
from coatledger.computations import stock, thinning, viscosity
from coatledger.ledger.normal import YEARS

CupName = Annotated[str, Meta(description="The cup: iso_4, ford_4, zahn_2, din_4 and others.")]
Seconds = Annotated[float, Meta(description="Efflux time, seconds.")]
Mm2PerS = Annotated[float, Meta(description="Kinematic viscosity, mm²/s (the same as cSt).")]


class ViscosityAsked(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One cup reading; at another temperature if `liquid_c` and `wanted_c` are given."""

    cup: CupName
    efflux_s: Seconds
    liquid_c: (
        Annotated[float, Meta(description="Temperature of the finish, degrees Celsius.")] | None
    ) = None
    wanted_c: (
        Annotated[float, Meta(description="Temperature it is wanted at, degrees Celsius.")] | None
    ) = None
    density_g_per_l: (
        Annotated[float, Meta(description="Density of the finish, grams a litre.")] | None
    ) = None


class ViscosityTold(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Viscosity by the cup's own standard, which cups would take it, which nozzles it suits."""

    viscosity_mm2_s: float
    source: str
    cups: tuple[str, ...]
    nozzles: tuple[viscosity.Nozzle, ...]
    at_wanted_mm2_s: viscosity.Range | None = None
    dynamic_mpa_s: float | None = None


class NozzleAsked(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A finish by its viscosity."""

    viscosity_mm2_s: Mm2PerS


class NozzleTold(Struct, frozen=True, kw_only=True):
    """Nozzles that commonly suit, the best centred first; the sheets of gun and finish decide."""

    nozzles: tuple[viscosity.Nozzle, ...]


class ThinningAsked(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What one cup reads and should read, and how much reducer the data sheet allows."""

    cup: CupName
    measured_s: Seconds
    target_s: Seconds
    limit_pct: (
        Annotated[float, Meta(description="The data sheet's most reducer, percent by volume.")]
        | None
    ) = None


class MixAsked(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A batch, its recipe by volume, how fast it is sprayed and how long a mix lives."""

    needed_l: Annotated[float, Meta(description="Litres the batch takes.")]
    parts: Annotated[
        Mapping[str, float],
        Meta(min_length=1, max_length=10, description="Parts by volume: base=10 crosslinker=1."),
    ]
    spray_l_per_h: Annotated[float, Meta(description="Litres sprayed an hour.")]
    start: Annotated[datetime, Meta(tz=True, description="When the first pot is mixed.")]
    pot_life_h: Annotated[float, Meta(description="Pot life of the mix, hours.")] | None = None
    loss_per_pot_l: Annotated[
        float, Meta(description="What stays in cup and strainer, litres.")
    ] = 0.05


class PotTold(Struct, frozen=True, kw_only=True):
    """One pot: litres in all and of each part, and when its pot life ends."""

    litres_l: float
    parts_l: Mapping[str, float]
    use_until: datetime | None


class MixTold(Struct, frozen=True, kw_only=True):
    """The pots one after another, and what will stay in cups and strainers."""

    pots: tuple[PotTold, ...]
    mixed_l: float
    lost_l: float


def _viscosity(asked: ViscosityAsked) -> ViscosityTold:
    seen = viscosity.viscosity_mm2_s(asked.cup, asked.efflux_s)
    if (asked.liquid_c is None) != (asked.wanted_c is None):
        raise ValueError("give liquid_c and wanted_c together, or neither")
    elsewhere = None
    if asked.liquid_c is not None and asked.wanted_c is not None:
        elsewhere = viscosity.viscosity_at(seen, asked.liquid_c, asked.wanted_c)
    density = asked.density_g_per_l
    return ViscosityTold(
        viscosity_mm2_s=seen,
        source=viscosity.cup_named(asked.cup).source,
        cups=viscosity.cups_for(seen),
        nozzles=viscosity.nozzles_for(seen),
        at_wanted_mm2_s=elsewhere,
        dynamic_mpa_s=None if density is None else viscosity.dynamic_mpa_s(seen, density),
    )


def _nozzle(asked: NozzleAsked) -> NozzleTold:
    return NozzleTold(nozzles=viscosity.nozzles_for(asked.viscosity_mm2_s))


def _thinning(asked: ThinningAsked) -> thinning.Thinning:
    return thinning.thinning_to(
        viscosity.viscosity_mm2_s(asked.cup, asked.measured_s),
        viscosity.viscosity_mm2_s(asked.cup, asked.target_s),
        asked.limit_pct,
    )


def _mix(asked: MixAsked) -> MixTold:
    if asked.start.year not in YEARS:
        raise ValueError(f"start lies in the years {YEARS.start} to {YEARS.stop - 1}")
    mix = stock.next_mix(
        asked.needed_l,
        tuple(asked.parts.items()),
        asked.spray_l_per_h,
        asked.pot_life_h,
        asked.start,
        asked.loss_per_pot_l,
    )
    return MixTold(
        pots=tuple(
            PotTold(litres_l=pot.litres, parts_l=dict(pot.parts), use_until=pot.use_until)
            for pot in mix.pots
        ),
        mixed_l=mix.mixed_l,
        lost_l=mix.lost_l,
    )


ALL: tuple[Calculation, ...] = (
    Calculation(
        "viscosity",
        "What a cup's seconds say: viscosity, at another temperature too, and nozzles it suits.",
        ViscosityAsked,
        ViscosityTold,
        _viscosity,
        "ISO 2431, ASTM D1200, ASTM D4212, DIN 53211 by the cup; Andrade (1930) for temperature",
        {"cup": "ford_4", "efflux_s": 30, "liquid_c": 18, "wanted_c": 25},
    ),
    Calculation(
        "nozzle",
        "Nozzles that commonly suit a viscosity.",
        NozzleAsked,
        NozzleTold,
        _nozzle,
        "common practice, no published source",
        {"viscosity_mm2_s": 98},
    ),
    Calculation(
        "thinning",
        "Reducer from one cup time to another, and what the data sheet's limit leaves of it.",
        ThinningAsked,
        thinning.Thinning,
        _thinning,
        "log-linear blending (Arrhenius 1887), from memory; the limit is the data sheet's",
        {"cup": "ford_4", "measured_s": 60, "target_s": 25, "limit_pct": 10},
    ),
    Calculation(
        "next-mix",
        "Pots to mix for a batch, so that each is sprayed out within its pot life.",
        MixAsked,
        MixTold,
        _mix,
        "the data sheet's parts and pot life; four fifths of it are planned on, common practice",
        {
            "needed_l": 3,
            "parts": {"base": 10, "crosslinker": 1},
            "spray_l_per_h": 1.5,
            "pot_life_h": 2,
            "start": "2026-10-07T08:00:00+01:00",
        },
    ),
)
