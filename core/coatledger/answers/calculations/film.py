"""Calculations about films, what a litre covers, and what evaporates from it."""

from typing import Annotated

from msgspec import Meta, Struct

from coatledger.answers.calculations.calculation import (
    AreaM2,
    Calculation,
    DryUm,
    EfficiencyPct,
    SolidsPct,
    WetUm,
)
from coatledger.computations import film, voc
from coatledger.computations.ranges import require

ReducerPct = Annotated[
    float, Meta(description="Reducer added, percent by volume of the finish it goes into.")
]


class FilmAsked(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One film, wet or dry; the other is worked out."""

    volume_solids_pct: SolidsPct
    wet_film_um: WetUm | None = None
    dry_film_um: DryUm | None = None
    reducer_pct: ReducerPct = 0.0


class FilmTold(Struct, frozen=True, kw_only=True):
    """Both films, and the volume solids after thinning."""

    wet_film_um: float
    dry_film_um: float
    thinned_solids_pct: float


class SystemAsked(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The coats of a whole system, lowest first, and perhaps a job."""

    coats: Annotated[
        tuple[film.Coat, ...],
        Meta(min_length=1, max_length=20, description="One wet_film_um and solids a coat."),
    ]
    method: Annotated[
        str, Meta(description="hvlp, air_assisted, conventional, brush, wipe and others.")
    ] = "hvlp"
    area_m2: AreaM2 | None = None


class CoatTold(Struct, frozen=True, kw_only=True):
    """One coat: its dry film, and the film that stands after it."""

    coat: int
    wet_film_um: float
    dry_film_um: float
    standing_um: float


class SystemTold(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Coat by coat and in all. Sanding between coats is not taken off."""

    coats: tuple[CoatTold, ...]
    total_wet_um: float
    total_dry_um: float
    sprayed_l: float | None = None
    efficiency_pct: float | None = None


class RateAsked(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A finish, its dry film, how much of it stays on the piece, and perhaps a job."""

    volume_solids_pct: SolidsPct
    dry_film_um: DryUm
    method: Annotated[
        str, Meta(description="hvlp, air_assisted, conventional, brush, wipe and others.")
    ] = "hvlp"
    efficiency_pct: EfficiencyPct | None = None
    area_m2: AreaM2 | None = None
    coats: Annotated[int, Meta(description="Number of coats.", ge=1, le=50)] = 1


class RateTold(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What a litre covers with nothing lost, and in practice; litres for the job if there is one.

    `efficiency_source` says where the transfer efficiency comes from.
    """

    theoretical_m2_per_l: float
    practical_m2_per_l: float
    efficiency_pct: float
    efficiency_source: str
    litres_l: float | None = None


class VocAsked(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A finish by its volume shares: what is neither solids nor water is solvent."""

    volume_solids_pct: SolidsPct
    water_pct: Annotated[float, Meta(description="Water in the finish, percent by volume.")] = 0.0
    solvent_g_per_l: Annotated[
        float, Meta(description="Density of its solvent, grams a litre.")
    ] = voc.SOLVENT_DENSITY_G_PER_L


class VocTold(Struct, frozen=True, kw_only=True):
    """Solvent as it leaves the gun, as limits name it, and for each litre of solids."""

    as_applied_g_per_l: float
    less_water_g_per_l: float
    solids_basis_g_per_l: float


def _film(asked: FilmAsked) -> FilmTold:
    solids, reducer = asked.volume_solids_pct, asked.reducer_pct
    if (asked.wet_film_um is None) == (asked.dry_film_um is None):
        raise ValueError("give one film, wet_film_um or dry_film_um")
    wet, dry = asked.wet_film_um, asked.dry_film_um
    if wet is None:
        assert dry is not None
        wet = film.wet_film_um(dry, solids, reducer)
    return FilmTold(
        wet_film_um=wet,
        dry_film_um=film.dry_film_um(wet, solids, reducer),
        thinned_solids_pct=film.thinned_solids_pct(solids, reducer),
    )


def _system(asked: SystemAsked) -> SystemTold:
    built = film.system_film(asked.coats)
    efficiency = _efficiency(asked.method)
    sprayed = None
    if asked.area_m2 is not None:
        require("area_m2", asked.area_m2, 0, 1e6, film.AREA)
        sprayed = built.total_wet_um * asked.area_m2 / 1000 * 100 / efficiency.likely_pct
    rows = zip(asked.coats, built.dry_um, built.standing_um, strict=True)
    return SystemTold(
        coats=tuple(
            CoatTold(coat=n, wet_film_um=coat.wet_film_um, dry_film_um=dry, standing_um=standing)
            for n, (coat, dry, standing) in enumerate(rows, 1)
        ),
        total_wet_um=built.total_wet_um,
        total_dry_um=built.total_dry_um,
        sprayed_l=sprayed,
        efficiency_pct=None if sprayed is None else efficiency.likely_pct,
    )


def _efficiency(method: str) -> film.Efficiency:
    known = film.TRANSFER_EFFICIENCY.get(method)
    if known is None:
        named = ", ".join(film.TRANSFER_EFFICIENCY)
        raise ValueError(f"no method is called {method}; known are {named}")
    return known


def _rate(asked: RateAsked) -> RateTold:
    known = _efficiency(asked.method)
    efficiency, source = asked.efficiency_pct, "as given"
    if efficiency is None:
        efficiency, source = known.likely_pct, known.source
    solids, dry = asked.volume_solids_pct, asked.dry_film_um
    litres = None
    if asked.area_m2 is not None:
        litres = film.litres_needed(asked.area_m2, dry, solids, efficiency, asked.coats)
    return RateTold(
        theoretical_m2_per_l=film.theoretical_rate_m2_per_l(solids, dry),
        practical_m2_per_l=film.practical_rate_m2_per_l(solids, dry, efficiency),
        efficiency_pct=efficiency,
        efficiency_source=source,
        litres_l=litres,
    )


def _voc(asked: VocAsked) -> VocTold:
    solids, water, density = asked.volume_solids_pct, asked.water_pct, asked.solvent_g_per_l
    less_water = voc.less_water_from_volumes_g_per_l(solids, water, density)
    return VocTold(
        as_applied_g_per_l=voc.as_applied_from_volumes_g_per_l(solids, water, density),
        less_water_g_per_l=less_water,
        solids_basis_g_per_l=voc.solids_basis_g_per_l(less_water, density),
    )


ALL: tuple[Calculation, ...] = (
    Calculation(
        "film",
        "The dry film a wet film leaves, or the wet film for a dry one.",
        FilmAsked,
        FilmTold,
        _film,
        "dry = wet x volume solids/(1 + reducer); volumes additive, reducer fully volatile",
        {"volume_solids_pct": 33, "wet_film_um": 100},
    ),
    Calculation(
        "system-film",
        "The film of a whole system, coat by coat: wet, dry, standing, and litres for a job.",
        SystemAsked,
        SystemTold,
        _system,
        "dry = wet x volume solids/(1 + reducer), added up; 40 CFR 60 subpart EE for transfer"
        " efficiency",
        {
            "coats": [
                {"wet_film_um": 75, "volume_solids_pct": 30, "reducer_pct": 5},
                {"wet_film_um": 100, "volume_solids_pct": 33},
                {"wet_film_um": 100, "volume_solids_pct": 33},
            ],
            "area_m2": 2,
        },
    ),
    Calculation(
        "spreading-rate",
        "What a litre covers, in theory and in practice, and the litres for a job.",
        RateAsked,
        RateTold,
        _rate,
        "10 x volume solids/dry film, the metric form of 1604 ft²·mil/gal; 40 CFR 60 subpart EE"
        " for transfer efficiency",
        {"volume_solids_pct": 33, "dry_film_um": 33, "method": "hvlp", "area_m2": 4, "coats": 3},
    ),
    Calculation(
        "voc",
        "Solvent in a finish: as applied, less water, and for each litre of solids.",
        VocAsked,
        VocTold,
        _voc,
        "Metal Finishing, Organic Finishing Guidebook 2013, pp. 815-816; 30 TAC 115.423(1)",
        {"volume_solids_pct": 42, "water_pct": 52},
    ),
)
