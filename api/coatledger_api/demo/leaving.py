"""The way out: the last look, rubbing out, the wait for the film, packing."""

from datetime import datetime, timedelta

from coatledger.events.coating import DrynessChecked, Moved
from coatledger.events.judging import (
    DefectFound,
    GlossMeasured,
    Held,
    Inspected,
    PhotoTaken,
    Released,
)
from coatledger.events.leaving import Packed, Polished, RubbedOut, Scrapped, Unpacked

from coatledger_api.demo.floor import Ask, Script, minutes
from coatledger_api.demo.rework import rework
from coatledger_api.demo.shop import Group, Shop


def finished(shop: Shop, group: Group) -> Script:
    """Look the pieces over, send the faulty ones to rework and the sound ones on their way."""
    assert group.coated_at is not None
    rush = "rush" in group.flags
    earliest = max(group.free_at, group.coated_at + timedelta(hours=4 if rush else 12))
    slot = yield Ask(2 + len(group.pieces), earliest)
    faults = {**group.later, **group.soon}
    bad = tuple(p for p in group.pieces if p in faults)
    good = tuple(p for p in group.pieces if p not in faults)
    group.free_at = slot.end
    if good:
        shop.log.note(
            Inspected, slot.start, ended_at=slot.end, actor=slot.who, pieces=good, point="final",
            passed=True, lighting="raking",
        )  # fmt: skip
    if bad:
        shop.log.note(
            Inspected, slot.start, ended_at=slot.end, actor=slot.who, pieces=bad, point="final",
            passed=False, lighting="raking",
        )  # fmt: skip
    for kind in dict.fromkeys(faults[p] for p in bad):
        pieces = tuple(p for p in bad if faults[p] == kind)
        shop.log.note(
            DefectFound, slot.end, actor=slot.who, pieces=pieces, kind=kind,
            extent="several" if kind not in ("nib", "hair", "sag") else "spot",
        )  # fmt: skip
        part = group.part(pieces)
        part.soon, part.later = {}, {}
        part.times_failed += 1
        if "rework_twice" in group.flags and part.times_failed == 1:
            part.later = {pieces[0]: "hair"}  # the second look finds what the first rework left
        shop.floor.begin(rework(shop, part, kind, lambda again, _: finished(shop, again)))
    if good:
        yield from _held_back(shop, group, good, slot.end, slot.who)
        yield from leave(shop, group.part(tuple(p for p in good if p in group.pieces)))


def _held_back(
    shop: Shop, group: Group, good: tuple[str, ...], at: datetime, who: str
) -> Script:  # fmt: skip
    """Some pieces wait for an answer: some get it the next day, one has not got it yet."""
    if "scrap_one" in group.flags:
        lost = shop.book.ordered_with_others(good) or good[-1]
        shop.log.note(
            Scrapped, at + minutes(3), actor=who, pieces=(lost,), why="wood",
            note="a check opened along the back edge while it dried",
        )  # fmt: skip
        shop.book.gone(lost, at + minutes(9))
        group.pieces = tuple(p for p in group.pieces if p != lost)
    if "hold_one" in group.flags:
        shop.log.note(Held, at + minutes(2), actor=who, pieces=good[:1], why="question")
        group.pieces = tuple(p for p in group.pieces if p != good[0])
    if "hold_some" in group.flags:
        shop.log.note(Held, at + minutes(2), actor=who, pieces=good, why="customer")
        slot = yield Ask(2, at + timedelta(hours=20))
        shop.log.note(Released, slot.end, actor=slot.who, pieces=good)
        group.free_at = slot.end


def leave(shop: Shop, group: Group) -> Script:
    """Wait until the film may be wrapped, and pack."""
    assert group.coated_at is not None
    dear = "declared_value" in group.kind.started
    if group.kind.rubbed:
        yield from _rubbed_to_sheen(shop, group, hours=72 if dear else 24)
    if "rush" in group.flags:
        yield from _packed(shop, group, group.free_at, "plastic_film")
        return
    truth = shop.dry_at(group, "wrap_safe")
    hours = shop.products[group.product].wrap_h or 24.0
    if group.kind.started["use"] == "table":
        hours = 110.0 if dear else 74.0
    next_try = max(group.free_at, group.coated_at + timedelta(hours=hours))
    for _ in range(5):
        slot = yield Ask(2, next_try)
        ready = slot.start >= truth
        shop.log.note(
            DrynessChecked, slot.end, actor=slot.who, pieces=group.pieces[:1], stage="wrap_safe",
            ready=ready, by="paper",
        )  # fmt: skip
        next_try = slot.end if ready else slot.end + timedelta(hours=4)
        if ready:
            break
    yield from _packed(shop, group, next_try, "foam" if dear else "paper")


def _rubbed_to_sheen(shop: Shop, group: Group, hours: float) -> Script:
    assert group.coated_at is not None
    for_min = (30.0 if len(group.pieces) == 1 else 6.0) * len(group.pieces)
    slot = yield Ask(for_min, max(group.free_at, group.coated_at + timedelta(hours=hours)))
    shop.log.note(
        RubbedOut, slot.start, ended_at=slot.end, actor=slot.who, pieces=group.pieces, grit=1500,
        wet=True, hands_on_min=for_min,
    )  # fmt: skip
    slot = yield Ask(for_min / 3, slot.end)
    shop.log.note(
        Polished, slot.start, ended_at=slot.end, actor=slot.who, pieces=group.pieces,
        hands_on_min=round(for_min / 3),
    )  # fmt: skip
    for piece in group.pieces[:2]:
        shop.log.note(
            GlossMeasured, slot.end, actor=slot.who, pieces=(piece,),
            gloss_gu=round(shop.rng.gauss(28.0, 2.0), 1), instrument="gloss-1",
        )  # fmt: skip
    group.free_at = slot.end


def _packed(shop: Shop, group: Group, earliest: datetime, touching: str) -> Script:
    slot = yield Ask(3 + 3.0 * len(group.pieces), earliest)
    own, who = group.pieces, slot.who
    shop.log.note(
        Inspected, slot.start, actor=who, pieces=own, point="before_packing", passed=True,
        lighting="daylight",
    )  # fmt: skip
    if "declared_value" in group.kind.started:
        for place, shows in enumerate(("after", "packing")):
            shop.log.note(
                PhotoTaken, slot.start + minutes(1 + place), actor=who, pieces=own, shows=shows,
                sha256=f"{shop.rng.getrandbits(256):064x}",
            )  # fmt: skip
    shop.log.note(
        Packed, slot.start + minutes(2), ended_at=slot.end, actor=who, pieces=own,
        touching=touching, hands_on_min=3 * len(own),
    )  # fmt: skip
    end = slot.end
    if "repack" in group.flags:
        group.flags -= {"repack"}
        slot = yield Ask(8, end + minutes(20))
        shop.log.note(
            Unpacked, slot.start, actor=slot.who, pieces=own[:1], hands_on_min=4,
            note="the card for the customer lay in the wrong box",
        )  # fmt: skip
        shop.log.note(
            Packed, slot.end, actor=slot.who, pieces=own[:1], touching=touching, hands_on_min=4
        )
        end = slot.end
    shop.log.note(Moved, end + minutes(1), actor=slot.who, pieces=own, room="rack", place="OUT")
    shop.book.packed.update({p: (end + minutes(2), group.kind) for p in own})
