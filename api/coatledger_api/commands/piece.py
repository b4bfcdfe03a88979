"""`coatledger piece`: how one piece stands, what comes next, and when it may ship."""

from datetime import date, datetime
from urllib.parse import quote

import click
from coatledger.answers.pieces import Next, PieceAnswer
from coatledger.clocks.answer import FaceClock
from coatledger.findings.finding import Finding

from coatledger_api.commands.ask import Question, asking
from coatledger_api.commands.shown import NOTHING, Manner, count, say, table, words


@click.command("piece")
@click.argument("word")
@asking
def command(question: Question, word: str) -> None:
    """Say how the piece WORD stands: its stage, its films, what comes next, what to look at."""
    question.put(f"/v1/pieces/{quote(word, safe='')}", PieceAnswer, show)


def show(answer: PieceAnswer, manner: Manner) -> None:
    """Tell everything about one piece."""
    say(f"{answer.piece}: {_described(answer, manner)}. As of {manner.time(answer.as_of)}.")
    wanted = count(answer.coats_wanted, "coat")
    say(
        f"Stage: {words(answer.stage)}; {answer.coats_done} of {wanted};"
        f" the film is {words(answer.clock.readiness)}."
    )
    if answer.held:
        say("It is held: nobody goes on with it until it is released.")
    if answer.order is not None:
        promised = f", promised for {day(answer.promised)}" if answer.promised else ""
        say(f"Order {answer.order}{promised}.")
    say(f"Next: {what_next(answer.next, manner, answer.as_of)}.")
    for caution in answer.cautions:
        say(f"Mind: {caution.text} ({caution.source})")
    _ship(answer, manner)
    for face in answer.clock.faces:
        _face(face, manner, answer.as_of)
    _findings(answer.findings, manner)


def what_next(step: Next, manner: Manner, now: datetime | None) -> str:
    """Say what may come next, and from when."""
    if step.act is None:
        return "nothing is left to do" if not step.possible else "nothing the schedule names"
    said = words(step.act)
    said += f" P{step.grit}" if step.grit is not None else ""
    said += f", {step.role} coat" if step.role is not None else ""
    said += f" of {step.product}" if step.product is not None else ""
    if step.waits_for is None:
        return f"{said}, now"
    if step.from_sure is None:
        return f"{said}, but in this air the film does not get there"
    likely = f"likely from {manner.soon(step.from_likely, now)}, " if step.from_likely else ""
    return f"{said}, {likely}surely from {manner.soon(step.from_sure, now)}"


def day(when: date | None) -> str:
    """Write a day."""
    return NOTHING if when is None else f"{when:%a %Y-%m-%d}"


def _described(answer: PieceAnswer, manner: Manner) -> str:
    facts = answer.facts
    said = [words(part) for part in (facts.kind, facts.species, facts.use) if part]
    if facts.coat_area_m2 is not None:
        said.append(f"{manner.quantity(facts.coat_area_m2, 'm2')} to coat")
    return ", ".join(said) or "not described yet"


def _ship(answer: PieceAnswer, manner: Manner) -> None:
    ship = answer.ship_estimate
    if ship.likely is None:
        if ship.missing:
            say(f"No ship date can be estimated: {', '.join(ship.missing)}.")
        return
    say(f"Ships: likely {day(ship.likely)}, surely by {day(ship.sure)}.")
    if ship.assumed:
        say(f"Assumed: {'; '.join(ship.assumed)}.")
    if ship.steps:
        say()
        table(
            ("what is left", "of", "begins", "ends", "waits for"),
            [
                (
                    words(step.act),
                    words(step.product),
                    manner.soon(step.begins, answer.as_of),
                    manner.soon(step.ends, answer.as_of),
                    words(step.waits_for),
                )
                for step in ship.steps
            ],
        )


def _face(face: FaceClock, manner: Manner, now: datetime | None) -> None:
    say()
    say(
        f"Film on {', '.join(words(name) for name in face.faces)}: coat {face.coat_number},"
        f" {words(face.product)}, {manner.quantity(face.wet_film_um, 'um')} wet,"
        f" applied {manner.time(face.applied_at)}; {words(face.readiness)} now."
    )
    if face.void is not None:
        say(f"This film will not become sound by waiting: {face.void.says}.")
    table(
        ("ready for", "earliest", "likely", "surely", ""),
        [
            (
                words(stage.stage),
                manner.soon(stage.earliest, now),
                manner.soon(stage.likely, now),
                manner.soon(stage.sure, now),
                "common practice, the sheet is silent" if stage.assumed else "",
            )
            for stage in face.stages
        ],
    )
    if face.recoat.abrade_after is not None:
        say(f"From {manner.time(face.recoat.abrade_after)} it must be abraded before a coat.")
    for silence in face.silences:
        say(
            f"Nobody read the air from {manner.time(silence.start)} to"
            f" {manner.time(silence.end)}; the reading before was held."
        )
    if face.assumed:
        say(f"Assumed: {'; '.join(face.assumed)}.")


def _findings(findings: tuple[Finding, ...], manner: Manner) -> None:
    if not findings:
        return
    say()
    table(
        ("finding", "weight", "when", "what was seen", "what to do"),
        [
            (
                words(finding.code),
                finding.severity if finding.settled is None else f"settled, {finding.settled}",
                manner.time(finding.at),
                "; ".join(seen.says for seen in finding.seen),
                finding.what_to_do,
            )
            for finding in findings
        ],
    )
