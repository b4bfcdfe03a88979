"""A whole day log, read and checked: its lines, its zone, and the order in which to tell them.

Facts are told in the order in which they happened, whatever their order in the file, so that a line
written below as an afterthought finds its piece started. Corrections come last.
"""

from collections.abc import Callable
from datetime import date
from typing import Literal, NamedTuple
from zoneinfo import ZoneInfo

from coatledger.events.catalogue import ABOUT_EVENTS, AnyEvent

from coatledger_api.commands.log_check import Checked, checked
from coatledger_api.commands.log_lines import Form, Line, NotALog, form_of, lines_of, text_of
from coatledger_api.commands.log_times import Wall

ZoneFrom = Literal["--zone", "the log's shop_described", "the service", "nowhere"]


class Asked(NamedTuple):
    """What the caller says about a log; None leaves it to the log or the service."""

    form: Form | None = None
    zone: str | None = None
    day: date | None = None
    source: str | None = None


class Log(NamedTuple):
    """A log as it was read."""

    form: Form
    zone: str | None
    zone_from: ZoneFrom
    lines: tuple[Checked, ...]

    def told(self) -> tuple[tuple[int, AnyEvent], ...]:
        """Return the facts with their line numbers, in the order to tell them."""
        facts = [(line.number, line.fact) for line in self.lines if line.fact is not None]
        return tuple(sorted(facts, key=lambda one: (_corrects(one[1]), one[1].occurred_at)))


def read_log(raw: bytes, name: str, asked: Asked, shop_zone: Callable[[], str | None]) -> Log:
    """Read and check a log. `shop_zone` asks the service for the zone, when nothing else tells it.

    *Raises:* `NotALog` when the file as a whole cannot be read.
    """
    text = text_of(raw)
    form = asked.form or form_of(text, name)
    lines = tuple(lines_of(text, form))
    zone, zone_from = _zone(asked, lines, shop_zone)
    wall = Wall(None if zone is None else zone_named(zone), asked.day)
    told = checked(lines, wall, text=form == "csv", source=asked.source)
    return Log(form, zone, zone_from, tuple(told))


def zone_named(name: str) -> ZoneInfo:
    """Return a zone by its name in the IANA database."""
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        raise NotALog(f"there is no zone {name!r}; write one such as Europe/Lisbon") from None


def _zone(
    asked: Asked, lines: tuple[Line, ...], shop_zone: Callable[[], str | None]
) -> tuple[str | None, ZoneFrom]:
    if asked.zone is not None:
        return asked.zone, "--zone"
    described = [line.given for line in lines if line.given.get("type") == "shop_described"]
    zones = [zone for given in described if isinstance(zone := given.get("zone"), str)]
    if zones:
        return zones[0], "the log's shop_described"
    zone = shop_zone()
    return zone, "nowhere" if zone is None else "the service"


def _corrects(fact: AnyEvent) -> bool:
    return isinstance(fact, ABOUT_EVENTS)
