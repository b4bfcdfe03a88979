"""`coatledger findings`: what stands open in the whole shop."""

import click
from coatledger.answers.open_findings import FindingsAnswer

from coatledger_api.commands.ask import Question, asking
from coatledger_api.commands.shown import Manner, say, words


@click.command("findings")
@asking
def command(question: Question) -> None:
    """List what stands open in the shop now, most severe first, with what to do."""
    question.put("/v1/findings", FindingsAnswer, show)


def show(answer: FindingsAnswer, manner: Manner) -> None:
    """Tell each finding whole."""
    say(f"As of {manner.time(answer.as_of)}: {len(answer.findings)} open.")
    for finding in answer.findings:
        say()
        say(f"{finding.severity}: {words(finding.code)}, {finding.cause}")
        for seen in finding.seen:
            say(f"  Seen: {seen.says}.")
        if finding.pieces:
            say(f"  Pieces: {' '.join(finding.pieces)}.")
        say(f"  Why: {finding.why}")
        say(f"  Do: {finding.what_to_do}")
        say(f"  Source: {finding.source}.")
