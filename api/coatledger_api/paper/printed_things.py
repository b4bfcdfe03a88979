"""The words of what is printed with the work and the goods: traveller, care card, packing slip."""

from collections.abc import Iterable, Iterator
from datetime import datetime

from coatledger.answers.care_card import CareCard, CarePiece
from coatledger.answers.packing_slip import PackingSlip, SlipPiece
from coatledger.answers.traveller import (
    TravellerAnswer,
    TravellerPiece,
    TravellerSheet,
    TravellerStep,
    Wait,
)
from coatledger.computations.cautions import DEFERENCE
from coatledger.subjects.plan import FILMS
from coatledger_adapters.printed.document import (
    Block,
    Code,
    Document,
    Heading,
    Listed,
    Paragraph,
    Table,
)

from coatledger_api.paper.printed_words import Manner, lasting, listing, plain

KINDS_MAX = 6
SHEET_DECIDES = (
    "The finish's data sheet decides wherever it says more or otherwise. Times are estimates of "
    "this shop's drying clock, common practice where the sheet is silent."
)


def traveller_documents(told: TravellerAnswer, base: str, manner: Manner) -> tuple[Document, ...]:
    """Write a sheet for each schedule of a batch."""
    return tuple(_traveller(told, sheet, base, manner) for sheet in told.sheets)


def _traveller(told: TravellerAnswer, sheet: TravellerSheet, base: str, manner: Manner) -> Document:
    words = tuple(piece.piece for piece in sheet.pieces)
    kinds = tuple(dict.fromkeys(_called(piece) for piece in sheet.pieces))
    title = f"Order {told.order}" if told.order else _batch_name(words)
    area = "" if sheet.area_m2 is None else f", {manner.area(sheet.area_m2)} to coat"
    lead = [f"{_count(len(words), 'piece')}: {listing(kinds, KINDS_MAX)}{area}"]
    if told.due is not None:
        lead.append(f"Due {manner.day(told.due)}")
    called = sheet.name or sheet.schedule or "the usual one, as none is described"
    lead.append(f"Schedule: {called}; faces: {', '.join(map(plain, sheet.faces))}")
    blocks: list[Block] = [Paragraph(listing(words))]
    held = tuple(piece.piece for piece in sheet.pieces if piece.held)
    if held:
        blocks.append(Paragraph(f"Held, do not go on before they are released: {listing(held)}"))
    rows = tuple(_step_row(step, manner) for step in sheet.steps)
    done = tuple(step.done for step in sheet.steps)
    headings = ("", "what", "target", "then wait", "can and gun", "who and when")
    blocks.append(Table(headings, rows, (0.5, 2.5, 1.8, 2.7, 2.0, 1.7), True, done))
    blocks += _cautions(sheet)
    code = Code(f"{base}/gun-side#piece={words[0]}", f"opens {words[0]}")
    foot = _foot(told.position, told.as_of, manner)
    return Document(title, tuple(lead), tuple(blocks), code, foot)


def _batch_name(words: tuple[str, ...]) -> str:
    return words[0] if len(words) == 1 else f"Batch {words[0]} to {words[-1]}"


def _step_row(step: TravellerStep, manner: Manner) -> tuple[str, ...]:
    what = [plain(step.act)]
    if step.grit is not None:
        what.append(f"P{step.grit}")
    if step.role is not None:
        what.append(f"({plain(step.role)})")
    if step.by_hand:
        what.append("by hand")
    finish = step.name or step.product
    target = "" if step.wet_film_um is None else f"{manner.film(step.wet_film_um)} wet"
    sheet = manner.film_range(step.wet_film_min_um, step.wet_film_max_um)
    if sheet:
        target = f"{target}\nsheet: {sheet}".strip()
    is_film = step.act in FILMS and not step.done
    cans = "\n".join((*step.cans, "gun:")) if is_film else ""
    return (
        str(step.number),
        " ".join(what) + (f"\n{finish}" if finish else ""),
        target,
        "\n".join(map(_wait, step.waits)),
        cans,
        "",
    )


def _wait(wait: Wait) -> str:
    if wait.likely_h is None or wait.sure_h is None:
        return f"{plain(wait.before)}: never in this air"
    likely, sure = lasting(wait.likely_h), lasting(wait.sure_h, up=True)
    return f"{plain(wait.before)}: {likely}, surely {sure}"


def _cautions(sheet: TravellerSheet) -> Iterator[Block]:
    if sheet.cautions:
        yield Heading("Be careful")
        yield Paragraph(DEFERENCE, quiet=True)
        yield from (Paragraph(caution.text, quiet=True) for caution in sheet.cautions)
    if sheet.assumed:
        yield Paragraph(f"The waits rest on: {'; '.join(sheet.assumed)}.", quiet=True)


def care_document(told: CareCard, manner: Manner) -> Document:
    """Write the card for the buyer."""
    kinds = tuple(dict.fromkeys(_called(piece) for piece in told.pieces))
    blocks: list[Block] = [Paragraph(line, large=True) for line in _in_use(told.pieces, manner)]
    if told.until_then:
        blocks += [
            Paragraph(
                "A finish that feels dry is not yet hard all through. Until then:",
            ),
            Listed(told.until_then),
        ]
    blocks += [Heading("After that, for good"), Listed(told.always)]
    finishes = tuple(dict.fromkeys(name for piece in told.pieces for name in piece.finish))
    if finishes:
        blocks.append(Paragraph(f"On it lies: {', '.join(finishes)}.", quiet=True))
    blocks.append(Paragraph(f"{SHEET_DECIDES} The advice is common practice.", quiet=True))
    lead = (listing(kinds, KINDS_MAX), listing(tuple(piece.piece for piece in told.pieces), 24))
    return Document("Caring for your piece", lead, tuple(blocks),
                    foot=_foot(told.position, told.as_of, manner))  # fmt: skip


def _called(piece: TravellerPiece | CarePiece | SlipPiece) -> str:
    return " of ".join(plain(part) for part in (piece.kind or "piece", piece.species) if part)


def _in_use(pieces: Iterable[CarePiece], manner: Manner) -> Iterator[str]:
    """Say from when; pieces with the same days share a line."""
    by_line: dict[str, list[str]] = {}
    for piece in pieces:
        by_line.setdefault(_days(piece, manner), []).append(piece.piece)
    for line, words in by_line.items():
        yield line if len(by_line) == 1 else f"{listing(tuple(words), 12)}: {line}"


def _days(piece: CarePiece, manner: Manner) -> str:
    if piece.why_not is not None:
        return f"No day for use is known yet: {piece.why_not}. Ask us."
    if piece.in_use:
        return "Its finish has cured: ready for everyday use."
    if piece.likely is None or piece.sure is None:
        return "No day for use is known yet. Ask us."
    likely, sure = manner.day(piece.likely), manner.day(piece.sure)
    if likely == sure:
        return f"Ready for everyday use from {sure}."
    return f"Ready for everyday use likely from {likely}, surely from {sure}."


def slip_document(told: PackingSlip, head: str, key: str, manner: Manner) -> Document:
    """Write the packing slip; `head` is the ledger's signed head as a note, `key` what it was
    signed with."""
    blocks: list[Block] = []
    if told.lines:
        rows = tuple(
            (line.line, line.sku or line.offering or "", str(line.quantity), str(line.here))
            for line in told.lines
        )
        blocks.append(Table(("line", "what", "ordered", "here"), rows, (1, 4, 1, 1)))
    pieces = tuple(
        (
            piece.piece,
            _called(piece),
            f"in {plain(piece.touching)}" if piece.touching else "not packed yet",
            manner.day(piece.packed_at) if piece.packed_at else "",
        )
        for piece in told.pieces
    )
    blocks.append(Table(("piece", "what it is", "its film touches", "packed"), pieces, (2, 3, 2, 2),
                        ticks=True))  # fmt: skip
    blocks += [
        Heading("Proof of what was done"),
        Paragraph(
            "Every step of this work stands in a ledger that cannot be changed unseen. The lines "
            "below are its signed state when this slip was printed. Keep them: with them, anybody "
            "can later check a proof of your piece against what the ledger said on this day.",
            quiet=True,
        ),
        Paragraph(head, typed=True),
        Paragraph("The shop's public key, to check them with:", quiet=True),
        Paragraph(key, typed=True),
    ]
    code = Code(head, "the lines below")
    title = f"Packing slip, order {told.order}" if told.order else "Packing slip"
    lead = (f"{_count(len(told.pieces), 'piece')} in this box",)
    return Document(title, lead, tuple(blocks), code, _foot(told.position, told.as_of, manner))


def _foot(position: int, as_of: datetime | None, manner: Manner) -> str:
    when = "" if as_of is None else f"as of {manner.minute(as_of)}, "
    return f"Printed {when}from {_count(position, 'fact')} of the ledger."


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"
