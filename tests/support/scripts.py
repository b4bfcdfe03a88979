"""Random stretches of a shop's life: acts in any order, late, impossible, corrected, settled.

A script is drawn; playing it posts line after line and leaves out what is refused.
"""

from collections.abc import Sequence
from typing import Any

from acts import ACTS, act
from bench import on_day
from coatledger.events import finish, orders, room_gun
from coatledger.events.about import FindingSettled
from coatledger.events.base import Fact
from coatledger.events.catalogue import CORRECTIONS
from hypothesis import strategies as st
from msgspec.structs import replace
from story import Story, amended, fact, started, voided

PIECES = ("a", "b", "c")
SLOTS = 12  # few, so that many facts fall on the same minute
Line = tuple[Any, ...]

_slots = st.integers(0, SLOTS - 1)
_some = st.lists(st.sampled_from(PIECES), min_size=1, max_size=3, unique=True).map(tuple)
_acts = st.sampled_from([name for name in ACTS if name != "finding_settled"])
_earlier = st.integers(0, 40)
_FACTS: st.SearchStrategy[Line] = st.one_of(
    st.tuples(st.just("act"), _acts, _some, _slots),
    st.tuples(st.just("act"), st.sampled_from(("coat_applied", "sanded")), _some, _slots),
    st.tuples(st.just("other"), st.sampled_from(("climate", "lot", "measured", "mixed", "gun",
                                                 "flush", "order", "allot")), _some, _slots),
)  # fmt: skip
_ABOUT_FACTS: st.SearchStrategy[Line] = st.one_of(
    st.tuples(st.just("void"), _earlier, _slots),
    st.tuples(st.just("amend"), _earlier, _some, _slots),
    st.tuples(st.just("settle"), _earlier, _slots),
)  # fmt: skip
SCRIPTS: st.SearchStrategy[list[Line]] = st.lists(
    st.one_of(_FACTS, _FACTS, _ABOUT_FACTS), min_size=12, max_size=30
)
FACTS_ONLY: st.SearchStrategy[list[Line]] = st.lists(_FACTS, min_size=8, max_size=24)


def at(slot: int) -> str:
    """Name the time of a slot."""
    return f"{1 + slot // 4} {8 + 3 * (slot % 4):02}:00"


def other(name: str, pieces: tuple[str, ...], when: str, n: int) -> Fact:
    """Make a fact that is not about pieces alone."""
    word = pieces[0]
    reading = room_gun.Reading(air_c=15.0 + n % 10, rh_pct=50.0)
    parents = (finish.Parent(lot="lot-a", amount_l=0.5),)
    made: dict[str, Any] = {
        "climate": (room_gun.ClimateRead, {"room": f"room-{word}", "readings": (reading,)}),
        "lot": (finish.LotReceived, {"lot": f"lot-{word}", "product": "p", "amount_l": 5.0}),
        "measured": (finish.LotMeasured, {"lot": f"lot-{word}", "left_l": float(n % 5)}),
        "mixed": (finish.LotMixed, {"lot": f"mix-{word}", "product": "p", "parents": parents}),
        "gun": (room_gun.GunSetUp, {"gun": "gun-1", "lot": f"lot-{word}"}),
        "flush": (room_gun.GunFlushed, {"gun": "gun-1"}),
        "order": (orders.OrderTaken, {"order": f"o-{word}",
                                      "lines": (orders.OrderLine(line="1"),)}),
        "allot": (orders.PieceAllotted, {"pieces": pieces, "order": f"o-{word}"}),
    }  # fmt: skip
    kind, fields = made[name]
    told: Fact = fact(kind, when, n, **fields)
    return told


def made_of(line: Line, n: int, told: Sequence[Fact]) -> Fact | None:
    """Make the fact of a line, or None when it is about an earlier one and there is none."""
    match line:
        case ("act", name, pieces, slot):
            return act(name, at(slot), n=n, pieces=pieces)
        case ("other", name, pieces, slot):
            return other(name, pieces, at(slot), n)
        case (kind, earlier, *rest) if told:
            return _about(kind, told[earlier % len(told)], n, *rest)
        case _:
            return None


def _about(kind: str, original: Fact, n: int, *rest: Any) -> Fact:
    if kind == "void":
        return voided(original, at(rest[0]), n=n)
    if kind == "settle":
        return fact(FindingSettled, at(rest[0]), n, about=original.id, code="any_code", how="wrong")
    changed: dict[str, Any] = {"occurred_at": on_day(at(rest[1]))}
    if "pieces" in original.__struct_fields__:
        changed["pieces"] = rest[0]
    if "room" in original.__struct_fields__:
        changed["room"] = f"room-{rest[0][0]}"
    return amended(original, at(rest[1]), n, **changed)


def play(story: Story, script: Sequence[Line]) -> list[Fact]:
    """Post line after line; return what was taken."""
    told: list[Fact] = []
    for n, line in enumerate((None, *script)):
        plain = [f for f in told if not isinstance(f, CORRECTIONS)]
        made = started("a", "b", at="1 08:00") if line is None else made_of(line, n, plain)
        if made is not None and story.when(made).refusal is None:
            told.append(made)
    return told


def on_their_own(facts: Sequence[Fact]) -> list[Fact]:
    """Give each fact a minute of its own, in the order they stand."""
    ordered = sorted(facts, key=lambda f: f.occurred_at)
    return [replace(f, occurred_at=on_day(f"1 {8 + i // 60:02}:{i % 60:02}"))
            for i, f in enumerate(ordered)]  # fmt: skip
