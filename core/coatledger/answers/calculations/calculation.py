"""What a calculation is, and the kinds of numbers people give to one."""

from collections.abc import Callable, Mapping
from typing import Annotated, Any, NamedTuple

from msgspec import Meta, Struct


class Calculation(NamedTuple):
    """One number of the trade. `work` takes what `asks` describes and gives what `answers` does;
    it raises `ValueError` where the numbers leave the range its source holds for. `example` is an
    asking as JSON has it."""

    name: str
    does: str
    asks: type[Struct]
    answers: type[Struct]
    work: Callable[[Any], Struct]
    source: str
    example: Mapping[str, Any]


AirC = Annotated[float, Meta(description="Temperature of the air, degrees Celsius.")]
RhPct = Annotated[float, Meta(description="Relative humidity of the air, percent.")]
SolidsPct = Annotated[float, Meta(description="Volume solids of the finish, percent.")]
WetUm = Annotated[float, Meta(description="Wet film of one coat, micrometres.")]
DryUm = Annotated[float, Meta(description="Dry film of one coat, micrometres.")]
AreaM2 = Annotated[float, Meta(description="Area to coat, square metres.")]
EfficiencyPct = Annotated[
    float, Meta(description="Transfer efficiency: finish that stays over finish sprayed, percent.")
]
Hours = Annotated[float, Meta(description="Hours by the data sheet.")]
