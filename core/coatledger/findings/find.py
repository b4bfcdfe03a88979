"""Findings of one fact at its place, and of one piece over its whole life.

The rules look back by `View.last` and stored states only, so a finding costs the same however long
the history is.
"""

from collections.abc import Iterable, Iterator
from uuid import UUID

from msgspec.structs import replace

from coatledger.clocks.clocks import void_of
from coatledger.clocks.films import films_of
from coatledger.clocks.runs import runs_of
from coatledger.events.base import Fact
from coatledger.events.catalogue import TAG_OF
from coatledger.findings.finding import Finding, Hit, Rule, Seen
from coatledger.findings.life import Life
from coatledger.findings.place import HOUR_US, Place
from coatledger.findings.table import RULES_OF, WEIGHT, standing
from coatledger.ledger.correct import FAR, Placed
from coatledger.ledger.record import micros, moment
from coatledger.ledger.store import Reader
from coatledger.subjects.piece import Piece
from coatledger.subjects.view import View

ACTS_A_DAY_MOST = 12
# By then every film has dried or is void; the air after that says nothing of it.
FORMS_WITHIN_US = 72 * HOUR_US


def findings_of(view: View, fact: Fact) -> tuple[Finding, ...]:
    """Return what the rules say of a fact; the view stands just before it.

    What lies with a can, gun or room is told once a working day, not at every act of the day.
    """
    rules = RULES_OF.get(type(fact), ())
    if not rules:
        return ()
    place = Place(view, fact)
    found = []
    for rule in rules:
        hit = rule.look(fact, place)
        if hit is not None and not _told_today(rule, hit, place):
            found.append(_finding(rule, hit, fact))
    return _in_order(found)


def findings_of_piece(
    reader: Reader, piece: str, *, as_of_us: int, known: int | None = None
) -> tuple[Finding, ...]:
    """Return everything the rules say of a piece's life so far, oldest first."""
    return findings_of_life(Life(View(reader, as_of_us, known=known), piece))


def findings_of_life(life: Life) -> tuple[Finding, ...]:
    """Return everything the rules say of a piece's life, oldest first.

    Each fact is judged at its own place. A cause is told once a working day; what somebody settled
    is marked and not left out.
    """
    found: list[Finding] = []
    told: set[tuple[str, str, object]] = set()
    for one, before in zip(life.placed, life.states, strict=False):
        if RULES_OF.get(type(one.fact)):
            view = life.before(one, before)
            place = Place(view, one.fact, asked=life.end.piece, rooms=life.air)
            for finding, day in _judged(one.fact, place, life.end.piece):
                if (finding.code, finding.cause, day) not in told:
                    told.add((finding.code, finding.cause, day))
                    found.append(finding)
    found += _void(life)
    found += _disputed(life.end, life.placed)
    return tuple(_settled(finding, life.end) for finding in found)


def _judged(fact: Fact, place: Place, piece: str) -> Iterator[tuple[Finding, object]]:
    """Yield what the rules say of one piece of an act, with the day it counts for."""
    for rule in RULES_OF[type(fact)]:
        hit = rule.look(fact, place)
        if hit is None or (hit.pieces and piece not in hit.pieces):
            continue
        day = fact.id if rule.again == "act" else place.day(place.at_us)
        yield _finding(rule, hit, fact), day


def _told_today(rule: Rule, hit: Hit, place: Place) -> bool:
    """Say whether an earlier act of the day was told the same."""
    if rule.again == "act" or ":" not in hit.cause:
        return False
    tags = tuple(TAG_OF[kind] for kind in rule.on)
    earlier = place.view.last(hit.cause, tags, ACTS_A_DAY_MOST)
    today = [p for p in earlier if place.today(p.at_us) and p.fact.id != place.fact.id]
    if rule.again == "day":
        return bool(today) and _held_then(rule, hit, place, today)
    return any(rule.look(place.fact, place.at(p.at_us)) is not None for p in today)


def _held_then(rule: Rule, hit: Hit, place: Place, today: list[Placed]) -> bool:
    """Say whether the cause of a daily rule held at an earlier act of the day already."""
    return any(rule.look(p.fact, _then(place, p)) is not None for p in today[:1] + today[-1:])


def _then(place: Place, earlier: Placed) -> Place:
    view = View(
        place.view.reader, earlier.at_us, before=min(earlier.position, FAR), known=place.view.known
    )
    return Place(view, earlier.fact)


def _finding(rule: Rule, hit: Hit, fact: Fact) -> Finding:
    return Finding(
        code=rule.code,
        severity=hit.severity or rule.severity,
        about=fact.id,
        at=fact.occurred_at,
        cause=hit.cause,
        seen=hit.seen,
        why=rule.why,
        what_to_do=rule.what_to_do,
        source=hit.source or rule.source,
        pieces=hit.pieces,
    )


def _void(life: Life) -> Iterator[Finding]:
    """Yield a finding for a film that dried too cold, told about the coat."""
    piece, rooms = life.end, life.air
    films = films_of(life.view, piece)
    if not any(film.read.sheet.mfft_c is not None for film in films):
        return
    now_us = min(rooms.now_us, films[-1].applied_us + FORMS_WITHIN_US)
    told: set[UUID] = set()
    for run in runs_of(piece, films, now_us, rooms):
        void = void_of(run, rooms, now_us)
        if void is None or void.event in told:
            continue
        told.add(void.event)
        yield standing_finding(
            "film_void", void.event, micros(void.since), f"piece:{piece.piece}",
            (Seen(says=void.says, event=void.event),), (piece.piece,),
        )  # fmt: skip


def _disputed(piece: Piece, placed: tuple[Placed, ...]) -> Iterator[Finding]:
    by_id = {p.fact.id: p for p in placed}
    for event in dict.fromkeys(piece.disputed):
        one = by_id[event]
        says = f"{TAG_OF[type(one.fact)]} cannot have happened to {piece.piece} there"
        yield standing_finding(
            "order_disputed", event, one.at_us, f"piece:{piece.piece}",
            (Seen(says=says, event=event),), (piece.piece,),
        )  # fmt: skip


def standing_finding(
    code: str, about: UUID, at_us: int, cause: str, seen: tuple[Seen, ...],
    pieces: tuple[str, ...] = (),
) -> Finding:  # fmt: skip
    """Write a finding of a standing rule."""
    rule = standing(code)
    return Finding(
        code=code, severity=rule.severity, about=about, at=moment(at_us), cause=cause, seen=seen,
        why=rule.why, what_to_do=rule.what_to_do, source=rule.source, pieces=pieces,
    )  # fmt: skip


def _settled(finding: Finding, piece: Piece) -> Finding:
    for one in piece.settled:
        if one.about == finding.about and one.code == finding.code:
            return replace(finding, settled=one.how)
    return finding


def _in_order(found: Iterable[Finding]) -> tuple[Finding, ...]:
    return tuple(sorted(found, key=lambda finding: WEIGHT[finding.severity]))
