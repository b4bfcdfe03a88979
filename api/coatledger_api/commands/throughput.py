"""`coatledger throughput`: what leaves a week, what is here, how long it took."""

import click
from coatledger.answers.throughput import ThroughputAnswer

from coatledger_api.commands.ask import Question, asking
from coatledger_api.commands.ranged import ranged
from coatledger_api.commands.shown import Manner, count, number, say, table, words


@click.command("throughput")
@ranged
@asking
def command(question: Question, **days: str | None) -> None:
    """Count what leaves: pieces shipped a week, pieces here by stage, and their lead time."""
    question.put("/v1/throughput", ThroughputAnswer, show, **days)


def show(answer: ThroughputAnswer, manner: Manner) -> None:
    """Tell the whole, then what is here, then row by row."""
    say(f"As of {manner.time(answer.as_of)}, {answer.zone}.")
    say(f"Shipped: {count(answer.shipped, 'piece')}, {number(answer.shipped_per_week)} a week.")
    lead = answer.lead_time
    if lead.pieces:
        say(
            f"From start to shipment they took {number(lead.mean_days)} days on average;"
            f" half took {number(lead.p50_days)} or less,"
            f" nine in ten {number(lead.p90_days)} or less."
        )
    rate = answer.throughput_rate_per_h
    if rate is not None:
        say(f"Throughput rate by ISO 22400-2: {number(rate, 4)} pieces an hour of their stay.")
    if answer.in_process_total:
        here = ", ".join(f"{many} {words(stage)}" for stage, many in answer.in_process.items())
        say(f"In the shop: {count(answer.in_process_total, 'piece')} ({here}).")
    else:
        say("In the shop: no piece in process.")
    if answer.rows:
        say()
        table(
            (answer.bucket, "started", "shipped", "given up", "here at its end", "median days"),
            [
                (
                    row.value,
                    str(row.started),
                    str(row.shipped),
                    str(row.scrapped),
                    str(row.in_process_end),
                    number(row.lead_days_median),
                )
                for row in answer.rows
            ],
        )
