"""When would it ship? A quote simulates the whole open shop with what is asked for in it.

It stores nothing. The same question at the same place, with the same seed, engine and holds, has
the same answer.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from coatledger.answers.promises.ahead import (
    LEVELS_PCT,
    REPLICATIONS,
    Ahead,
    Days,
    Quantile,
    World,
    ahead,
    chance_by,
    of_orders,
    quantiles_of,
    run,
)
from coatledger.answers.promises.correction import Correction, correction_of
from coatledger.answers.promises.place import Asking, place, stand_behind
from coatledger.answers.promises.shelved import NOTHING, Shelved, shelved
from coatledger.answers.promises.ways import WAYS, Way, ways_of
from coatledger.computations.simulate.forward import ENGINE, Simulated, Spent, quantile_day
from coatledger.ledger.store import Reader
from coatledger.open_shop.asked_for import Wanted, lacking
from coatledger.subjects.asked import Asked, iso

REPLICATIONS_FOR_WAYS = 200
# The least level that is a level: a shop that sets 0 still gets a day.
LEVEL_LEAST = 1e-9


class Takes(Struct, frozen=True, kw_only=True):
    """Where the days go on average, for the batch that is last: elapsed time, nights and all."""

    queue_days: float
    hands_on_days: float
    drying_days: float
    cure_days: float
    rework_days: float
    pick_up_days: float


class Earlier(Struct, frozen=True, kw_only=True):
    """What would make it earlier, and the day at the same level then."""

    way: str
    says: str
    ships_by: date


class LineQuote(Struct, frozen=True, kw_only=True):
    """When one line would ship by itself."""

    line: str
    ships_by: date
    chance: float
    quantiles: tuple[Quantile, ...]


class Quote(Struct, frozen=True, kw_only=True):
    """When something would ship. `missing` names why there is no date; then nothing else is told.

    `chance` is the share of replications that ship by `ships_by`, which is often more than the
    level: things leave on pick-up days only. `wanted_chance` is that of the day wished for. Of
    lines that ship each alone, `lines` has the days, and the rest speaks of the last of them.
    `on_shelf` names the lines that stand finished: they are not made, and leave at a pick-up.
    `from_shelf` says of how many pieces of a line that is so; the rest of it is made.
    """

    position: int
    as_of: datetime | None
    engine: str = ENGINE
    seed: int = 0
    replications: int = 0
    level_pct: float = 0.0
    ships_by: date | None = None
    chance: float = 0.0
    wanted_by: date | None = None
    wanted_chance: float | None = None
    quantiles: tuple[Quantile, ...] = ()
    correction: Correction | None = None
    lines: tuple[LineQuote, ...] = ()
    takes: Takes | None = None
    earlier: tuple[Earlier, ...] = ()
    assumed: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    on_shelf: tuple[str, ...] = ()
    from_shelf: Mapping[str, int] = {}


_NOBODY = World()


def quote(
    reader: Reader, asked: Asked, wanted: Sequence[Wanted], *, lines: Sequence[str] = (),
    together: bool = True, seed: int = 1, replications: int = REPLICATIONS,
    wanted_by: date | None = None, world: World = _NOBODY, ways: Iterable[str] = WAYS,
    begins_in_min: float = 0.0, shelf: bool = True,
) -> Quote:  # fmt: skip
    """Quote several lines that ship together, or each alone; `lines` gives their words.

    With `begins_in_min` it is the day of an order that comes so many minutes from now. What stands
    on the `shelf` is not made; `on_shelf` and `from_shelf` of the answer name it.

    *Reference:* `computations.simulate`; where it stands among the others: `place`. *Valid:* a shop
    with hours, people and pick-up days, and offerings, schedules and products that are described;
    else `missing` names what is not.
    """
    told = Quote(position=asked.position(reader), as_of=iso(asked.now_us))
    found = ahead(reader, asked, world)
    if found is None:
        return replace(told, missing=("shop_described",))
    lacks = [*found.lacks, *(() if wanted else ("what is asked for",))]
    lacks += [text for one in wanted for text in lacking(found.facts, one)]
    if lacks:
        return replace(told, missing=tuple(dict.fromkeys(lacks)))
    described = found.facts.described
    level = max(described.service_level_pct / 100.0, LEVEL_LEAST)
    words = lines or tuple(str(n) for n in range(1, len(wanted) + 1))
    there = shelved(reader, asked, world, wanted) if shelf else NOTHING
    rest = there.rest(words, wanted)
    told = replace(
        told, seed=seed, replications=replications, level_pct=described.service_level_pct,
        wanted_by=wanted_by, wanted_chance=None if wanted_by is None else 1.0,
        on_shelf=tuple(word for word in words if word not in rest),
        from_shelf={words[turn]: count for turn, count in there.taken.items()},
    )  # fmt: skip
    if not rest:
        return _with_shelf(told, there, words, together)
    asking = Asking(
        wanted=tuple(rest.values()), together=together, wanted_by=wanted_by, seed=seed,
        replications=replications, level=level, begins_in_min=begins_in_min,
    )  # fmt: skip
    placed = place(found, asking)
    if not isinstance(placed, Simulated):
        return replace(told, missing=placed)
    made = replace(
        _told(told, placed, asking, tuple(rest)),
        correction=_correction(found, placed, asking),
        earlier=_earlier(found, asking, tuple(ways)), assumed=tuple(found.facts.assumed),
    )  # fmt: skip
    return _with_shelf(made, there, words, together)


def _with_shelf(told: Quote, there: Shelved, words: Sequence[str], together: bool) -> Quote:
    """Put what leaves off the shelf beside what is made: nothing leaves before the pick-up."""
    if not there.taken:
        return told
    day, surely = (
        there.day,
        tuple(Quantile(level_pct=pct, ships_by=there.day, chance=1.0) for pct in LEVELS_PCT),
    )
    made = {one.line: one for one in told.lines}
    lines = (
        _not_before(made[word], day) if word in made
        else LineQuote(line=word, ships_by=day, chance=1.0, quantiles=surely)
        for word in words
    )  # fmt: skip
    late = told.wanted_by is not None and told.wanted_by < day
    return replace(
        told,
        ships_by=day if told.ships_by is None else max(told.ships_by, day),
        chance=1.0 if told.ships_by is None else told.chance,
        wanted_chance=0.0 if late else told.wanted_chance,
        quantiles=tuple(
            replace(one, ships_by=max(one.ships_by, day)) for one in told.quantiles
        ) or surely,
        lines=() if together else tuple(lines),
    )  # fmt: skip


def _not_before(made: LineQuote, day: date) -> LineQuote:
    """A line part of which leaves off the shelf is not gone before that has left."""
    days = tuple(replace(one, ships_by=max(one.ships_by, day)) for one in made.quantiles)
    return replace(made, ships_by=max(made.ships_by, day), quantiles=days)


def _told(told: Quote, found: Simulated, asking: Asking, words: Sequence[str]) -> Quote:
    keys = dict(zip(asking.keys, words, strict=False))
    ships = of_orders(found, keys)
    assert ships is not None, "what is asked for is in the shop that was simulated"
    ships_by, wish = quantile_day(ships, asking.level), asking.wanted_by
    alone = {} if asking.together else keys
    return replace(
        told,
        ships_by=ships_by,
        chance=chance_by(ships, ships_by),
        wanted_by=wish,
        wanted_chance=None if wish is None else chance_by(ships, wish),
        quantiles=quantiles_of(ships),
        lines=tuple(
            line_quote(word, found.ships_on[found.row(key)], asking.level)
            for key, word in alone.items()
        ),
        takes=_takes(_last(found, keys)),
    )


def _correction(found: Ahead, placed: Simulated, asking: Asking) -> Correction | None:
    ships = of_orders(placed, asking.keys)
    assert ships is not None
    return correction_of(ships, asking.level, found.shop.said)


def line_quote(word: str, ships: Days, level: float) -> LineQuote:
    """Say when a line ships, by the days of its replications."""
    ships_by = quantile_day(ships, level)
    return LineQuote(
        line=word, ships_by=ships_by, chance=chance_by(ships, ships_by),
        quantiles=quantiles_of(ships),
    )  # fmt: skip


def _last(found: Simulated, keys: Mapping[str, str]) -> Spent:
    """Return where the time goes of whichever is ready last on average."""
    means = {key: float(np.mean(found.ready_min[found.row(key)])) for key in keys}
    return dict(found.spent)[max(means, key=lambda key: means[key])]


def _takes(spent: Spent) -> Takes:
    def days(minutes: float) -> float:
        return round(minutes / 1_440.0, 3)

    return Takes(
        queue_days=days(spent.queue_min), hands_on_days=days(spent.hands_on_min),
        drying_days=days(spent.drying_min), cure_days=days(spent.cure_min),
        rework_days=days(spent.again_min), pick_up_days=days(spent.pick_up_min),
    )  # fmt: skip


def _earlier(found: Ahead, asking: Asking, ways: tuple[str, ...]) -> tuple[Earlier, ...]:
    """Try each way with the same luck, and tell those that bring the day forward."""
    if not ways:
        return ()
    asked_for = stand_behind(found, asking)

    def day(one: Way) -> date:
        whole = replace(one.shop, batches=(*one.shop.batches, *one.asked_for))
        otherwise = run(whole, asking.seed, REPLICATIONS_FOR_WAYS)
        assert isinstance(otherwise, Simulated), f"{one.way} makes impossible what was possible"
        ships = of_orders(otherwise, asking.keys)
        assert ships is not None
        return quantile_day(ships, asking.level)

    as_it_is = day(Way("as it is", "", found.shop, asked_for))
    tried = ways_of(found.facts, found.shop, asked_for, asking.wanted, ways)
    days = ((one, day(one)) for one in tried)
    return tuple(
        Earlier(way=one.way, says=one.says, ships_by=at) for one, at in days if at < as_it_is
    )
