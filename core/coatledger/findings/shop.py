"""Findings that stand open for the whole shop at a moment, whoever's fact it is.

Each looks back a bounded number of facts per product, gun, can or room of the shop.
"""

from collections.abc import Iterator

from coatledger.clocks.clocks import shop_clocks
from coatledger.computations.practice import STRIP_CLEAN_DAYS
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
from coatledger.ledger.record import micros, moment
from coatledger.subjects.piece import Piece
from coatledger.subjects.registry import state_of, word_of
from coatledger.subjects.view import View

PAGE = 500
LOTS_EACH = 8
POT_LIFE_WARNING_US = HOUR_US
DRIES_WITHIN_US = 72 * HOUR_US
IN_USE_US = 14 * 24 * HOUR_US
OILY_ACTS = ("coat_applied", "stained", "grain_filled")


def open_findings_of_shop(view: View, now_us: int) -> tuple[Finding, ...]:
    """Return what stands open in the shop at a moment, most severe first.

    *Valid:* rags are found through the cans of oily products; a stain said to be oil-based from no
    can is told at the act itself only.
    """
    found = (
        *_rags(view, now_us),
        *_void_films(view, now_us),
        *_pot_lives(view, now_us),
        *_strip_cleaning(view, now_us),
        *_unread_rooms(view, now_us),
    )
    return tuple(sorted(found, key=lambda one: (WEIGHT[one.severity], one.at)))


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


def _void_films(view: View, now_us: int) -> Iterator[Finding]:
    stages = ("coated", "passed", "in_rework")
    drying = [p for p in _pieces(view, stages) if _wet_lately(p, now_us)]
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


def _pot_lives(view: View, now_us: int) -> Iterator[Finding]:
    for stored in view.reader.shelf("lot", ("open",), "", PAGE):
        lot = state_of("lot", stored.state)
        ends_us = lot.pot_ends_us
        if ends_us is None or not lot.left_l or now_us < ends_us - POT_LIFE_WARNING_US:
            continue
        if now_us > ends_us + IN_USE_US:  # long set; stock tells of it
            continue
        mixed = view.last(stored.subject, ("lot_mixed",), 1)
        if not mixed:
            continue
        minutes = (ends_us - now_us) / 60_000_000
        when = f"ends in {minutes:.0f} min" if minutes >= 0 else f"ended {-minutes:.0f} min ago"
        yield standing_finding(
            "pot_life_running_out", mixed[-1].fact.id, now_us, stored.subject,
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


def _words(view: View, kind: str) -> tuple[str, ...]:
    return tuple(word_of(s.subject) for s in view.reader.shelf(kind, None, "", PAGE))


def _pieces(view: View, stages: tuple[str, ...]) -> Iterator[Piece]:
    """Yield the pieces on some stages now; their state is taken as of the view."""
    after = ""
    while page := view.reader.shelf("piece", stages, after, PAGE):
        for stored in page:
            yield view.piece(word_of(stored.subject))
        after = page[-1].subject
        if len(page) < PAGE:
            return
