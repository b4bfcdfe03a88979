"""`coatledger clocks`: what is drying, the soonest ready first."""

from datetime import datetime

import click
from coatledger.answers.pieces import ClockList
from coatledger.clocks.answer import PieceClock, Purpose

from coatledger_api.commands.ask import Question, asking
from coatledger_api.commands.shown import Manner, count, say, table, wait, words

PURPOSES: tuple[Purpose, ...] = ("touch", "recoat", "stack", "pack", "use")


@click.command("clocks")
@click.option("--room", help="Only pieces standing in this room.")
@asking
def command(question: Question, room: str | None) -> None:
    """List what is drying and when it may be touched, recoated, stacked, packed and used.

    Times are those that nine in ten films keep. A piece is as ready as its slowest face.
    """
    question.put("/v1/clocks", ClockList, show, room=room)


def show(answer: ClockList, manner: Manner) -> None:
    """Tell the clocks, soonest first."""
    say(f"As of {manner.time(answer.as_of)}: {count(len(answer.clocks), 'piece')} drying.")
    if answer.valid_until is not None:
        say(f"The next change is at {manner.soon(answer.valid_until, answer.as_of)}.")
    if not answer.clocks:
        return
    say()
    table(
        ("piece", "room", "film", "next ready", *PURPOSES),
        [_row(clock, manner) for clock in answer.clocks],
    )


def _row(clock: PieceClock, manner: Manner) -> tuple[str, ...]:
    soon = "-" if clock.next_ready is None else wait(clock.next_ready - clock.as_of)
    ready = (_ready(clock, purpose, clock.as_of, manner) for purpose in PURPOSES)
    return (clock.piece, words(clock.room), words(clock.readiness), soon, *ready)


def _ready(clock: PieceClock, purpose: Purpose, now: datetime, manner: Manner) -> str:
    ready = clock.ready_for(purpose)
    if ready is None:
        return words(None)
    if ready.ready:
        return "now"
    if ready.sure is None:
        return "not in this air"
    return manner.soon(ready.sure, now)
