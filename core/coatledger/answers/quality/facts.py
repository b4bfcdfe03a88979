"""Each coat of some pieces with what was so when it went on, and which defects followed it.

A defect follows the last coat before it was found. What nobody told is left out, so that silence
is never taken for a fact; only a finding that was not raised counts as not so.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import NamedTuple
from zoneinfo import ZoneInfo

from msgspec import Struct

from coatledger.answers.quality.cases import AIR_EDGES_C, RH_EDGES_PCT, Air, Nozzles, band
from coatledger.answers.quality.raised import Raised, raised
from coatledger.findings.place import HOUR_US
from coatledger.ledger.correct import history
from coatledger.ledger.record import moment
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked
from coatledger.subjects.piece import Coat, Piece
from coatledger.subjects.span import Span, pieces_counted
from coatledger.subjects.tallies_quality import kinds_of

DAY_H = 24.0
DRYING_US = 3 * HOUR_US
# Bands in which a shop thinks; common practice, no published source.
WAIT_EDGES_H = (2.0, 4.0, 24.0)
CLEAN_EDGES_H = (24.0, 7 * DAY_H, 30 * DAY_H)
FILM_EDGES_UM = (75.0, 100.0, 125.0, 150.0)


class CoatCase(Struct, frozen=True):
    """One coat on one piece: its act, its stratum, what was so, and the kinds that followed."""

    act: str
    at_us: int
    product: str
    wood: str
    facts: Mapping[str, str]
    kinds: frozenset[str]


class _Kept(NamedTuple):
    """What is read once for all coats."""

    reader: Reader
    asked: Asked
    air: Air
    nozzles: Nozzles
    zone: ZoneInfo
    times: dict[tuple[str, str], Sequence[int]]
    raised: Raised
    codes: tuple[str, ...]


def coat_cases(reader: Reader, asked: Asked, span: Span) -> tuple[CoatCase, ...]:
    """Return every coat of the pieces that count in a span."""
    found = tuple(pieces_counted(reader, asked, span))
    coats = [coat.at_us for piece in found for coat in piece.ever_coated]
    last_us = max(coats, default=0) + DRYING_US
    # Where nothing went wrong there is nothing to compare.
    told = raised(reader, asked, found) if any(kinds_of(piece) for piece in found) else {}
    kept = _Kept(
        reader, asked, Air(reader, asked, min(coats, default=0), last_us),
        Nozzles(reader, asked, last_us), ZoneInfo(span.zone), {}, told,
        tuple(sorted(set().union(*told.values()))),
    )  # fmt: skip
    view = asked.view(reader)
    lots = {coat.lot for piece in found for coat in piece.ever_coated}
    made = {lot: view.lot(lot).product or "unknown" for lot in lots}
    return tuple(
        CoatCase(
            str(coat.event), coat.at_us, made[coat.lot], piece.species or "unknown", facts, kinds
        )
        for piece in found
        for coat, facts, kinds in _coats(kept, piece)
    )


def finding_fact(code: str) -> str:
    """Name a finding as a fact that is so for a coat or not."""
    return f"finding {code.replace('_', ' ')}"


def _coats(kept: _Kept, piece: Piece) -> Iterator[tuple[Coat, Mapping[str, str], frozenset[str]]]:
    coats = piece.ever_coated
    if not coats:  # inspected bare, or given up before
        return
    ends = (*(coat.at_us for coat in coats[1:]), 1 << 62)
    told = [(defect.at_us, defect.kind) for defect in piece.defects if defect.found_by == "shop"]
    known = {kind for _, kind in told}
    told += [
        (rework.at_us, rework.because)
        for rework in piece.reworks
        if rework.because in kinds_of(piece) and rework.because not in known
    ]
    before: Coat | None = None
    for number, (coat, end_us) in enumerate(zip(coats, ends, strict=True), start=1):
        kinds = frozenset(str(kind) for at, kind in told if coat.at_us < at <= end_us)
        facts = {name: value for name, value in _facts(kept, coat, before, number) if value}
        codes = kept.raised.get((coat.event, piece.piece), frozenset())
        facts |= {finding_fact(code): "yes" if code in codes else "no" for code in kept.codes}
        yield coat, facts, kinds
        before = coat


def _facts(
    kept: _Kept, coat: Coat, before: Coat | None, number: int
) -> Iterator[tuple[str, str | None]]:
    yield "lot", coat.lot
    yield "gun", coat.gun
    yield "nozzle", kept.nozzles.at(coat.gun, coat.at_us)
    yield "room", coat.room
    yield "person", coat.actor
    yield "coat number", str(number)
    if coat.cleaned is not None:
        cloth = f", {coat.cleaned.cloth}" if coat.cleaned.cloth else ""
        yield "blown off by", f"{coat.cleaned.by}{cloth}".replace("_", " ")
    if coat.wet_film_um is not None:
        yield "wet film", band(coat.wet_film_um, FILM_EDGES_UM, "µm")
    if before is not None:
        waited_h = (coat.at_us - (before.ended_us or before.at_us)) / HOUR_US
        yield "wait since the coat before", band(waited_h, WAIT_EDGES_H, "h")
    yield from _air(kept, coat)
    yield from _can(kept, coat)
    yield from _gun(kept, coat)


def _air(kept: _Kept, coat: Coat) -> Iterator[tuple[str, str | None]]:
    row = kept.air.at(coat.room, coat.at_us)
    if row is not None:
        yield "air when sprayed", band(row.air_c, AIR_EDGES_C, "°C")
        yield "humidity when sprayed", band(row.rh_pct, RH_EDGES_PCT, "% RH")
    end_us = coat.ended_us or coat.at_us
    drying = kept.air.within(coat.room, end_us, end_us + DRYING_US)
    if drying:
        mean = sum(one.rh_pct for one in drying) / len(drying)
        yield "humidity in the first 3 h of drying", band(mean, RH_EDGES_PCT, "% RH")


def _can(kept: _Kept, coat: Coat) -> Iterator[tuple[str, str | None]]:
    for name, tag in (("stirred that day", "lot_stirred"), ("strained that day", "lot_strained")):
        times = _times(kept, f"lot:{coat.lot}", (tag,))
        place = bisect_right(times, coat.at_us)
        today = _day(coat.at_us, kept.zone)
        done = place > 0 and _day(times[place - 1], kept.zone) == today
        yield name, "yes" if done else "no"


def _gun(kept: _Kept, coat: Coat) -> Iterator[tuple[str, str | None]]:
    if coat.gun is not None:
        subject = f"gun:{coat.gun}"
        for name, tags in (
            ("since the gun was flushed", ("gun_flushed", "gun_strip_cleaned")),
            ("since the gun was stripped clean", ("gun_strip_cleaned",)),
        ):
            yield name, _since(kept, subject, tags, coat.at_us)
    yield "since the air line was serviced", _since(
        kept, "shop", ("air_line_serviced",), coat.at_us
    )  # fmt: skip


def _since(kept: _Kept, subject: str, tags: tuple[str, ...], at_us: int) -> str | None:
    times = _times(kept, subject, tags)
    place = bisect_left(times, at_us)
    return band((at_us - times[place - 1]) / HOUR_US, CLEAN_EDGES_H, "h") if place else None


def _times(kept: _Kept, subject: str, tags: tuple[str, ...]) -> Sequence[int]:
    key = (subject, ",".join(tags))
    if key not in kept.times:
        told = history(
            kept.reader, subject, known=kept.asked.known, until_us=kept.asked.as_of_us, types=tags
        )
        kept.times[key] = [one.at_us for one in told]
    return kept.times[key]


def _day(at_us: int, zone: ZoneInfo) -> date:
    return moment(at_us).astimezone(zone).date()
