"""The one table of calculations, and how one is carried out."""

from collections.abc import Mapping

from msgspec import Struct

from coatledger.answers.calculations import air, film, liquid, schedule, spraying
from coatledger.answers.calculations.calculation import Calculation
from coatledger.refusal import refuse

CALCULATIONS: Mapping[str, Calculation] = {
    one.name: one for one in (*air.ALL, *film.ALL, *liquid.ALL, *spraying.ALL, *schedule.ALL)
}


def calculate(calculation: Calculation, asked: Struct) -> Struct:
    """Carry out a calculation, or refuse numbers for which its source does not hold."""
    try:
        return calculation.work(asked)
    except ValueError as fault:
        raise refuse("beyond_source", "", str(fault)) from fault
    except OverflowError as fault:
        raise refuse("beyond_source", "", "a number is too large to reckon with") from fault
