"""`coatledger schedule`: what a batch through a schedule costs, beside another's."""

from urllib.parse import quote

import click
from coatledger.answers.schedules import SchedulesAnswer
from coatledger.computations.schedule_cost import Cost

from coatledger_api.commands.ask import Question, asking
from coatledger_api.commands.shown import Manner, count, number, say, table, words


@click.command("schedule")
@click.argument("word")
@click.option("--area-m2", type=float, help="Area of the batch, square metres. Default: 1.")
@click.option("--against", help="Another schedule to lay beside it.")
@click.option("--against-version", type=int, help="Its description number, from 1.")
@asking
def command(
    question: Question, word: str, area_m2: float | None, against: str | None,
    against_version: int | None,
) -> None:  # fmt: skip
    """Say what a batch through the schedule WORD costs, in hours, litres and days."""
    question.put(
        f"/v1/schedules/{quote(word, safe='')}", SchedulesAnswer, show, area_m2=area_m2,
        against=against, against_version=against_version,
    )  # fmt: skip


def show(answer: SchedulesAnswer, manner: Manner) -> None:
    """Tell the steps in force, and one cost or two."""
    last = answer.versions[-1]
    described = count(len(answer.versions), "time")
    say(f"{answer.schedule}: described {described}, last {manner.time(last.since)}.")
    steps = (
        " ".join(words(part) for part in (step.act, step.role, step.product) if part)
        + (f" P{step.grit}" if step.grit else "")
        for step in last.steps
    )
    say(f"Steps: {', '.join(steps)}.")
    rows = [_row(answer.schedule, answer.cost, manner)]
    if answer.comparison is not None:
        rows.append(_row(answer.against or "", answer.comparison.first, manner))
    say(f"For {manner.quantity(answer.area_m2, 'm2')}:")
    table(("", "hands-on", "finish sprayed", "elapsed", "days"), rows)
    if answer.comparison is not None:
        said = answer.comparison.words.replace("The second", answer.schedule)
        say(f"{said} (than {answer.against})")
    for text in answer.assumed:
        say(f"Assumed: {text}.")


def _row(name: str, cost: Cost, manner: Manner) -> tuple[str, ...]:
    return (
        name,
        f"{number(cost.hands_on_h)} h",
        manner.quantity(cost.litres, "l"),
        f"{number(cost.elapsed_h)} h",
        str(cost.days),
    )
