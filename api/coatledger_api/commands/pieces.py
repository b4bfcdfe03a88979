"""`coatledger pieces`: the pieces in the shop, one line each."""

import click
from coatledger.answers.pieces import PieceList
from coatledger.subjects.piece_life import OPEN_STAGES

from coatledger_api.commands.ask import Question, asking
from coatledger_api.commands.piece import what_next
from coatledger_api.commands.shown import Manner, count, say, table, words

GONE = ("shipped", "scrapped")


@click.command("pieces")
@click.option(
    "--stage",
    multiple=True,
    type=click.Choice((*OPEN_STAGES, *GONE)),
    help="Only pieces of this stage; may be given again. Default: all that are here.",
)
@click.option("--order", help="Only pieces of this order.")
@click.option("--room", help="Only pieces standing in this room.")
@click.option("--after", help="Begin after this word: the next page.")
@click.option("--limit", type=click.IntRange(1, 500), help="At most so many. Default: 100.")
@asking
def command(
    question: Question,
    stage: tuple[str, ...],
    order: str | None,
    room: str | None,
    after: str | None,
    limit: int | None,
) -> None:
    """List the pieces with their stage, films and what comes next, in the order of their words."""
    question.put(
        "/v1/pieces",
        PieceList,
        show,
        stage=list(stage) or None,
        order=order,
        room=room,
        after=after,
        limit=limit,
    )


def show(answer: PieceList, manner: Manner) -> None:
    """Tell the list, and how to read on."""
    say(f"As of {manner.time(answer.as_of)}: {count(len(answer.pieces), 'piece')}.")
    if not answer.pieces:
        return
    say()
    table(
        ("piece", "kind", "stage", "coats", "film", "room", "order", "next"),
        [
            (
                row.piece,
                words(row.kind),
                f"{words(row.stage)}{', held' if row.held else ''}",
                f"{row.coats_done} of {row.coats_wanted}",
                words(row.readiness),
                words(row.room),
                words(row.order),
                what_next(row.next, manner, answer.as_of) if row.next is not None else words(None),
            )
            for row in answer.pieces
        ],
    )
    if answer.next_after is not None:
        say()
        say(f"There are more: --after {answer.next_after}")
