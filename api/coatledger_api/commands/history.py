"""`coatledger history`: what exactly was done to a piece."""

from collections.abc import Mapping
from typing import Any
from urllib.parse import quote

import click
import msgspec
from coatledger.answers.history import Entry, HistoryAnswer

from coatledger_api.commands.ask import Question, asking
from coatledger_api.commands.shown import Manner, Quantity, count, say, table, words

ENVELOPE = ("type", "id", "occurred_at", "pieces", "note", "source")
SUFFIXES: Mapping[str, Quantity] = {
    "_c": "c", "_um": "um", "_l": "l", "_m2": "m2", "_mm": "mm", "_kpa": "kpa",
}  # fmt: skip
LATE_MIN = 15


@click.command("history")
@click.argument("word")
@click.option("--ids", is_flag=True, help="Show the id of each event, to correct or settle it.")
@asking
def command(question: Question, word: str, ids: bool) -> None:
    """Tell everything that was recorded about the piece WORD, and what was corrected."""
    question.put(
        f"/v1/pieces/{quote(word, safe='')}/history",
        HistoryAnswer,
        lambda answer, manner: show(answer, manner, ids=ids),
    )


def show(answer: HistoryAnswer, manner: Manner, *, ids: bool = False) -> None:
    """Tell the events in the order in which they happened."""
    say(f"{count(len(answer.entries), 'event')} about {answer.subject}.")
    say()
    headings = ("when", "what", "how", "how it stands", *(("id",) if ids else ()))
    table(
        headings,
        [
            (
                manner.time(entry.occurred_at),
                words(entry.type),
                _how(entry, manner),
                _stands(entry, manner),
                *((str(entry.event),) if ids else ()),
            )
            for entry in answer.entries
        ],
    )


def _stands(entry: Entry, manner: Manner) -> str:
    told = ""
    if entry.late.total_seconds() > LATE_MIN * 60:
        told = f", told {manner.time(entry.recorded_at)}"
    return words(entry.standing) + told


def _how(entry: Entry, manner: Manner) -> str:
    fact: dict[str, Any] = msgspec.json.decode(entry.fact)
    said = [
        f"{_named(name)}: {_value(name, value, manner)}"
        for name, value in fact.items()
        if name not in ENVELOPE
    ]
    if len(fact.get("pieces", ())) > 1:
        said.append(f"with {len(fact['pieces']) - 1} more")
    if entry.note:
        said.append(entry.note)
    return "; ".join(said)


def _named(name: str) -> str:
    """Take the unit off a name, for the value shows it."""
    suffix = next((s for s in SUFFIXES if name.endswith(s)), "")
    return words(name.removesuffix(suffix))


def _value(name: str, value: object, manner: Manner) -> str:
    for suffix, kind in SUFFIXES.items():
        if name.endswith(suffix) and isinstance(value, int | float):
            return manner.quantity(value, kind)
    if name.endswith("_at") and isinstance(value, str):
        return manner.time(value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return " ".join(_value(name, one, manner) for one in value)
    if isinstance(value, dict):
        return " ".join(f"{_named(key)} {_value(key, one, manner)}" for key, one in value.items())
    return words(value)
