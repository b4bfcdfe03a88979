"""`coatledger quote`: when it would ship, how sure, and what would make it sooner."""

from typing import Any

import click
from coatledger.answers.promises.quote import Quote, Takes

from coatledger_api.commands.ask import Question, asking
from coatledger_api.commands.asked_lines import asking_for, body_of
from coatledger_api.commands.reach import Misused
from coatledger_api.commands.shown import Manner, percent, say, table


@click.command("quote")
@asking_for
@click.option("--seed", type=click.IntRange(0, 10**6), default=1, help="The luck that is drawn.")
@click.option("--no-ways", is_flag=True, help="Do not look for what would make it sooner.")
@asking
def command(question: Question, seed: int, no_ways: bool, **asked: Any) -> None:
    """Say when WHAT would ship, such as `SH-90=2 BT-ASH`; nothing is stored.

    Each WHAT is a SKU, with how many after `=`. A piece that no offering describes is told by
    --area-m2, --species, --schedule and --use. The day is that of the shop's service level.
    """
    body = body_of(**asked)
    if "lines" not in body:
        raise Misused("Name what is asked for, such as SH-90=2, or describe it: --area-m2 1.2")
    question.send("/v1/promises/quote", Quote, show, {**body, "seed": seed, "ways": not no_ways})


def show(answer: Quote, manner: Manner) -> None:
    """Tell the quote."""
    say(f"As of {manner.time(answer.as_of)}, with everything that is open before it:")
    say(
        f"Ships by {answer.ships_by} at {answer.level_pct:g} %"
        f" (chance {percent(answer.chance)}); that is not the day on which it arrives."
    )
    if answer.wanted_by is not None:
        say(f"By {answer.wanted_by}, as wished: chance {percent(answer.wanted_chance)}.")
    say()
    table(
        ("", *(f"{one.level_pct:g} %" for one in answer.quantiles)),
        [
            ("all", *(str(one.ships_by) for one in answer.quantiles)),
            *(
                (f"line {line.line}", *(str(one.ships_by) for one in line.quantiles))
                for line in answer.lines
            ),
        ],
    )
    if answer.takes is not None:
        say()
        say(f"Where the days go: {_takes(answer.takes)}.")
    for way in answer.earlier:
        say(f"Sooner, by {way.ships_by}: {way.says}.")
    for text in answer.assumed:
        say(f"Assumed: {text}.")


def _takes(takes: Takes) -> str:
    parts = (
        ("waiting its turn", takes.queue_days), ("work", takes.hands_on_days),
        ("drying", takes.drying_days), ("curing", takes.cure_days),
        ("allowed for rework", takes.rework_days), ("waiting for the pick-up", takes.pick_up_days),
    )  # fmt: skip
    return ", ".join(f"{days:.1f} d {says}" for says, days in parts if days >= 0.05)
