"""A shop whose day is planned, and the plan played into its ledger as if everything went so."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, datetime
from typing import Any

from bench import Bench
from coatledger.answers.day_plan.answer import DayPlan, Finish, Line, Waiting
from coatledger.answers.day_plan.plan import day_plan
from coatledger.clocks.clocks import piece_clock
from coatledger.clocks.estimate import WAITS
from coatledger.events.about import RagsDealtWith
from coatledger.events.bare import PieceStarted
from coatledger.events.base import Fact
from coatledger.events.coating import CoatApplied
from coatledger.events.finish import LotMixed, LotOpened, LotStirred, LotStrained, Parent
from coatledger.events.judging import Inspected
from coatledger.events.leaving import Packed, Polished, RubbedOut, Shipped
from coatledger.events.orders import PieceAllotted
from coatledger.events.preparing import BlownOff, GrainFilled, GrainRaised, Sanded, Stained
from coatledger.events.room_gun import GunFlushed, GunSetUp
from coatledger.events.setup import ScheduleDescribed, Step
from coatledger.ledger.record import micros
from coatledger.ledger.store import Store
from coatledger.subjects.asked import ask
from msgspec.structs import replace

TWO_COATS = (
    Step(act="sand", minutes=10.0), Step(act="blow_off", minutes=1.0),
    Step(act="coat", product="clear-w", minutes=6.0), Step(act="scuff", minutes=5.0),
    Step(act="coat", product="clear-w", minutes=6.0), Step(act="inspect", minutes=2.0),
    Step(act="pack", minutes=5.0),
)  # fmt: skip


def shop(start: str = "1 07:00", store: Store | None = None, **described: Any) -> Bench:
    """Return a shop of two coats that opens on Monday 2 March 2026 from 7 to 17."""
    bench = Bench(start, store).open_shop(**described)
    bench.climate()
    bench.record(ScheduleDescribed, schedule="two", steps=TWO_COATS)
    return bench


def two(product: str) -> tuple[Step, ...]:
    """Return the same schedule with another product."""
    return tuple(replace(s, product=product) if s.act == "coat" else s for s in TWO_COATS)


def planned(bench: Bench, **more: Any) -> DayPlan:
    """Plan a shop's day at its own clock."""
    with bench.store.reading() as reader:
        place = ask(reader, bench.now, more.pop("as_of", None), more.pop("known_at", None))
        return day_plan(reader, place, **more)


def lines(plan: DayPlan, *acts: str) -> list[Line]:
    """Return the plan's lines, of some acts or all."""
    found = [line for day in plan.days for line in day.lines]
    return [line for line in found if not acts or line.act in acts]


def waiting(plan: DayPlan, because: str) -> list[Waiting]:
    """Return what waits because of something."""
    return [one for one in plan.waiting if one.because == because]


class Playing:
    """A plan played: each line is recorded as it was planned, and must be possible there."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.begun: set[str] = set()
        self.mixes: dict[str, str] = {}
        self.early: list[str] = []
        self.named: dict[str, int] = {}

    def play(self, plan: DayPlan) -> Playing:
        """Record every line in order of time."""
        for line in lines(plan):
            for fact in self._facts(line):
                self.bench.take(fact)
        return self

    def _facts(self, line: Line) -> Iterator[Fact]:
        pieces = tuple(self._pieces(line))
        if line.awaited or line.unnamed:
            new = tuple(piece for piece in pieces if piece not in self.begun)
            if new:
                self.begun.update(new)
                made = self.bench.fact(
                    PieceStarted, pieces=new, kind="top", species="ash", coat_area_m2=0.5,
                    use="decor", schedule="two",
                )  # fmt: skip
                yield replace(made, occurred_at=line.begins)
                if line.order:
                    yield self._fact(PieceAllotted, line.begins, pieces=new, order=line.order)
        self._look(line, pieces)
        if line.act != "set_up" and line.finish is not None:
            yield from self._prepared(line.finish, line)
        kind, fields = self._act(line)
        given = {**fields, **({"pieces": pieces} if pieces else {})}
        if line.act == "set_up":
            yield from self._prepared(line.finish or Finish(product=None), line)
        yield self._fact(kind, line.begins, ended_at=line.ends, **given)

    def _look(self, line: Line, pieces: tuple[str, ...]) -> None:
        """Note a film that is not even likely ready for an act at its beginning."""
        stage = WAITS.get(line.act)
        for word in pieces if stage else ():
            piece = self.bench.view().piece(word)
            if not piece.coats:
                continue
            clock = piece_clock(self.bench.view(), piece, micros(line.begins))
            times = [face.at(stage).likely for face in clock.faces]  # type: ignore[arg-type]
            late = [t for t in times if t is None or (t - line.begins).total_seconds() > 60]
            if late:
                self.early.append(f"{line.begins:%d %H:%M} {line.act} {word}: {late}")

    def _act(self, line: Line) -> tuple[type[Fact], Mapping[str, Any]]:
        lot = self._lot(line.finish)
        match line.act:
            case "sand" | "scuff":
                stage = "bare" if line.act == "sand" else "between_coats"
                return Sanded, {"stage": stage, "grit": line.grit}
            case "blow_off":
                return BlownOff, {"by": "vacuum"}
            case "coat":
                return CoatApplied, {
                    "lot": lot, "gun": line.gun, "room": line.room,
                    "wet_film_um": line.wet_film_um, "amount_l": _litres(line.finish),
                }  # fmt: skip
            case "stain":
                return Stained, {"lot": lot}
            case "fill_grain":
                return GrainFilled, {"lot": lot}
            case "inspect":
                return Inspected, {"point": "final", "passed": True}
            case "pack":
                return Packed, {"touching": "paper"}
            case "ship":
                return Shipped, {"order": line.order}
            case "set_up":
                return GunSetUp, {"gun": line.gun, "lot": lot}
            case "flush":
                return GunFlushed, {"gun": line.gun}
            case "rags":
                return RagsDealtWith, {"how": "closed_metal_can_with_water"}
            case "raise_grain":
                return GrainRaised, {}
            case "rub_out":
                return RubbedOut, {}
            case "polish":
                return Polished, {}

    def _prepared(self, finish: Finish, line: Line) -> Iterator[Fact]:
        if finish.mix:
            word = f"mix-{line.begins:%d%H%M%S}"
            if word not in self.mixes.values():
                self.mixes[finish.product or ""] = word
                parents = tuple(
                    Parent(lot=part.can, amount_l=round(part.litres, 3), part=part.part)  # type: ignore[arg-type]
                    for part in finish.mix
                )
                yield self._fact(
                    LotMixed, line.begins, lot=word, product=finish.product, parents=parents
                )
        if finish.can and finish.open_first:
            yield self._fact(LotOpened, line.begins, lot=finish.can)
        if finish.can and finish.stir_first:
            yield self._fact(LotStirred, line.begins, lot=finish.can)
        if finish.can and finish.strain_um:
            yield self._fact(LotStrained, line.begins, lot=finish.can, mesh_um=finish.strain_um)

    def _lot(self, finish: Finish | None) -> str | None:
        if finish is None:
            return None
        return finish.can or self.mixes.get(finish.product or "", "no-name")

    def _pieces(self, line: Line) -> Iterator[str]:
        yield from line.pieces
        for n in range(line.unnamed):
            yield f"{line.order}-{n + 1}"

    def _fact(self, kind: type[Fact], at: datetime, **fields: Any) -> Fact:
        fact = self.bench.fact(kind, **{k: v for k, v in fields.items() if v is not None})
        return replace(fact, occurred_at=at)


def _litres(finish: Finish | None) -> float | None:
    if finish is None or finish.needed_l is None:
        return None
    return max(round(finish.needed_l.likely, 3), 0.001)


def day(number: int) -> date:
    """Return a day of March 2026 by the bench's counting: day 1 is the 2nd."""
    return date(2026, 3, 1 + number)
