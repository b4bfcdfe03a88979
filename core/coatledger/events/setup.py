"""Set-up facts: the shop, its rooms and guns, its finishes, schedules and what it sells."""

from collections.abc import Mapping
from typing import Annotated, Literal

from msgspec import Meta, Struct

from coatledger.events.base import (
    Celsius,
    Count,
    CubicMetres,
    Day,
    Days,
    Faces,
    Fact,
    Grit,
    Hours,
    Kilopascals,
    Label,
    Micrometres,
    Millimetres,
    Minutes,
    Moment,
    Percent,
    Sha256,
    SquareMetres,
    Word,
    whole,
)

Weekday = Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
Clock = Annotated[str, Meta(pattern=whole("([01][0-9]|2[0-3]):[0-5][0-9]"), description="HH:MM.")]
ProductKind = Literal["water_borne", "lacquer", "oil_based"]
ProductUse = Literal[
    "clear", "pigmented", "sealer", "stain", "filler", "reducer", "extender", "crosslinker"
]
Caution = Literal[
    "flammable_solvent", "self_heating_rags", "isocyanate", "aziridine", "dust", "corrosive"
]
Act = Literal[
    "sand", "raise_grain", "blow_off", "fill_grain", "stain", "coat", "scuff", "rub_out", "polish",
    "inspect", "cure", "pack",
]  # fmt: skip
Look = Literal["natural", "filled"]
Use = Literal["decor", "shelf", "box", "table", "hard_use"]


class OpenHours(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """One stretch of working hours on one weekday, in the shop's zone."""

    day: Weekday
    opens: Clock
    closes: Clock


class ShopDescribed(Fact, frozen=True, kw_only=True, tag="shop_described"):
    """The shop as it works: zone, hours, people, rack places, pick-up days, service level."""

    zone: Annotated[str, Meta(pattern=whole("[A-Za-z_]+(/[A-Za-z0-9_+-]+)*"), max_length=60)]
    hours: Annotated[tuple[OpenHours, ...], Meta(max_length=21)]
    people: Annotated[int, Meta(ge=0, le=50)] = 1
    rack_places: Annotated[int, Meta(ge=0, le=5000)] | None = None
    pickup_days: Annotated[tuple[Weekday, ...], Meta(max_length=7)] = (
        "mon",
        "tue",
        "wed",
        "thu",
        "fri",
    )
    pickup_cutoff: Clock | None = None
    service_level_pct: Percent = 80.0
    holidays: Annotated[str, Meta(pattern=whole("[A-Z]{2}(-[A-Z0-9]{1,3})?"))] | None = None
    fallback_lead_days: Days | None = None
    units: Literal["metric", "us"] = "metric"


class RoomDescribed(Fact, frozen=True, kw_only=True, tag="room_described"):
    """A room where work is sprayed or dries, and the air it should have."""

    room: Word
    name: Label | None = None
    volume_m3: CubicMetres | None = None
    air_min_c: Celsius | None = None
    air_max_c: Celsius | None = None
    rh_min_pct: Percent | None = None
    rh_max_pct: Percent | None = None
    rack_places: Annotated[int, Meta(ge=0, le=5000)] | None = None


class GunDescribed(Fact, frozen=True, kw_only=True, tag="gun_described"):
    """A spray gun: how it atomises, what it is made of, how often it is stripped clean."""

    gun: Word
    name: Label | None = None
    method: Literal["hvlp", "air_assisted", "conventional"] = "hvlp"
    body: Literal["aluminium", "steel", "other"] = "aluminium"
    strip_clean_every_days: Days | None = None
    cap_pressure_max_kpa: Kilopascals | None = None


class ProductDescribed(Fact, frozen=True, kw_only=True, tag="product_described"):
    """A finish as its data sheet gives it. The sheet decides; a silent sheet is left out here."""

    product: Word
    kind: ProductKind
    name: Label | None = None
    use: ProductUse = "clear"
    sheet_sha256: Sha256 | None = None
    sheet_version: Label | None = None
    volume_solids_pct: Percent | None = None
    reference_air_c: Celsius = 21.0
    reference_rh_pct: Percent = 50.0
    reference_wet_film_um: Micrometres | None = None
    touch_dry_h: Hours | None = None
    tack_free_h: Hours | None = None
    recoat_h: Hours | None = None
    recoat_max_h: Hours | None = None
    stack_h: Hours | None = None
    wrap_h: Hours | None = None
    cure_h: Hours | None = None
    burns_in: bool = False
    mfft_c: Celsius | None = None
    air_min_c: Celsius | None = None
    air_max_c: Celsius | None = None
    rh_min_pct: Percent | None = None
    rh_max_pct: Percent | None = None
    wet_film_min_um: Micrometres | None = None
    wet_film_max_um: Micrometres | None = None
    coats_min: Count | None = None
    coats_max: Count | None = None
    nozzle_min_mm: Millimetres | None = None
    nozzle_max_mm: Millimetres | None = None
    scuff_grit: Grit | None = None
    bare_grit_max: Grit | None = None
    stir: bool = True
    strain_um: Micrometres | None = None
    reducer_max_pct: Percent | None = None
    pot_life_h: Hours | None = None
    shelf_life_days: Days | None = None
    freezes: bool = False
    cautions: Annotated[tuple[Caution, ...], Meta(max_length=6)] = ()


class Step(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """One step of a schedule."""

    act: Act
    product: Word | None = None
    grit: Grit | None = None
    role: Literal["sealer", "tie", "toner", "build", "top"] | None = None
    wet_film_um: Micrometres | None = None
    minutes: Minutes | None = None
    by_hand: bool = False


class ScheduleDescribed(Fact, frozen=True, kw_only=True, tag="schedule_described"):
    """A finishing schedule: the steps from bare wood to box. A new description is a new version."""

    schedule: Word
    steps: Annotated[tuple[Step, ...], Meta(min_length=1, max_length=60)]
    name: Label | None = None
    faces: Faces = ("show",)
    look: Look = "natural"
    use: Use | None = None


class OfferingDescribed(Fact, frozen=True, kw_only=True, tag="offering_described"):
    """What the shop sells: its SKUs, options, area, schedule and how long a new one takes."""

    offering: Word
    skus: Annotated[tuple[Word, ...], Meta(min_length=1, max_length=100)]
    schedule: Word
    name: Label | None = None
    species: Word | None = None
    coat_area_m2: SquareMetres | None = None
    options: Annotated[Mapping[Word, tuple[Word, ...]], Meta(max_length=10)] = {}
    joinery_days: Days | None = None
    paused: bool = False


class ClosureAnnounced(Fact, frozen=True, kw_only=True, tag="closure_announced"):
    """Whole days on which the shop does not work; `cancelled` takes an earlier closure back."""

    first_day: Day
    last_day: Day
    why: Literal["holiday", "leave", "repair", "weather", "other"] = "other"
    cancelled: bool = False


class PersonAbsent(Fact, frozen=True, kw_only=True, tag="person_absent"):
    """Somebody is away. `person` is an opaque id; names live apart from the ledger."""

    person: Word
    since: Moment
    until: Moment | None = None


class InstrumentChecked(Fact, frozen=True, kw_only=True, tag="instrument_checked"):
    """A gauge, meter or probe held against a reference, and what it was off by."""

    instrument: Word
    kind: Literal[
        "thermo_hygrometer", "film_gauge", "moisture_meter", "gloss_meter", "cup", "scale"
    ]
    error: (
        Annotated[float, Meta(ge=-1000, le=1000, description="Reading minus reference.")] | None
    ) = None
    unit: Literal["c", "pct", "um", "gu", "s", "g"] | None = None
    passed: bool = True
    reference: Label | None = None
