"""Slips of the pen and of devices: facts sent late, on a wrong clock, wrongly or twice.

They change only when and how facts are told; what happened on the floor stays as it was played.
"""

from datetime import timedelta
from typing import Final

from coatledger.events.about import EventVoided, FindingSettled
from coatledger.events.catalogue import EventAmended
from coatledger.events.coating import CoatApplied, DrynessChecked, Moved, Turned
from coatledger.events.finish import LotMeasured
from coatledger.events.preparing import BlownOff, Sanded
from coatledger.events.room_gun import ClimateRead
from msgspec.structs import replace

from coatledger_api.demo.log import Entry, seeded_id
from coatledger_api.demo.shop import Shop
from coatledger_api.demo.workdays import FIRST, SECOND

# Told late these make no later fact impossible, so a phone may keep them until it has a signal.
KEPT: Final = (Sanded, BlownOff, Turned, Moved, DrynessChecked)
NO_SIGNAL_DAYS: Final = (9, 17)
FAST_CLOCK_DAYS: Final = (13, 14)
FAST_CLOCK: Final = timedelta(minutes=7)


def without_signal(shop: Shop) -> None:
    """On some days one phone finds no signal until the afternoon."""
    changed: list[Entry] = []
    for index in NO_SIGNAL_DAYS:
        since, until = shop.days.at(index, "09:40"), shop.days.at(index, "15:05")
        changed += [
            entry._replace(post_at=until)
            for entry in shop.log.entries
            if entry.device == SECOND
            and isinstance(entry.fact, KEPT)
            and since <= entry.post_at < until
        ]
    shop.log.replace(changed)


def corrected(shop: Shop) -> None:
    """Let some facts be told wrongly at first, and put right within hours."""
    _wrong_piece(shop)
    _entered_twice(shop)
    _wrong_reading(shop)
    _wrong_stick(shop)


def settled(shop: Shop) -> None:
    """Somebody looks at a finding and says that it is accepted: the film was tried with paper."""
    for name, code in (("SH-06/coat-2", "other_can_in_gun"), ("BT-02/coat-3", "trial_was_bad")):
        fact = shop.told.get(name)
        if fact is None:
            continue
        when = (fact.ended_at or fact.occurred_at) + timedelta(hours=26)
        shop.log.note(
            FindingSettled, when, source="office", about=fact.id, code=code, how="accepted"
        )  # fmt: skip


def sent_offset(shop: Shop, entry: Entry) -> timedelta:
    """Return by how much the clock of the device that sent this was fast."""
    fast = entry.device == SECOND and shop.days.index_of(entry.post_at) in FAST_CLOCK_DAYS
    return FAST_CLOCK if fast else timedelta(0)


def _wrong_piece(shop: Shop) -> None:
    """A coat names a piece of the batch beside it instead of its own last one."""
    fact = shop.told.get("SH-11/coat-1")
    if not isinstance(fact, CoatApplied):
        return
    beside = _piece_beside(shop, fact)
    if beside is None:
        return
    wrong = replace(fact, pieces=(*fact.pieces[:-1], beside))
    _tell_first(shop, fact, wrong, "wrong_piece", hours=2.2)


def _piece_beside(shop: Shop, fact: CoatApplied) -> str | None:
    """Find a piece of another batch that was coated the same morning, but not in rework."""
    for entry in shop.log.entries:
        other = entry.fact
        near = abs(other.occurred_at - fact.occurred_at) < timedelta(hours=20)
        if isinstance(other, CoatApplied) and near and not set(other.pieces) & set(fact.pieces):
            return other.pieces[0]
    return None


def _entered_twice(shop: Shop) -> None:
    fact = shop.told.get("double")
    if fact is None or fact.ended_at is None:
        return
    twin = replace(fact, id=seeded_id(shop.rng, fact.occurred_at))
    at = fact.ended_at + timedelta(minutes=2)
    number = len(shop.log.entries)
    shop.log.entries.append(Entry(at, number, fact.actor or FIRST, twin))
    shop.log.note(
        EventVoided, at + timedelta(minutes=24), actor=fact.actor, original=twin.id,
        reason="entered_twice",
    )  # fmt: skip


def _wrong_reading(shop: Shop) -> None:
    fact = shop.told.get("morning-8")
    if not isinstance(fact, ClimateRead):
        return
    reading = fact.readings[0]
    wrong = replace(fact, readings=(replace(reading, air_c=reading.air_c + 20.0),))
    _tell_first(shop, fact, wrong, "wrong_value", hours=0.4)


def _wrong_stick(shop: Shop) -> None:
    fact = shop.told.get("stick")
    if isinstance(fact, LotMeasured):
        wrong = replace(fact, left_l=fact.left_l + 10.0)
        _tell_first(shop, fact, wrong, "wrong_value", hours=0.1)


def _tell_first(shop: Shop, fact: object, wrong: object, reason: str, *, hours: float) -> None:
    """Tell the wrong fact in place of the right one, and amend it later."""
    entry = next(e for e in shop.log.entries if e.fact is fact)
    shop.log.replace((entry._replace(fact=wrong),))
    at = entry.post_at + timedelta(hours=hours)
    at = at.replace(second=0, microsecond=0)
    shop.log.note(
        EventAmended, at, actor=entry.fact.actor, original=entry.fact.id, replacement=fact,
        reason=reason,
    )  # fmt: skip
