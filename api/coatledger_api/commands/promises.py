"""`coatledger promises`: what was promised, what it is worth now, and what endangers it."""

from urllib.parse import quote

import click
from coatledger.answers.promises.outlook import OpenPromise, Outlook
from coatledger.answers.promises.score import LevelScore, PromiseScore
from coatledger.answers.promises.story import PromiseStory, TimeTold

from coatledger_api.commands.ask import Question, asking
from coatledger_api.commands.reach import Misused
from coatledger_api.commands.shown import Manner, count, percent, say, table, words
from coatledger_api.selling.told import Replay


@click.command("promises")
@click.argument("order", required=False)
@click.option("--replay", is_flag=True, help="Compute the promise of ORDER again.")
@asking
def command(question: Question, order: str | None, replay: bool) -> None:
    """List the open promises with their present chance, or tell that of ORDER.

    The whole shop is simulated for it. A promise is in danger when its chance falls below what the
    shop bears (60 % unless set otherwise); under it stand what endangers it, since when, and what
    would save it. `coatledger promises score` tells how earlier promises came out.
    """
    place = f"/v1/promises/{quote(order or '', safe='')}"
    if order is None:
        if replay:
            raise Misused("Name the order whose promise is to be computed again.")
        question.put("/v1/promises", Outlook, show)
    elif order == "score" and not replay:
        question.put("/v1/promises/score", PromiseScore, show_score)
    elif replay:
        question.put(f"{place}/replay", Replay, show_replay)
    else:
        question.put(place, PromiseStory, show_story)


def show(answer: Outlook, manner: Manner) -> None:
    """Tell the list, the one due first at the head."""
    held = f"; {count(answer.holds, 'hold')} before new ones" if answer.holds else ""
    say(f"As of {manner.time(answer.as_of)}: {count(len(answer.promises), 'open promise')}{held}.")
    for text in answer.missing:
        say(f"No chance can be told: {text} is missing.")
    if not answer.promises:
        return
    say()
    table(
        ("order", "line", "ships by", "chance", "likely", "now", "left"),
        [_row(one) for one in answer.promises],
    )
    for one in answer.promises:
        if one.in_danger:
            say()
            since = "" if one.danger is None else f" since {manner.time(one.danger.since)}"
            say(f"{_named(one)} is in danger{since}:")
            for text in one.because:
                say(f"  {text}")
            _show_danger(one)


def _show_danger(one: OpenPromise) -> None:
    """Tell what led to it and what would save it, as the watch found them."""
    if one.danger is None:
        return
    for cause in one.danger.causes:
        say(f"  since it was sound: {cause.says}")
    for rescue in one.danger.rescues:
        cost = f", {rescue.hours:g} h more" if rescue.hours else ""
        harms = f", at the cost of {', '.join(rescue.harms)}" if rescue.harms else ""
        enough = "would save it" if rescue.enough else "would help"
        say(f"  {enough}: {rescue.says} ({percent(rescue.chance)}{cost}{harms})")


def show_score(answer: PromiseScore, manner: Manner) -> None:
    """Tell how earlier promises came out, and how the next are corrected by it."""
    kept = answer.kept
    say(
        f"As of {manner.time(answer.as_of)}: {kept.count} of {count(kept.of, 'promise')} kept by"
        f" the first day told, {answer.overdue} overdue, {answer.open} open, {answer.off} off."
    )
    if answer.levels_say:
        say(answer.levels_say)
    if any(one.covered.of for one in answer.levels):
        say()
        table(
            ("day told at", "held", "between", "pinball, days", "lead, days", "would be added"),
            [_level(one) for one in answer.levels],
        )
    for title, groups in (("month", answer.months), ("offering", answer.offerings)):
        if groups:
            say()
            table(
                (title, "kept", "lead, days", "pinball, days"),
                [
                    (one.name, f"{one.kept.count} of {one.kept.of}", words(one.lead_days),
                     words(one.pinball_days))
                    for one in groups
                ],
            )  # fmt: skip
    by = answer.correction
    say()
    say(
        f"For {by.level_pct:g} % the next quote takes what is simulated at {by.simulated_pct:g} %,"
        f" by what came of {count(by.promises, 'earlier promise')}."
    )


def _level(one: LevelScore) -> tuple[str, ...]:
    of = one.covered
    return (
        f"{one.level_pct:g} %", f"{of.count} of {of.of}" if of.of else "no such day is over",
        f"{percent(of.low)} and {percent(of.high)}" if of.of else "-", words(one.pinball_days),
        words(one.lead_days), words(one.conformal_days),
    )  # fmt: skip


def _row(one: OpenPromise) -> tuple[str, ...]:
    danger = ", in danger" if one.in_danger else ""
    return (
        one.order, words(one.line), f"{one.latest.ships_by}{', overdue' if one.overdue else ''}",
        f"{percent(one.chance)}{danger}", words(one.likely), words(one.ships_by),
        f"{one.shipped} of {one.quantity}",
    )  # fmt: skip


def _named(one: OpenPromise) -> str:
    return one.order if one.line is None else f"{one.order}, line {one.line},"


def show_story(answer: PromiseStory, manner: Manner) -> None:
    """Tell one order's promise from the first word on."""
    say(
        f"Order {answer.order}, taken {manner.time(answer.taken_at)}: {answer.outcome}."
        f" As of {manner.time(answer.as_of)}."
    )
    for told in answer.told:
        say(f"{manner.time(told.told_at)}: {_told(told)}.")
    say()
    table(
        ("line", "left", "packed", "under way", "not begun", "rest by", "outcome"),
        [
            (
                line.line,
                f"{line.quantity - line.rest} of {line.quantity}",
                str(len(line.packed)),
                str(len(line.under_way)),
                str(line.not_begun),
                words(line.latest) if line.rest else "-",
                line.outcome,
            )
            for line in answer.lines
        ],
    )
    for now in answer.now:
        say()
        say(f"{_named(now)} by {now.latest.ships_by}: chance {percent(now.chance)}, {_now(now)}.")
        for text in now.because:
            say(f"  {text}")


def _told(told: TimeTold) -> str:
    line = "" if told.line is None else f" (line {told.line})"
    if told.ships_by is None:
        return f"told of {words(told.about)}; chose {words(told.chose)}{line}"
    why = "" if told.why is None else f", because of {words(told.why)}"
    level = "" if told.level_pct is None else f" at {told.level_pct:g} %"
    return f"ships by {told.ships_by}{level}{why}{line}"


def _now(now: OpenPromise) -> str:
    likely = f"likely {now.likely}, now promised for {now.ships_by}"
    return f"in danger, {likely}" if now.in_danger else likely


def show_replay(answer: Replay, manner: Manner) -> None:
    """Tell whether a promise came out the same."""
    for one in answer.promises:
        line = "" if one.line is None else f", line {one.line}"
        if one.same:
            say(f"{answer.order}{line}: the same to the byte, {one.ships_by} ({answer.engine}).")
        else:
            say(f"{answer.order}{line}: otherwise in {', '.join(one.differs)}.")
            if one.calendar_then != one.calendar_now:
                say(f"  Then: {one.calendar_then}. Now: {one.calendar_now}.")
