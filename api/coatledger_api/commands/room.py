"""`coatledger room`: a room's air now, and what brings it into range."""

from urllib.parse import quote

import click
from coatledger.answers.rooms import RoomAnswer

from coatledger_api.commands.ask import Question, asking
from coatledger_api.commands.shown import Manner, say, table, words
from coatledger_api.commands.shown_numbers import tell


@click.command("room")
@click.argument("word")
@click.option("--air-changes-per-h", type=float, help="Outside air in, changes an hour.")
@click.option("--outside-c", type=float, help="Temperature outside, degrees Celsius.")
@click.option("--outside-rh-pct", type=float, help="Relative humidity outside, percent.")
@asking
def command(
    question: Question, word: str, air_changes_per_h: float | None, outside_c: float | None,
    outside_rh_pct: float | None,
) -> None:  # fmt: skip
    """Say how the air of the room WORD is: for surfaces, wood and films, and what would mend it."""
    question.put(
        f"/v1/rooms/{quote(word, safe='')}", RoomAnswer, show,
        air_changes_per_h=air_changes_per_h, outside_c=outside_c, outside_rh_pct=outside_rh_pct,
    )  # fmt: skip


def show(answer: RoomAnswer, manner: Manner) -> None:
    """Tell the air, then what to do, then what it does to wood and films."""
    name = f" ({answer.name})" if answer.name else ""
    state = {True: "in range", False: "out of range", None: "not read"}[answer.in_range]
    say(f"{answer.room}{name}, as of {manner.time(answer.as_of)}: {state}.")
    for text in (*answer.outside, *answer.notes):
        say(f"Mind: {text}.")
    if answer.devices_on:
        say(f"On: {', '.join(map(words, answer.devices_on))}.")
    for part in (answer.air, answer.wanted, answer.into_range):
        if part is not None:
            say()
            tell(part, manner)
    if answer.heating:
        warmer = (
            f"{manner.quantity(one.air_c, 'c')} gives {one.rh_pct:.0f} %" for one in answer.heating
        )
        say(f"Heating alone: {', '.join(warmer)}.")
    for one in answer.wood_elsewhere:
        moves = one.moves
        say(
            f"A piece moved from here to {one.room} {words(moves.direction)}:"
            f" {moves.change_pct:+.1f} points, to {moves.emc_pct:.1f} %."
        )
    if answer.films:
        say()
        table(
            ("dries here", "pieces", "drying speed", "curing speed", "risk in this air"),
            [
                (
                    words(film.product),
                    str(len(film.pieces)),
                    _speed(film.drying_speed),
                    _speed(film.curing_speed),
                    "; ".join(film.risks),
                )
                for film in answer.films
            ],
        )


def _speed(times: float | None) -> str:
    return "-" if times is None else f"{times:.2f} of the sheet's"
