"""`coatledger gun`: how a gun is set, what its last trial means, what cleaning is due."""

from urllib.parse import quote

import click
from coatledger.answers.guns.answer import GunAnswer

from coatledger_api.commands.ask import Question, asking
from coatledger_api.commands.shown import Manner, say, words
from coatledger_api.commands.shown_numbers import tell


@click.command("gun")
@click.argument("word")
@click.option("--area-m2", type=float, help="Area of a batch, square metres.")
@click.option("--speed-mm-s", type=float, help="Speed of the gun, millimetres a second.")
@click.option("--stroke-mm", type=float, help="Length of a stroke, millimetres.")
@click.option("--target-wet-film-um", type=float, help="Wet film wanted; else the sheet's.")
@asking
def command(
    question: Question, word: str, area_m2: float | None, speed_mm_s: float | None,
    stroke_mm: float | None, target_wet_film_um: float | None,
) -> None:  # fmt: skip
    """Say how the gun WORD is set, what its last trial laid, and what cleaning is due."""
    question.put(
        f"/v1/guns/{quote(word, safe='')}", GunAnswer, show, area_m2=area_m2,
        speed_mm_s=speed_mm_s, stroke_mm=stroke_mm, target_wet_film_um=target_wet_film_um,
    )  # fmt: skip


def show(answer: GunAnswer, manner: Manner) -> None:
    """Tell set-up, trial, pressure and cleaning, then what to be careful of."""
    what = ", ".join(words(one) for one in (answer.name, answer.method, answer.body) if one)
    say(f"{answer.gun}: {what or 'not described yet'}. As of {manner.time(answer.as_of)}.")
    for name, part in (
        ("Set up", answer.set_up),
        ("Last trial", answer.trial),
        ("Pressure at the cap", answer.pressure),
        ("Cleaning", answer.cleaning),
    ):
        say()
        say(f"{name}:" if part is not None else f"{name}: nothing is recorded.")
        if part is not None:
            tell(part, manner)
    if answer.cleaning.flush_due:
        say("It was used and not flushed since.")
    if answer.cleaning.strip_clean_overdue:
        say("It is overdue for stripping and cleaning.")
    for caution in answer.cautions:
        say(f"Mind: {caution.text} ({caution.source})")
