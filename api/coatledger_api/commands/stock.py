"""`coatledger stock`: finish on hand against the work ahead."""

import click
from coatledger.answers.stock import NextBatch, ProductStock, StockAnswer
from coatledger.computations.stock import Short
from coatledger.computations.viscosity import Range

from coatledger_api.commands.ask import Question, asking
from coatledger_api.commands.shown import NOTHING, Manner, say, table, words


@click.command("stock")
@asking
def command(question: Question) -> None:
    """Lay the finish on hand against open and promised work: where it runs out, what to mix."""
    question.put("/v1/stock", StockAnswer, show)


def show(answer: StockAnswer, manner: Manner) -> None:
    """Tell the products, then each one's next batch, waste and doubts."""
    say(f"As of {manner.time(answer.as_of)}.")
    table(
        ("product", "usable", "open work takes", "promised takes", "runs out, likely", "earliest"),
        [_row(product, manner) for product in answer.products],
    )
    for product in answer.products:
        _more(product, manner)
    for can in answer.cans_of_unknown:
        say(f"{can.lot}: nobody said what is in it.")
    if answer.unplanned:
        say(f"Not counted, for nobody said with what: {', '.join(answer.unplanned)}.")


def _row(product: ProductStock, manner: Manner) -> tuple[str, ...]:
    found = product.outlook
    return (
        product.product,
        manner.quantity(found.usable_l, "l"),
        _range(product.open_l, manner),
        _range(product.promised_l, manner),
        _short(found.likely, manner),
        _short(found.earliest, manner),
    )


def _range(litres: Range, manner: Manner) -> str:
    if not litres.high:
        return NOTHING
    low, high = manner.quantity(litres.low, "l"), manner.quantity(litres.high, "l")
    return f"{manner.quantity(litres.likely, 'l')} ({low} to {high})"


def _short(short: Short | None, manner: Manner) -> str:
    if short is None:
        return "it lasts"
    missing = manner.quantity(short.missing_l, "l")
    return f"{manner.time(short.at)} at {short.piece}, {missing} short"


def _more(product: ProductStock, manner: Manner) -> None:
    if product.next_batch is not None:
        _batch(product.product, product.next_batch, manner)
    for can in product.cans:
        if can.unusable is not None:
            say(f"{can.lot}: not counted, {can.unusable}.")
    for waste in product.outlook.waste:
        if product.outlook.needed_l.high:
            litres = manner.quantity(waste.litres, "l")
            say(f"{waste.lot}: {litres} would be left when it ends, {manner.time(waste.at)}.")
    for text in product.assumed:
        say(f"Assumed for {product.product}: {text}.")


def _batch(product: str, batch: NextBatch, manner: Manner) -> None:
    say(
        f"Next of {product}, {batch.on:%a %Y-%m-%d}: {_range(batch.litres, manner)} on"
        f" {' '.join(batch.pieces)}."
    )
    for pot in batch.pots:
        parts = ", ".join(
            f"{manner.quantity(part.litres, 'l')} {part.product} ({words(part.part)})"
            for part in pot.parts
        )
        until = f", to be used by {manner.time(pot.use_until)}" if pot.use_until else ""
        say(f"  Mix as {batch.as_lot} was: {parts}{until}.")
