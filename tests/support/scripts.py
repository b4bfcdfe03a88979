"""Random stretches of a shop's life: acts in any order, late, impossible, corrected, settled.

A script is drawn; playing it posts line after line and leaves out what is refused.
"""

from collections.abc import Sequence
from random import Random
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

# What a script is made of, and how often. The way through the shop is walked more than its edges.
_ACTS = [name for name in ACTS if name != "finding_settled"]
_WAY = ["coat_applied", "sanded", "passed_final", "rework_started", "rework_finished", "packed",
        "unpacked", "shipped", "returned", "held"]  # fmt: skip
_OTHER = ["climate", "lot", "measured", "mixed", "gun", "flush", "order", "allot"]
_KINDS, _WEIGHTS = ["way", "act", "other", "void", "amend", "settle"], [40, 15, 20, 6, 14, 5]


def script(seed: int, length: int, about: bool = True) -> list[Line]:
    """Write a script: time goes on, but a third of the lines are told late."""
    rng = Random(seed)
    lines: list[Line] = []
    for i in range(length):
        late = rng.choice((0, 0, 0, 0, 1, 2, 5))
        slot = max(0, min(SLOTS - 1, SLOTS * i // length - late))
        some = tuple(rng.sample(PIECES, rng.choice((1, 1, 1, 2, 3))))
        kind = rng.choices(_KINDS[: None if about else 3], _WEIGHTS[: None if about else 3])[0]
        if kind in ("way", "act"):
            lines.append(
                (
                    "act",
                    "piece_started" if i == 3 else rng.choice(_WAY if kind == "way" else _ACTS),
                    some,
                    slot,
                )
            )
        elif kind == "other":
            lines.append(("other", rng.choice(_OTHER), some, slot))
        else:
            lines.append((kind, rng.randrange(12), some, slot))
    return lines


_SEEDS, _LENGTHS = st.integers(0, 2**32), st.sampled_from((6, 20, 40, 60))
SCRIPTS: st.SearchStrategy[list[Line]] = st.builds(script, _SEEDS, _LENGTHS)
FACTS_ONLY: st.SearchStrategy[list[Line]] = st.builds(
    script, _SEEDS, st.sampled_from((6, 15, 25)), st.just(False)
)


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
        case (kind, earlier, pieces, slot) if told:
            return _about(kind, told[-1 - earlier % len(told)], n, pieces, at(slot))
        case _:
            return None


def _about(kind: str, original: Fact, n: int, pieces: tuple[str, ...], when: str) -> Fact:
    if kind == "void":
        return voided(original, when, n=n)
    if kind == "settle":
        return fact(FindingSettled, when, n, about=original.id, code="any_code", how="wrong")
    # Half of all amendments leave the time alone.
    changed: dict[str, Any] = {"occurred_at": on_day(when)} if n % 2 else {}
    if "pieces" in original.__struct_fields__:
        changed["pieces"] = pieces
    if "room" in original.__struct_fields__:
        changed["room"] = f"room-{pieces[0]}"
    return amended(original, when, n, **changed)


def play(story: Story, script: Sequence[Line]) -> list[Fact]:
    """Post line after line; return what was taken."""
    told: list[Fact] = [*(started(word, at="1 08:00") for word in PIECES[:2])]
    for birth in told:
        story.when(birth).accepted()
    for n, line in enumerate(script):
        # A birth is corrected now and then; were it each time, nobody's life would be long.
        plain = [
            f for f in told if not isinstance(f, CORRECTIONS) and (f not in told[:2] or n % 7 == 0)
        ]
        made = made_of(line, n, plain)
        if made is not None and story.when(made).refusal is None:
            told.append(made)
    return told


def on_their_own(facts: Sequence[Fact]) -> list[Fact]:
    """Give each fact a minute of its own, in the order they stand."""
    ordered = sorted(facts, key=lambda f: f.occurred_at)
    return [replace(f, occurred_at=on_day(f"1 {8 + i // 60:02}:{i % 60:02}"))
            for i, f in enumerate(ordered)]  # fmt: skip
