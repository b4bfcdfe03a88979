"""`coatledger rework`: what comes back, and what passes at the first look."""

import click
from coatledger.answers.rework import ReworkAnswer, ReworkRow, Share

from coatledger_api.commands.ask import Question, asking
from coatledger_api.commands.ranged import ranged
from coatledger_api.commands.shown import Manner, count, percent, say, table, words


@click.command("rework")
@ranged
@asking
def command(question: Question, **days: str | None) -> None:
    """Count what comes back: first-pass yield, rework and scrap, by day, week or month.

    Each share has the interval in which it lies with 95 % confidence (Wilson).
    """
    question.put("/v1/rework", ReworkAnswer, show, **days)


HEADS = ("inspected", "passed first", "first-pass yield", "reworked", "given up")


def show(answer: ReworkAnswer, manner: Manner) -> None:
    """Tell the whole, then row by row, then the defects."""
    total = answer.total
    say(f"As of {manner.time(answer.as_of)}, {answer.zone}.")
    if total.produced == 0:
        say("No piece has had its final inspection yet, so there is nothing to count.")
    else:
        say(
            f"Of {count(total.inspected, 'piece')} inspected {total.passed_first} passed at"
            f" the first final inspection, without rework: {_share(total.first_pass_yield)}."
        )
        say(
            f"Reworked: {total.reworked} of {total.produced}, {_share(total.rework_ratio)};"
            f" given up: {total.scrapped}, {_share(total.scrap_ratio)}."
        )
    say(
        f"Reworks begun: {answer.reworks_in_shop} in the shop,"
        f" {answer.reworks_after_return} after a piece came back."
    )
    if answer.few:
        say("So few pieces prove little; the intervals say how little.")
    if answer.rows:
        say()
        table(
            (
                answer.bucket,
                "inspected",
                "passed first",
                "first-pass yield",
                "reworked",
                "given up",
            ),
            [_row(row) for row in answer.rows],
        )
    if answer.defects:
        say()
        table(
            ("defect", "found by the shop", "by the customer"),
            [
                (words(row.kind), str(row.found_by_shop), str(row.found_by_customer))
                for row in answer.defects
            ],
        )


def _row(row: ReworkRow) -> tuple[str, ...]:
    return (
        row.value or "",
        str(row.inspected),
        str(row.passed_first),
        _share(row.first_pass_yield),
        str(row.reworked),
        str(row.scrapped),
    )


def _share(share: Share) -> str:
    if share.value is None:
        return "nothing to count"
    return f"{percent(share.value)} ({percent(share.low)} to {percent(share.high)})"
