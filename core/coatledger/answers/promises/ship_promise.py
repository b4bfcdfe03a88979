"""When it would leave, as strangers may know it: by SKU, for one who orders before the cut-off.

Nothing of the shop is told but days: no work, no cause, no chance, no count. The day is that of an
order which comes at the last moment before `order_before`, so it is true for all who come sooner.
"""

from collections.abc import Mapping, Sequence
from datetime import date, datetime, time, timedelta

from msgspec import Struct
from msgspec.structs import replace

from coatledger.answers.promises.ahead import World
from coatledger.answers.promises.for_buyers import Basis, Status, text_of
from coatledger.answers.promises.markup import OfferShippingDetails, markup_of
from coatledger.answers.promises.order_before import end_of_day, last_for_pick_up, stated_day
from coatledger.answers.promises.quote import Quote, quote
from coatledger.answers.promises.shelved import made_of
from coatledger.computations.calendar import NeverOpen, elapsed_minutes, local_date, wall_moment
from coatledger.events.orders import OrderLine
from coatledger.events.setup import ShopDescribed
from coatledger.ledger.record import moment
from coatledger.ledger.store import Reader
from coatledger.open_shop.asked_for import sold_as, wanted_of
from coatledger.open_shop.shelf import made_as, on_shelf
from coatledger.subjects.asked import Asked
from coatledger.subjects.working import Working, working

_WORST: tuple[Status, ...] = ("ask_us", "paused", "made_to_order", "on_shelf")
_NOBODY = World()


class Leaves(Struct, frozen=True, kw_only=True):
    """When something leaves, and on what that rests."""

    status: Status
    basis: Basis = "none"
    ships_by: date | None = None
    likely: date | None = None
    order_before: datetime | None = None


class ShipLine(Struct, frozen=True, kw_only=True):
    """One line: what was asked for, and when it leaves. Lines that ship together have one day."""

    sku: str
    quantity: int
    options: Mapping[str, str]
    status: Status
    basis: Basis
    ships_by: date | None
    likely: date | None
    order_before: datetime | None
    text: str
    json_ld: OfferShippingDetails | None


class ShipPromise(Struct, frozen=True, kw_only=True):
    """When all of it has left. `ships_by` is the day at the shop's own level (`level_pct`),
    `likely` that of an even chance; both are true for an order before `order_before`, and may be
    shown until `valid_until`. `basis` is `stated` where the shop's stated lead stands in for a
    computed day. `text` is for buyers, `json_ld` for search engines."""

    position: int
    status: Status
    basis: Basis
    level_pct: float | None
    ships_by: date | None
    likely: date | None
    order_before: datetime | None
    valid_until: datetime
    text: str
    json_ld: OfferShippingDetails | None
    lines: tuple[ShipLine, ...]


class Front(Struct, frozen=True, kw_only=True):
    """What a shop's days are told from. `lead_days` is the stated lead, where there is one."""

    now: datetime
    position: int
    described: ShopDescribed | None = None
    calendar: Working | None = None
    lead_days: int | None = None

    @property
    def zone(self) -> str:
        """The shop's zone."""
        return "UTC" if self.described is None else self.described.zone


def front_of(
    reader: Reader, asked: Asked, world: World = _NOBODY, lead_days: int | None = None
) -> Front:
    """Read what days are told from; the lead that the shop described goes before `lead_days`."""
    view, now = asked.view(reader), moment(asked.now_us)
    described, position = view.shop(), asked.position(reader)
    if described is None:
        return Front(now=now, position=position, lead_days=lead_days)
    calendar = working(described, view.shop_state(), world.holidays)
    stated = described.fallback_lead_days
    return Front(
        now=now, position=position, described=described, calendar=calendar,
        lead_days=lead_days if stated is None else stated,
    )  # fmt: skip


def ship_promise(
    reader: Reader, asked: Asked, lines: Sequence[OrderLine], *, together: bool = True,
    world: World = _NOBODY, lead_days: int | None = None, engine: bool = True,
) -> ShipPromise:  # fmt: skip
    """Say when lines that were checked leave; without the `engine` by the stated lead.

    *Reference:* `promises.quote`, `shelf.on_shelf`, `order_before`. *Valid:* lines that name a SKU.
    """
    front = front_of(reader, asked, world, lead_days)
    sold = [sold_as(asked.view(reader), line.sku or "") for line in lines]
    paused = [one is not None and one.paused for one in sold]
    free = dict(on_shelf(reader, asked, world.holds, made_of(lines).values()))
    leaves: list[Leaves | None] = []
    for line, stops in zip(lines, paused, strict=True):
        made = made_as(line.sku or "", line.options)
        if stops or (together and any(paused)):
            leaves.append(Leaves(status="paused"))
        elif free.get(made, 0) >= line.quantity and (shelved := _off_the_shelf(front)):
            free[made] -= line.quantity
            leaves.append(shelved)
        else:
            leaves.append(None)
    to_make = [line for line, day in zip(lines, leaves, strict=True) if day is None]
    days = iter(_made(reader, asked, front, to_make, together, world, engine=engine))
    found = [next(days) if day is None else day for day in leaves]
    return told(front, lines, [_joint(found)] * len(found) if together else found, found)


def told(
    front: Front, lines: Sequence[OrderLine], days: Sequence[Leaves], each: Sequence[Leaves]
) -> ShipPromise:
    """Tell the days of lines; `each` says of each line by itself whether it is on the shelf."""
    whole = _joint(days)
    level = None if front.described is None or whole.basis != "computed" else (
        front.described.service_level_pct
    )  # fmt: skip
    ends = wall_moment(local_date(front.now, front.zone) + timedelta(days=1), time(0), front.zone)
    before = [day.order_before for day in days if day.order_before is not None]
    return ShipPromise(
        position=front.position, status=whole.status, basis=whole.basis, level_pct=level,
        ships_by=whole.ships_by, likely=whole.likely, order_before=whole.order_before,
        valid_until=min((ends, *before)), text=_text(front, whole), json_ld=_markup(front, whole),
        lines=tuple(
            _line(front, line, replace(day, status=own.status))
            for line, day, own in zip(lines, days, each, strict=True)
        ),
    )  # fmt: skip


def joined(answers: Sequence[ShipPromise]) -> ShipPromise:
    """Tell of several questions in one answer: each line is as if it were asked for alone."""
    first = answers[0]
    if len(answers) == 1:
        return first
    days = [
        Leaves(status=one.status, basis=one.basis, ships_by=one.ships_by, likely=one.likely,
               order_before=one.order_before)
        for one in answers
    ]  # fmt: skip
    whole = _joint(days)
    return replace(
        first, position=min(one.position for one in answers), status=whole.status,
        basis=whole.basis, ships_by=whole.ships_by, likely=whole.likely,
        level_pct=first.level_pct if whole.basis == "computed" else None,
        order_before=whole.order_before, valid_until=min(one.valid_until for one in answers),
        text=next((one.text for one in answers if one.ships_by == whole.ships_by), first.text),
        json_ld=None, lines=tuple(line for one in answers for line in one.lines),
    )  # fmt: skip


def _joint(days: Sequence[Leaves]) -> Leaves:
    """When the last of several has left; where one has no day, the whole has none."""
    status = min((day.status for day in days), key=_WORST.index)
    ships = [day.ships_by for day in days if day.ships_by is not None]
    before = [day.order_before for day in days if day.order_before is not None]
    if len(ships) < len(days):
        return Leaves(status=status)
    likely = [day.likely for day in days if day.likely is not None]
    stated = any(day.basis == "stated" for day in days)
    return Leaves(
        status=status, basis="stated" if stated else "computed", ships_by=max(ships),
        likely=max(likely) if len(likely) == len(days) else None,
        order_before=min(before) if len(before) == len(days) else None,
    )  # fmt: skip


def _off_the_shelf(front: Front) -> Leaves | None:
    if front.calendar is None:
        return None
    try:
        before = last_for_pick_up(front.calendar, front.now)
    except NeverOpen:
        return None
    day = local_date(before, front.zone)
    return Leaves(
        status="on_shelf", basis="computed", ships_by=day, likely=day, order_before=before
    )


def _made(
    reader: Reader, asked: Asked, front: Front, lines: Sequence[OrderLine], together: bool,
    world: World, *, engine: bool,
) -> Sequence[Leaves]:  # fmt: skip
    if not lines:
        return ()
    before = _closing(front)
    if before is None:
        return [_stated(front, "ask_us")] * len(lines)
    if not engine:
        return [_stated(front, "made_to_order")] * len(lines)
    found = quote(
        reader, asked, [wanted_of(line) for line in lines], lines=[line.line for line in lines],
        together=together, world=world, ways=(), shelf=False,
        begins_in_min=max(elapsed_minutes(front.now, before), 0.0),
    )  # fmt: skip
    if found.missing:
        return [_stated(front, "ask_us")] * len(lines)
    return _computed(found, before, len(lines))


def _closing(front: Front) -> datetime | None:
    try:
        return None if front.calendar is None else end_of_day(front.calendar, front.now)
    except NeverOpen:
        return None


def _computed(found: Quote, before: datetime, count: int) -> Sequence[Leaves]:
    days = [(one.ships_by, one.quantiles[0].ships_by) for one in found.lines]
    if not days:
        assert found.ships_by is not None
        days = [(found.ships_by, found.quantiles[0].ships_by)] * count
    return [
        Leaves(status="made_to_order", basis="computed", ships_by=ships_by,
               likely=min(likely, ships_by), order_before=before)
        for ships_by, likely in days
    ]  # fmt: skip


def _stated(front: Front, status: Status) -> Leaves:
    if front.calendar is None or front.lead_days is None:
        return Leaves(status="ask_us")
    try:
        day = stated_day(front.calendar, front.now, front.lead_days)
    except NeverOpen:
        return Leaves(status="ask_us")
    return Leaves(status=status, basis="stated", ships_by=day)


def _line(front: Front, line: OrderLine, day: Leaves) -> ShipLine:
    return ShipLine(
        sku=line.sku or "", quantity=line.quantity, options=line.options, status=day.status,
        basis=day.basis, ships_by=day.ships_by, likely=day.likely, order_before=day.order_before,
        text=_text(front, day), json_ld=_markup(front, day),
    )  # fmt: skip


def _text(front: Front, day: Leaves) -> str:
    return text_of(day.status, day.basis, day.ships_by, day.order_before, front.zone)


def _markup(front: Front, day: Leaves) -> OfferShippingDetails | None:
    if day.ships_by is None or day.order_before is None or front.calendar is None:
        return None
    return markup_of(front.calendar, day.order_before, day.likely or day.ships_by, day.ships_by)
