"""`coatledger drying`: what the clock has learned of a product here, and how good its word was."""

from urllib.parse import quote

import click
from coatledger.answers.drying import CoatSeen, DryingAnswer
from coatledger.clocks.hindsight import Hindsight, Scores
from coatledger.computations.drying import Spread

from coatledger_api.commands.ask import Question, asking
from coatledger_api.commands.shown import Manner, count, number, say, table, words


@click.command("drying")
@click.argument("product")
@click.option("--data", "with_data", is_flag=True, help="List every check as well.")
@asking
def command(question: Question, product: str, with_data: bool) -> None:
    """Show how PRODUCT dries in this shop against its sheet, and what that rests on."""

    def told(answer: DryingAnswer, manner: Manner) -> None:
        show(answer, manner)
        if with_data:
            _data(answer.data, manner)

    question.put(f"/v1/products/{quote(product, safe='')}/drying", DryingAnswer, told)


def show(answer: DryingAnswer, manner: Manner) -> None:
    """Tell belief before and after, the stages' hours, and the scores."""
    found = answer.learned
    say(f"{answer.product}, as of {manner.time(answer.as_of)}.")
    say(f"Before any check: {_times(found.prior)} the sheet's hours.")
    if found.checks:
        say(
            f"After {count(found.checks, 'check')} of {count(found.coats, 'coat')}:"
            f" {_times(found.posterior)} for the next coat;"
            f" the product itself {_times(found.own or found.posterior)}."
        )
        say(f"{found.says}.")
    else:
        say("No film of it was checked yet: the sheet stands, with its range.")
    say()
    table(
        ("stage", "sheet", "earliest", "likely", "surely", ""),
        [
            (
                words(row.stage),
                f"{row.sheet_h:g} h",
                f"{row.earliest_h:.1f} h",
                f"{row.likely_h:.1f} h",
                f"{row.sure_h:.1f} h",
                "common practice, the sheet is silent" if row.assumed else "",
            )
            for row in answer.stages
        ],
    )
    for text in answer.assumed:
        say(f"Assumed: {text}.")
    if answer.hindsight is not None:
        _hindsight(answer.hindsight)


def _times(factor: Spread) -> str:
    return f"{factor.p50:.2f} times ({factor.p10:.2f} to {factor.p90:.2f})"


def _hindsight(seen: Hindsight) -> None:
    say()
    coats = count(seen.coats, "coat")
    say(f"What had been said of {coats} before the check (smaller is better):")
    table(
        ("", "Brier", "log score", "CRPS", "interval score", "pinball", "ranges that held"),
        [("the clock", *_scores(seen.clock)), ("the sheet alone", *_scores(seen.sheet_alone))],
    )


def _scores(scores: Scores) -> tuple[str, ...]:
    plain = (number(scores.brier, 3), number(scores.log_score, 3))
    ranges = scores.ranges
    if ranges is None:
        return (*plain, "-", "-", "-", "-")
    held = f"{ranges.held * ranges.count:.0f} of {ranges.count}"
    return (
        *plain, number(ranges.crps, 3), number(ranges.interval, 3), number(ranges.pinball, 3), held,
    )  # fmt: skip


def _data(coats: tuple[CoatSeen, ...], manner: Manner) -> None:
    say()
    table(
        ("piece", "can", "applied", "checks", "factor above", "at most"),
        [
            (
                coat.piece,
                coat.lot,
                manner.time(coat.applied_at),
                ", ".join(
                    f"{'' if check.ready else 'not '}{words(check.stage)} {manner.time(check.at)}"
                    for check in coat.checks
                ),
                number(coat.more_than, 2),
                number(coat.at_most, 2) + (" (they contradict)" if coat.disputed else ""),
            )
            for coat in coats
        ],
    )
