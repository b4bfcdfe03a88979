"""The options of a question about a range of days, as its address has them."""

from collections.abc import Callable

import click

OPTIONS = (
    click.option("--first-week", help="First ISO week counted, such as 2026-W10."),
    click.option("--last-week", help="Last ISO week counted."),
    click.option("--first-day", help="First day counted, such as 2026-03-02, instead of a week."),
    click.option("--last-day", help="Last day counted, instead of a week."),
    click.option("--bucket", help="What a row stands for: day, week or month. Default: week."),
    click.option("--zone", help="Time zone whose days these are. Default: the shop's."),
)


def ranged(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command these options."""
    for option in reversed(OPTIONS):
        command = option(command)
    return command
