"""What makes a fact impossible: told before it happened, of something unknown, or out of order.

A fact is judged at its own place in (occurred, position) order, against the effective facts before
it. Whatever is only bad practice passes here and is answered with a finding.
"""

from collections.abc import Iterable
from datetime import timedelta

from coatledger.computations.calendar import Hours
from coatledger.events import bare, finish, judging, orders, setup
from coatledger.events.about import FindingSettled
from coatledger.events.base import Fact
from coatledger.events.catalogue import (
    ABOUT_EVENTS,
    CORRECTIONS,
    TAG_OF,
    EventAmended,
    original_of,
    subjects_of,
)
from coatledger.events.room_gun import ClimateRead
from coatledger.ledger.batch import Condition
from coatledger.ledger.correct import FAR, history
from coatledger.ledger.record import Recorded, micros, moment, recorded
from coatledger.recording.overlay import Overlay
from coatledger.refusal import Fault, Refused
from coatledger.subjects.parked import ParkedError
from coatledger.subjects.registry import FOLDS, kind_of, word_of
from coatledger.subjects.view import fold
from coatledger.subjects.working import opening

CLOSURE_MAX = timedelta(days=366)
MIDNIGHT = "00:00"  # as a closing time, the end of the day
BIRTHS = ("piece_started", "piece_expected", "lot_received", "lot_mixed", "order_taken")


class Judge:
    """Judges facts against what stands in one session."""

    def __init__(self, overlay: Overlay, now_us: int) -> None:
        self._overlay = overlay
        self._now_us = now_us

    def subjects(self, fact: Fact, pointer: str) -> tuple[str, ...]:
        """Name the subjects of a fact; one about another event names that event's subjects too."""
        named = dict.fromkeys(subjects_of(fact))
        original = original_of(fact)
        if original is not None:
            named.update(dict.fromkeys(self._original_subjects(fact, original, pointer)))
        if isinstance(fact, EventAmended):
            named.update(dict.fromkeys(subjects_of(fact.replacement)))
        return tuple(named)

    def check(self, fact: Fact, subjects: tuple[str, ...], pointer: str) -> None:
        """Raise `Refused` with every reason why this cannot have happened as told."""
        faults = list(self._future(fact, pointer))
        if isinstance(fact, EventAmended):
            faults += self._future(fact.replacement, f"{pointer}/replacement")
            place = self._overlay.by_id((fact.original,))[fact.original].position
            named = subjects_of(fact.replacement)
            faults += self._at_its_place(fact.replacement, named, f"{pointer}/replacement", place)
        elif isinstance(fact, FindingSettled):
            faults += self._cure(fact, pointer)
        elif not isinstance(fact, ABOUT_EVENTS):
            faults += self._at_its_place(fact, subjects, pointer, FAR)
        if faults:
            raise Refused(tuple(faults))

    def _original_subjects(self, fact: Fact, original: object, pointer: str) -> tuple[str, ...]:
        row = self._overlay.by_id((original,)).get(original)  # type: ignore[arg-type,call-overload]
        field = "about" if isinstance(fact, FindingSettled) else "original"
        if row is None:
            raise _one("unknown_event", f"{pointer}/{field}", f"no event {original}")
        original_row = recorded(row)
        event = original_row.event
        if isinstance(fact, CORRECTIONS) and isinstance(event, CORRECTIONS):
            detail = f"{original} is itself a correction"
            raise _one("corrects_a_correction", f"{pointer}/{field}", detail)
        if isinstance(fact, EventAmended):
            _same_fact(fact, event, pointer)
        # The subjects as they were stamped: a settlement's, say, are not in its own fields.
        named = dict.fromkeys(original_row.previous)
        named.update(dict.fromkeys(self._amended_subjects(original_row)))
        return tuple(named)

    def _amended_subjects(self, original: Recorded) -> Iterable[str]:
        """A fact amended before may name other subjects now: they are concerned as well."""
        for subject in original.previous:
            for row in self._overlay.of_subject(subject, types=("event_amended",)):
                later = recorded(row)
                event = later.event
                if isinstance(event, EventAmended) and event.original == original.event.id:
                    yield from later.previous

    def _future(self, fact: Fact, pointer: str) -> Iterable[Fault]:
        times = [("occurred_at", fact.occurred_at), ("ended_at", fact.ended_at)]
        if isinstance(fact, ClimateRead):
            times += [(f"readings/{i}/at", r.at) for i, r in enumerate(fact.readings)]
        for field, time in times:
            if time is not None and micros(time) > self._now_us:
                now = moment(self._now_us).isoformat(timespec="seconds")
                detail = f"{time.isoformat()} lies after the service's clock, {now}"
                yield Fault(rule="occurs_in_future", pointer=f"{pointer}/{field}", detail=detail)

    def _cure(self, fact: FindingSettled, pointer: str) -> Iterable[Fault]:
        if fact.cured_by is not None and not self._overlay.by_id((fact.cured_by,)):
            detail = f"no event {fact.cured_by}"
            yield Fault(rule="unknown_event", pointer=f"{pointer}/cured_by", detail=detail)

    def _at_its_place(
        self, fact: Fact, subjects: tuple[str, ...], pointer: str, place: int
    ) -> Iterable[Fault]:
        """`place` is the position a replacement takes over; FAR for a fact of its own."""
        at_us = micros(fact.occurred_at)
        for subject in subjects:
            entry = self._overlay.entry(subject)
            may_follow = entry.kind.may_follow
            if may_follow is None:
                continue
            present = place == FAR and at_us >= entry.folded_us
            try:
                state = entry.state if present else self._state_before(subject, at_us, place)
            except ParkedError:  # nothing can be said of it, and it has happened
                continue
            if not may_follow(state, fact):
                yield _impossible(subject, state, fact, pointer)

    def _state_before(self, subject: str, at_us: int, place: int) -> object:
        known = history(self._overlay, subject, until_us=at_us)
        before = (p for p in known if (p.at_us, p.position) < (at_us, place))
        return fold(subject, tuple(p for p in before if p.position != place))


def body_faults(fact: Fact, pointer: str) -> tuple[Fault, ...]:
    """List what is wrong with a fact by itself, beyond types and bounds."""
    found = list(_order_of_times(fact, pointer))
    if not fact.id.int:
        found.append(_invalid(f"{pointer}/id", "the nil UUID is nobody's id (RFC 9562, 5.9)"))
    if isinstance(fact, EventAmended):
        found += body_faults(fact.replacement, f"{pointer}/replacement")
    for field in ("pieces", "faces"):
        words = getattr(fact, field, ())
        if len(set(words)) != len(words):
            found.append(_invalid(f"{pointer}/{field}", "each is named once"))
    if "all" in (faces := getattr(fact, "faces", ())) and len(faces) > 1:
        found.append(_invalid(f"{pointer}/faces", "`all` stands alone"))
    found += [_invalid(pointer + where, says) for where, says in _contradictions(fact)]
    return tuple(found)


def condition_faults(overlay: Overlay, conditions: Iterable[Condition]) -> tuple[Fault, ...]:
    """List the append conditions that no longer hold."""
    return tuple(
        Fault(
            rule="condition_broken",
            pointer=f"/conditions/{i}/after",
            detail=f"{c.subject} was named at position {overlay.entry(c.subject).named}",
        )
        for i, c in enumerate(conditions)
        if kind_of(c.subject) in FOLDS and overlay.entry(c.subject).named > c.after
    )


def _order_of_times(fact: Fact, pointer: str) -> Iterable[Fault]:
    ended_us = micros(fact.ended_at or fact.occurred_at)
    if ended_us < micros(fact.occurred_at):
        yield _invalid(f"{pointer}/ended_at", "an act ends after it begins")
    if isinstance(fact, ClimateRead):
        for i, reading in enumerate(fact.readings):
            at_us = micros(reading.at or fact.occurred_at)
            if not micros(fact.occurred_at) <= at_us <= ended_us:
                says = "a reading lies between occurred_at and ended_at"
                yield _invalid(f"{pointer}/readings/{i}/at", says)


def _contradictions(fact: Fact) -> Iterable[tuple[str, str]]:
    match fact:
        case setup.RoomDescribed():
            yield from _ranges(fact, ("air_{}_c", "rh_{}_pct"))
        case setup.ProductDescribed():
            names = ("air_{}_c", "rh_{}_pct", "wet_film_{}_um", "coats_{}", "nozzle_{}_mm")
            yield from _ranges(fact, names)
        case setup.ShopDescribed():
            yield from _week(fact)
        case setup.ClosureAnnounced():
            if not timedelta(0) <= fact.last_day - fact.first_day < CLOSURE_MAX:
                yield "/last_day", "a closure lasts from 1 to 366 days"
        case setup.PersonAbsent() if fact.until is not None and fact.until < fact.since:
            yield "/until", "an absence ends after it begins"
        case orders.PieceAllotted() if fact.line is not None and fact.order is None:
            yield "/line", "a line belongs to an order"
        case finish.LotMixed() if fact.lot in {parent.lot for parent in fact.parents}:
            yield "/parents", "a mix gets a word of its own"
        case FindingSettled() if fact.cured_by is not None and fact.how != "cured":
            yield "/cured_by", "only a finding settled as cured was cured by something"
        case bare.PieceExpected():
            if fact.earliest_on is not None and fact.earliest_on > fact.likely_on:
                yield "/earliest_on", "the earliest day is not after the likely one"
            if fact.latest_on is not None and fact.latest_on < fact.likely_on:
                yield "/latest_on", "the latest day is not before the likely one"
        case orders.OrderTaken() | orders.OrderChanged():
            yield from _same_lines(fact.lines or ())
        case judging.GlossMeasured() if fact.angle_deg not in (20, 45, 60, 75, 85):
            yield "/angle_deg", "gloss is read at 20, 45, 60, 75 or 85 degrees"
        case _:
            return


def _week(fact: setup.ShopDescribed) -> Iterable[tuple[str, str]]:
    """What the calendar could not work with is refused here, where it can still be mended."""
    late = [i for i, h in enumerate(fact.hours) if h.closes <= h.opens and h.closes != MIDNIGHT]
    for i in late:
        yield f"/hours/{i}/closes", "closing comes after opening on the same day"
    try:
        Hours(zone=fact.zone, openings=())
    except ValueError as unknown:
        yield "/zone", str(unknown)
    try:
        Hours(zone="UTC", openings=tuple(opening(h) for h in fact.hours if not late))
    except ValueError as overlap:
        yield "/hours", str(overlap)


def _same_lines(lines: tuple[orders.OrderLine, ...]) -> Iterable[tuple[str, str]]:
    seen: set[str] = set()
    for i, line in enumerate(lines):
        if line.line in seen:
            yield f"/lines/{i}/line", "each line has a word of its own"
        seen.add(line.line)


def _ranges(fact: Fact, names: tuple[str, ...]) -> Iterable[tuple[str, str]]:
    for name in names:
        low, high = getattr(fact, name.format("min")), getattr(fact, name.format("max"))
        if low is not None and high is not None and low > high:
            yield f"/{name.format('max')}", "the upper limit lies below the lower one"


def _same_fact(fact: EventAmended, original: Fact, pointer: str) -> None:
    where, says = f"{pointer}/replacement", ""
    if type(fact.replacement) is not type(original):
        says = f"the original is a {TAG_OF[type(original)]}"
    elif fact.replacement.id != fact.original:
        where, says = f"{where}/id", "a replacement keeps the original's id"
    if says:
        raise _one("correction_of_other_type", where, says)


def _impossible(subject: str, state: object, fact: Fact, pointer: str) -> Fault:
    kind, word, tag = kind_of(subject), word_of(subject), TAG_OF[type(fact)]
    stage = getattr(state, "stage", "")
    where = pointer + _place_of(word, fact, kind)
    if stage == "unborn" and kind in ("piece", "order"):
        detail = f"no {kind} {word} at {fact.occurred_at.isoformat()}"
        return Fault(rule=f"unknown_{kind}", pointer=where, detail=detail)
    if tag in BIRTHS:
        detail = f"{kind} {word} is already {stage}"
        return Fault(rule="born_twice", pointer=where, detail=detail)
    detail = f"{tag} cannot follow while {kind} {word} is {stage}"
    return Fault(rule="impossible_order", pointer=where, detail=detail)


def _place_of(word: str, fact: Fact, kind: str) -> str:
    pieces = getattr(fact, "pieces", ())
    return f"/pieces/{pieces.index(word)}" if kind == "piece" and word in pieces else f"/{kind}"


def _invalid(pointer: str, detail: str) -> Fault:
    return Fault(rule="invalid", pointer=pointer, detail=detail)


def _one(rule: str, pointer: str, detail: str) -> Refused:
    return Refused((Fault(rule=rule, pointer=pointer, detail=detail),))
