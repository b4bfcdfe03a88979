"""A proof pack as a page to read and to print: one file, no scripts, nothing from elsewhere."""

from collections.abc import Iterable, Sequence
from html import escape
from typing import Any

import msgspec
from coatledger.answers.proof import Stated, shown
from coatledger.events.catalogue import original_of
from coatledger.ledger.pack import Pack
from coatledger.ledger.pack_check import Verdict
from coatledger.subjects.dossier import Evidence, Told, ToldAmendment, ToldFact
from coatledger.subjects.dossier_film import AirRead, air_of

from coatledger_api.pages import table
from coatledger_api.paper.proof_drawing import drawing
from coatledger_api.paper.proof_words import SHEET, UNITS, event, field, measured, plain, span, when

LEFT_OUT = (
    "type", "id", "occurred_at", "ended_at", "note", "source", "actor", "readings", "replacement",
)  # fmt: skip
LATE_S = 900
DRAWN = (
    "<p class=quiet>Times are UTC. Each layer begins when it was put on; its dry film follows from "
    "the wet film and the solids of the data sheet in force.</p>"
)


def proof_page(pack: Pack, verdict: Verdict | None = None) -> bytes:
    """Write the page. Without a verdict it says that nothing was checked yet."""
    told = msgspec.json.decode(pack.told, type=Told)
    stated = msgspec.json.decode(pack.stated, type=Stated)
    evidence = Evidence(shown(pack))
    air = air_by_room(evidence)
    film = drawing(told, air)
    parts = [
        _head(pack, told, verdict),
        _section("The film", _slid(film) + DRAWN if film else "<p>No film was put on it.</p>"),
        "<h2>What was done</h2>" + _facts(told, evidence),
        _section("Corrections, side by side", _amendments(told.amendments)),
        "<h2>What it rests on</h2>" + _rests_on(told),
        _section("How it looked", _sights(told)),
        _section("Beside it", _sisters(stated)),
        _section("Findings", _findings(stated, told)),
        _section("What is proven, and what is only stated", _words(verdict)),
        _foot(pack),
    ]
    body = "\n".join(parts)
    title = escape(f"{pack.piece}: proof")
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{title}</title>\n<style>{SHEET}</style>\n</head>\n<body>\n<main>\n{body}\n"
        "</main>\n</body>\n</html>\n"
    ).encode()


def _slid(film: str) -> str:
    """Let a drawing that is too wide for a phone be slid along, by hand or by key."""
    return f'<div class="slid" tabindex="0" role="region" aria-label="The film, drawn">{film}</div>'


def _head(pack: Pack, told: Told, verdict: Verdict | None) -> str:
    said = f"{len(pack.leaves)} events of the ledger of {escape(pack.shop)} stand behind this page."
    mark = (
        f"<p class=open><b>Not checked here.</b> {said} Run <code>coatledger verify</code> on the "
        "file this page was made of.</p>"
    )
    if verdict is not None and verdict.holds:
        mark = f"<p class=holds><b>Checked: it holds.</b> {said}</p>"
    elif verdict is not None:
        faults = "; ".join(escape(str(fault)) for fault in verdict.faults[:3])
        mark = f"<p class=open><b>It does not hold.</b> {faults}</p>"
    is_a = escape(told.is_a or "never started")
    return (
        f"<p class=over>{escape(pack.shop)} · what was done to one piece</p>"
        f"<h1>{escape(pack.piece)}</h1><p class=lead>{is_a}</p>{mark}"
    )


def _section(heading: str, body: str) -> str:
    return f"<h2>{escape(heading)}</h2>{body}" if body else ""


def air_by_room(evidence: Evidence) -> list[tuple[str, Sequence[AirRead]]]:
    """Return what was read of the air of each room."""
    rooms = sorted({s for row in evidence.events for s in row.previous if s.startswith("room:")})
    found = [(room.partition(":")[2], air_of(evidence.facts(room))) for room in rooms]
    return [(room, reads) for room, reads in found if reads]


def _facts(told: Told, evidence: Evidence) -> str:
    rows = "".join(
        f"<tr{' class=gone' if fact.standing in ('voided', 'elsewhere') else ''}>"
        f"<td>{fact.position}</td><td>{when(fact.occurred_at)}</td><td>{plain(fact.type)}</td>"
        f"<td>{_how(fact, evidence)}</td><td class=as>{_stands(fact)}</td></tr>"
        for fact in sorted(told.facts, key=lambda one: (one.occurred_at, one.position))
    )
    heads = "".join(f'<th scope="col">{h}</th>' for h in ("event", "when", "what", "how", "stands"))
    return f"<table><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table>"


def _how(fact: ToldFact, evidence: Evidence) -> str:
    row = evidence.find(fact.event)
    if row is None:
        return ""
    body = msgspec.to_builtins(row.event)
    original = original_of(row.event)
    words = [field(name, value) for name, value in body.items() if name not in LEFT_OUT]
    if original is not None:
        found = evidence.find(original)
        about = event(None if found is None else found.position)
        words = [about, *(word for word in words if str(original) not in word)]
    return "; ".join(word for word in words if word)


def _stands(fact: ToldFact) -> str:
    says = "" if fact.standing == "stands" else plain(fact.standing)
    if fact.lag_s <= LATE_S:
        return says
    late = f"<span class=late>told {span(fact.lag_s)} later</span>"
    return f"{says}, {late}" if says else late


def _amendments(amendments: Iterable[ToldAmendment]) -> str:
    rows = []
    for one in amendments:
        before: dict[str, Any] = msgspec.json.decode(one.before) or {}
        after: dict[str, Any] = msgspec.json.decode(one.after) or {}
        names = [n for n in (*before, *(n for n in after if n not in before)) if n not in LEFT_OUT]
        changed = [n for n in names if before.get(n) != after.get(n)] if after else names
        old = "<br>".join(f"<del>{field(n, before[n])}</del>" for n in changed if n in before)
        new = "<br>".join(f"<ins>{field(n, after[n])}</ins>" for n in changed if n in after)
        known = [
            f"{what} in event {at} was known"
            for what, at in (("a defect", one.after_defect), ("a claim", one.after_claim))
            if at is not None
        ]
        rows.append((
            str(one.position), when(one.recorded_at), plain(one.reason), old or "-",
            new if after else "<ins>never happened</ins>", "; ".join(known) or "before any defect",
        ))  # fmt: skip
    return table(("event", "told", "because", "before", "after", "by then"), rows)


def _rests_on(told: Told) -> str:
    cans = table(
        ("can", "finish", "data sheet", "mixed of"),
        (
            (
                escape(lot.lot), escape(lot.product or "not described"),
                _sheet(lot.sheet, lot.sheet_version, lot.sheet_sha256, lot.described_late),
                ", ".join(f"{p.amount_l:g} L {escape(p.lot)}" for p in lot.parents) or "-",
            )
            for lot in told.lots
        ),
    )  # fmt: skip
    guns = table(
        ("gun", "for event", "set up", "nozzle", "cap", "flushed", "strip-cleaned"),
        (
            (
                escape(gun.gun), str(gun.coat), event(gun.set_up), measured(gun.nozzle_mm, "mm"),
                measured(gun.cap_pressure_kpa, "kPa"), event(gun.flushed), event(gun.strip_cleaned),
            )
            for gun in told.guns
        ),
    )  # fmt: skip
    air = table(
        ("room", "readings", "from", "to", "air", "humidity", "longest silence"),
        (
            (
                escape(room.room), str(room.readings), when(room.first_at), when(room.last_at),
                f"{room.air_min_c:g} to {room.air_max_c:g} °C",
                f"{room.rh_min_pct:g} to {room.rh_max_pct:g} %", span(room.longest_gap_s),
            )
            for room in told.air
        ),
    )  # fmt: skip
    tools = table(
        ("instrument", "used", "last checked", "found"),
        (
            (
                escape(tool.instrument), f"{tool.uses} times",
                when(tool.checked_at) if tool.checked_at else "<b>never</b>",
                _found(tool.passed, tool.error, tool.unit),
            )
            for tool in told.instruments
        ),
    )  # fmt: skip
    return (cans + guns + air + tools) or "<p>Nothing but its own events.</p>"


def _sheet(at: int | None, version: str | None, sha256: str | None, late: bool) -> str:
    if at is None:
        return "none described"
    words = f"{escape(version or 'no version told')}, event {at}"
    if late:
        words += " <span class=late>described after the coat</span>"
    return words + (f'<br><span class="hash">{sha256}</span>' if sha256 else "")


def _found(passed: bool | None, error: float | None, unit: str | None) -> str:
    if passed is None:
        return "-"
    off = "" if error is None else f", off by {error:g} {UNITS.get(unit or '', '')}".rstrip()
    return ("fit" if passed else "<b>not fit</b>") + off


def _sights(told: Told) -> str:
    return table(
        ("event", "when", "what", "", "photograph (SHA-256)"),
        (
            (
                str(one.position), f"{when(one.at)}, {one.when}", plain(one.type),
                escape(one.says.replace("_", " ")),
                f'<span class="hash">{one.photo_sha256}</span>' if one.photo_sha256 else "-",
            )
            for one in told.sights
        ),
    )  # fmt: skip


def _sisters(stated: Stated) -> str:
    rows = []
    for one in stated.sisters:
        kind, _, word = one.shared.partition(":")
        since = "" if one.since is None else f", since event {one.since}"
        what = f"the can {word}" if kind == "lot" else f"one session of gun {word}{since}"
        others = "<br>".join(
            f'{o.pieces} of <span class="hash">{o.order}</span>' for o in one.orders
        )
        rows.append((
            escape(what), str(one.pieces), str(one.same_order), str(one.no_order), others or "-",
        ))  # fmt: skip
    return table(
        ("shared", "other pieces", "same order", "no order", "other customers, hidden"), rows
    )


def _findings(stated: Stated, told: Told) -> str:
    at = {fact.event: fact.position for fact in told.facts}
    return table(
        ("finding", "about", "why", "ended"),
        (
            (
                f"<b>{plain(one.code)}</b>, {one.severity}",
                f"event {at.get(one.about, '-')}", escape(one.why), one.settled or "open",
            )
            for one in stated.findings
        ),
    )  # fmt: skip


def _words(verdict: Verdict | None) -> str:
    if verdict is None or not verdict.holds:
        return ""
    proven = "".join(f"<li>{escape(line)}</li>" for line in verdict.proven)
    only = "".join(f"<li>{escape(line)}</li>" for line in verdict.stated)
    return (
        f"<div class=two><div><h3>Proven</h3><ul>{proven}</ul></div>"
        f"<div><h3>Only stated by the shop</h3><ul>{only}</ul></div></div>"
    )


def _foot(pack: Pack) -> str:
    return (
        f"<h2>The signed head</h2><pre>{escape(pack.checkpoint)}</pre>"
        f"<p class=quiet>Signed {when(pack.signed_at)} by the shop's clock. Public key named by "
        f'the file: <span class="hash">{escape(pack.key)}</span></p>'
    )
