"""What is drawn of the finish on hand: for each product what is there and what will be needed."""

import math

from coatledger.answers.stock import ProductStock, StockAnswer
from coatledger.computations.stock import Short

from coatledger_api.charts.frame import Cell, Column, Frame
from coatledger_api.charts.pictures import Picture
from coatledger_api.charts.specs import against


def of_stock(answer: StockAnswer) -> Picture:
    """Draw usable finish as a bar and what is needed as a point with its range across it."""
    short = [one for one in answer.products if one.outlook.likely is not None]
    says = "Bars: usable finish; points: what open and promised work likely needs; lines: as little"
    says += " and as much as it may be."
    if short:
        says += f" Runs out: {', '.join(one.product for one in short)}."
    frame = Frame(
        title="Finish on hand and needed, litres",
        says=says if answer.products else "No can is on hand and no work needs finish.",
        columns=(
            Column("product", "product"), Column("cans", "cans", "count"),
            Column("usable_l", "usable, L", "number"),
            Column("needed_low_l", "needed, at least, L", "number"),
            Column("needed_likely_l", "needed, likely, L", "number"),
            Column("needed_high_l", "needed, at most, L", "number"),
            Column("to_buy_low_l", "to buy, at least, L", "number"),
            Column("to_buy_likely_l", "to buy, likely, L", "number"),
            Column("to_buy_high_l", "to buy, at most, L", "number"),
            Column("short_earliest", "may run out"),
            Column("short_likely", "likely runs out"),
            Column("short_piece", "at piece"),
            Column("waste_l", "will spoil, L", "number"),
            Column("assumed", "assumed"),
        ),
        rows=tuple(_row(one) for one in answer.products),
        notes=(
            *(f"{can.lot}: nobody said which product is in it" for can in answer.cans_of_unknown),
            *(f"{one}: nobody can say what it will take" for one in answer.unplanned),
        ),
    )  # fmt: skip
    return Picture(
        frame,
        lambda look, width: against(
            frame, look, width, label="product", have="usable_l", low="needed_low_l",
            likely="needed_likely_l", high="needed_high_l", axis="litres",
        ),
    )  # fmt: skip


def _row(one: ProductStock) -> tuple[Cell, ...]:
    seen = one.outlook
    return (
        one.product, len(one.cans), seen.usable_l,
        seen.needed_l.low, seen.needed_l.likely, seen.needed_l.high,
        seen.to_buy_l.low, seen.to_buy_l.likely, seen.to_buy_l.high,
        _when(seen.earliest), _when(seen.likely),
        None if seen.likely is None else seen.likely.piece,
        math.fsum(spoilt.litres for spoilt in seen.waste), "; ".join(one.assumed),
    )  # fmt: skip


def _when(short: Short | None) -> str | None:
    return None if short is None else short.at.isoformat(timespec="minutes")
