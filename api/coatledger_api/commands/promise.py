"""`coatledger promise`: promise an order a ship date, or find the promise that was made."""

from datetime import datetime
from typing import Any

import click

from coatledger_api.commands.ask import Question, acting
from coatledger_api.commands.asked_lines import DAY, asking_for, body_of
from coatledger_api.commands.shown import Manner, number, say, table, words
from coatledger_api.selling.told import Promised


@click.command("promise")
@click.argument("order")
@asking_for
@click.option("--hold", help="Promise what this hold kept.")
@click.option("--no-later-than", type=DAY, help="Promise no later day than this one.")
@click.option("--customer", help="An opaque word for the customer.")
@acting
def command(
    question: Question, order: str, hold: str | None, no_later_than: datetime | None,
    customer: str | None, **asked: Any,
) -> None:  # fmt: skip
    """Promise ORDER, the shop's own word for it, the day at the service level.

    An order that is recorded already needs nothing more. A new one is taken with it: name WHAT was
    ordered, such as `SH-90=2`, or the hold that kept it. The same command twice is one promise.
    """
    body = {"order": order, **body_of(**asked)}
    if hold is not None:
        body["hold"] = hold
    if no_later_than is not None:
        body["no_later_than"] = no_later_than.date()
    if customer is not None:
        body["customer"] = customer
    question.change("POST", "/v1/promises", body, Promised, show)


def show(answer: Promised, manner: Manner) -> None:
    """Tell the promise."""
    say(
        f"Order {answer.order}: ships by {answer.ships_by} at {answer.level_pct:g} %,"
        f" promised {manner.time(answer.promised_at)}."
    )
    say(answer.says)
    say()
    table(
        ("line", "ships by", "chance", "likely", "90 %", "95 %"),
        [
            (
                words(day.line),
                str(day.ships_by),
                f"{number(day.chance_pct)} %",
                words(day.likely),
                words(day.p90),
                words(day.p95),
            )
            for day in answer.days
        ],
    )
