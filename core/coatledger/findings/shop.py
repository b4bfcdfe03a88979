"""Findings that stand open for the whole shop at a moment, whoever's fact it is.

Each looks back a bounded number of facts per product, gun, can or room of the shop.
"""

from collections.abc import Iterator

from coatledger.clocks.clocks import shop_clocks
from coatledger.computations.practice import STRIP_CLEAN_DAYS
from coatledger.events.about import FindingSettled
from coatledger.events.catalogue import subjects_of
from coatledger.events.coating import CoatApplied
from coatledger.events.finish import LotMixed, LotReceived
from coatledger.events.preparing import GrainFilled, Stained
from coatledger.events.setup import ProductDescribed
from coatledger.findings.find import standing_finding
from coatledger.findings.finding import COMMON, Finding, Seen
from coatledger.findings.place import HOUR_US, READING_HOLDS_H, Place, zone_of
from coatledger.findings.safety import oily
from coatledger.findings.table import RULES, WEIGHT
from coatledger.ledger.correct import Placed
from coatledger.ledger.record import micros, moment, recorded
from coatledger.subjects.parked import PARKED
from coatledger.subjects.piece import Piece
from coatledger.subjects.registry import word_of
from coatledger.subjects.view import View

PAGE = 500
LOTS_EACH = 8
SETTLED_EACH = 50
POT_LIFE_WARNING_US = HOUR_US
DRIES_WITHIN_US = 72 * HOUR_US
IN_USE_US = 14 * 24 * HOUR_US
ORDER_SHELVES = ("open", "done", "cancelled")
OILY_ACTS = ("coat_applied", "stained", "grain_filled")


def open_findings_of_shop(view: View, now_us: int, *, present: bool = True) -> tuple[Finding, ...]:
    """Return what stands open in the shop at a moment, most severe first; what was settled is over.

    For a moment of the past say `present=False`: then every piece and can is looked at as it was,
    which costs the history. *Valid:* rags are found through the cans of oily products; a stain said
    to be oil-based from no can is told at the act itself only.
    """
    found = (
        *_rags(view, now_us),
        *_void_films(view, now_us, present),
        *_pot_lives(view, now_us, present),
        *_strip_cleaning(view, now_us),
        *_unread_rooms(view, now_us),
        *_disputed(view, present),
    )
    ranked = sorted(found, key=lambda one: (WEIGHT[one.severity], one.at))
    return tuple(one for one in ranked if not _is_settled(view, one))


def _rags(view: View, now_us: int) -> Iterator[Finding]:
    """Oily work after the last rags were dealt with: open from the act on, critical overnight."""
    dealt = view.last("shop", ("rags_dealt_with",), 1)
    since_us = dealt[-1].at_us if dealt else -1
    last: Placed | None = None
    for act in _oily_acts(view):
        if act.at_us > since_us and (last is None or act.at_us > last.at_us):
            last = act
    if last is None:
        return
    what = oily(last.fact, Place(view, last.fact))  # type: ignore[arg-type]
    shop = view.shop()
    zone = zone_of("UTC" if shop is None else shop.zone)
    same_day = moment(last.at_us).astimezone(zone).date() == moment(now_us).astimezone(zone).date()
    after_h = (now_us - last.at_us) / HOUR_US
    says = f"{what}, {after_h:.0f} h ago; no rags_dealt_with since"
    finding = standing_finding(
        "rags_not_dealt_with", last.fact.id, last.at_us, "shop",
        (Seen(says=says, event=last.fact.id),), getattr(last.fact, "pieces", ()),
    )  # fmt: skip
    closed = not same_day or _closed(view, now_us)
    yield finding if closed else _milder(finding)


def _oily_acts(view: View) -> Iterator[Placed]:
    for subject in _words(view, "product"):
        sheet = view.product(subject)
        if sheet is None or not _is_oily(sheet):
            continue
        placed = view.last(f"product:{subject}", ("lot_received", "lot_mixed"), LOTS_EACH)
        for one in placed:
            if isinstance(one.fact, LotReceived | LotMixed):
                acts = view.last(f"lot:{one.fact.lot}", OILY_ACTS, 1)
                yield from (
                    a for a in acts if isinstance(a.fact, CoatApplied | Stained | GrainFilled)
                )


def _is_oily(sheet: ProductDescribed) -> bool:
    return sheet.kind == "oil_based" or "self_heating_rags" in sheet.cautions


def _closed(view: View, now_us: int) -> bool:
    """Say whether the shop's day is over; without described hours it is over at midnight."""
    shop = view.shop()
    if shop is None or not shop.hours:
        return False
    local = moment(now_us).astimezone(zone_of(shop.zone))
    day = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")[local.weekday()]
    closes = [hours.closes for hours in shop.hours if hours.day == day]
    return not closes or f"{local:%H:%M}" >= max(closes)


def _milder(finding: Finding) -> Finding:
    """While the shop is open the rags may still be in use: a caution until the day is over."""
    return Finding(
        code=finding.code, severity="caution", about=finding.about, at=finding.at,
        cause=finding.cause, seen=finding.seen, why=finding.why, what_to_do=finding.what_to_do,
        source=finding.source, pieces=finding.pieces,
    )  # fmt: skip


def _void_films(view: View, now_us: int, present: bool) -> Iterator[Finding]:
    stages = ("coated", "passed", "in_rework")
    words = _words(view, "piece", stages if present else None)
    here = (piece for piece in map(view.piece, words) if piece.stage in stages)
    drying = [piece for piece in here if _wet_lately(piece, now_us)]
    told: dict[object, list[str]] = {}
    says = {}
    for clock in shop_clocks(view, drying, now_us):
        for void in {face.void for face in clock.faces if face.void is not None}:
            told.setdefault(void.event, []).append(clock.piece)
            says[void.event] = void
    for event, void in says.items():
        yield standing_finding(
            "film_void", event, micros(void.since), f"piece:{told[event][0]}",
            (Seen(says=void.says, event=event),), tuple(told[event]),
        )  # fmt: skip


def _wet_lately(piece: Piece, now_us: int) -> bool:
    return bool(piece.coats) and now_us - piece.coats[-1].at_us < DRIES_WITHIN_US


def _pot_lives(view: View, now_us: int, present: bool) -> Iterator[Finding]:
    for lot in map(view.lot, _words(view, "lot", ("open",) if present else None)):
        ends_us = lot.pot_ends_us
        if ends_us is None or not lot.left_l or now_us < ends_us - POT_LIFE_WARNING_US:
            continue
        if now_us > ends_us + IN_USE_US:  # long set; stock tells of it
            continue
        mixed = view.last(f"lot:{lot.lot}", ("lot_mixed",), 1)
        if not mixed:
            continue
        minutes = (ends_us - now_us) / 60_000_000
        when = f"ends in {minutes:.0f} min" if minutes >= 0 else f"ended {-minutes:.0f} min ago"
        yield standing_finding(
            "pot_life_running_out", mixed[-1].fact.id, now_us, f"lot:{lot.lot}",
            (Seen(says=f"{lot.left_l:g} L of {lot.lot}: pot life {when}"),),
        )  # fmt: skip


def _strip_cleaning(view: View, now_us: int) -> Iterator[Finding]:
    rule = next(rule for rule in RULES if rule.code == "strip_clean_overdue")
    for word in _words(view, "gun"):
        used = view.last(f"gun:{word}", ("coat_applied", "gun_set_up"), 1)
        described = view.gun_described(word)
        since = view.gun(word).strip_cleaned or described
        if since is None or not used or now_us - used[-1].at_us > IN_USE_US:
            continue
        told = described.strip_clean_every_days if described else None
        days = STRIP_CLEAN_DAYS if told is None else told
        age_days = (now_us - micros(since.occurred_at)) / (24 * HOUR_US)
        if age_days > days:
            says = f"{word}: {age_days:.0f} days, every {days} days is wanted"
            yield Finding(
                code=rule.code, severity=rule.severity, about=used[-1].fact.id, at=moment(now_us),
                cause=f"gun:{word}", seen=(Seen(says=says, event=since.id),), why=rule.why,
                what_to_do=rule.what_to_do,
                source=COMMON if told is None else "the shop's own interval",
            )  # fmt: skip


def _unread_rooms(view: View, now_us: int) -> Iterator[Finding]:
    for word in _words(view, "room"):
        coated = view.last(f"room:{word}", ("coat_applied",), 1)
        if not coated or now_us - coated[-1].at_us > READING_HOLDS_H * HOUR_US:
            continue
        row = view.climate_before(word)
        if row is not None and now_us - row.at_us <= READING_HOLDS_H * HOUR_US:
            continue
        last = "never read"
        if row is not None:
            last = f"last read {(now_us - row.at_us) / HOUR_US:.0f} h ago"
        yield standing_finding(
            "air_not_read_today", coated[-1].fact.id, now_us, f"room:{word}",
            (Seen(says=f"the air of {word} was {last}", event=coated[-1].fact.id),),
        )  # fmt: skip


def _disputed(view: View, present: bool) -> Iterator[Finding]:
    """Facts about cans and orders that cannot have happened where they stand; a piece's own answer
    tells its own."""
    lots = map(view.lot, _words(view, "lot", ("closed", "open") if present else None))
    orders = map(view.order, _words(view, "order", ORDER_SHELVES if present else None))
    disputed = [(f"lot:{lot.lot}", event) for lot in lots for event in lot.disputed]
    disputed += [(f"order:{order.order}", event) for order in orders for event in order.disputed]
    rows = view.reader.by_id([event for _, event in disputed]) if disputed else {}
    for cause, event in disputed:
        if event in rows:
            says = f"{rows[event].type} cannot have happened to {word_of(cause)} there"
            yield standing_finding(
                "order_disputed", event, rows[event].occurred_us, cause,
                (Seen(says=says, event=event),),
            )  # fmt: skip


def _is_settled(view: View, finding: Finding) -> bool:
    """A settlement names the subjects of the fact it is about: any of them leads to it."""
    row = view.reader.by_id((finding.about,)).get(finding.about)
    subjects = () if row is None else subjects_of(recorded(row).event)
    placed = view.last(subjects[0], ("finding_settled",), SETTLED_EACH) if subjects else ()
    return any(
        isinstance(p.fact, FindingSettled)
        and (p.fact.about, p.fact.code) == (finding.about, finding.code)
        for p in placed
    )


def _words(view: View, kind: str, shelves: tuple[str, ...] | None = None) -> Iterator[str]:
    after = ""
    while page := view.reader.shelf(kind, shelves, after, PAGE):
        yield from (word_of(stored.subject) for stored in page if stored.shelf != PARKED)
        after = page[-1].subject
        if len(page) < PAGE:
            return
