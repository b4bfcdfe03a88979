"""Sheets of labels with QR codes that open the gun-side page: for pieces, cans, guns and rooms."""

from typing import Annotated, Literal

from coatledger.answers.labels import LabelKind, LabelList, label_list
from coatledger.events.base import Word
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import ask
from msgspec import Meta, Struct

from coatledger_api.base_address import BaseAddress, base_address
from coatledger_api.negotiate import JSON
from coatledger_api.operations import ENCODER, Call, Operation, Reply, running
from coatledger_api.paper.printing import (
    PDF,
    SVG,
    form_of,
    headers_of,
    require_printer,
)
from coatledger_api.parameters import AsOf
from coatledger_api.problems import ProblemError, ProblemFault

PAGE = "/gun-side"
Ids = Annotated[
    tuple[Word, ...],
    Meta(max_length=200, description="Whose, in this order; without it, of all that are here."),
]
Columns = Annotated[int, Meta(ge=1, le=20)]
Rows = Annotated[int, Meta(ge=1, le=40)]
Margin = Annotated[float, Meta(ge=0, le=100, description="millimetres")]
Side = Annotated[float, Meta(ge=10, le=2000, description="millimetres")]


class LabelsQuery(AsOf, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Whose labels, on what paper, and in which form."""

    kind: Annotated[LabelKind, Meta(description="Of what: `lot` is a can of finish or a mix.")] = (
        "piece"
    )
    id: Ids = ()
    after: Annotated[Word | None, Meta(description="Without `id`: begin after this word.")] = None
    base: BaseAddress | None = None
    paper: Annotated[Literal["a4", "letter"], Meta(description="The sheet.")] = "a4"
    paper_width_mm: Annotated[
        Side | None, Meta(description="The width of another paper, such as a roll's label.")
    ] = None
    paper_height_mm: Annotated[
        Side | None, Meta(description="The height of another paper, such as a roll's label.")
    ] = None
    columns: Columns = 3
    rows: Rows = 8
    left_mm: Annotated[Margin, Meta(description="Margin at the left, in millimetres.")] = 8.0
    top_mm: Annotated[Margin, Meta(description="Margin at the top, in millimetres.")] = 8.0
    gap_x_mm: Annotated[Margin, Meta(description="Between columns, in millimetres.")] = 2.0
    gap_y_mm: Annotated[Margin, Meta(description="Between rows, in millimetres.")] = 2.0
    label_width_mm: Annotated[
        Side | None, Meta(description="A label's width; without it, labels fill the sheet.")
    ] = None
    label_height_mm: Annotated[
        Side | None, Meta(description="A label's height; without it, labels fill the sheet.")
    ] = None
    skip: Annotated[
        int, Meta(ge=0, le=799, description="Places already used on the first sheet.")
    ] = 0
    outline: Annotated[
        bool, Meta(description="Draw each label's edge, to see whether the printer keeps to it.")
    ] = False
    sheet: Annotated[
        int, Meta(ge=1, le=1000, description="Which sheet, where the form has but one page: SVG.")
    ] = 1
    format: Annotated[
        Literal["pdf", "svg", "json"] | None, Meta(description="The form, whatever Accept says.")
    ] = None


class PrintedLabel(Struct, frozen=True, kw_only=True):
    """One label: the address in its code, the word, and the lines beside it."""

    word: str
    link: str
    lines: tuple[str, ...]


class Labels(Struct, frozen=True, kw_only=True):
    """What stands on each label. `next_after` is the `after` of the next thousand, null on the
    last."""

    position: int
    kind: LabelKind
    labels: tuple[PrintedLabel, ...]
    next_after: str | None


@running("GET", "/v1/labels", tag="Printed", scope="read",
         answers={PDF: str, SVG: str, JSON: Labels},
         problems=("not_found", "does_not_fit"))  # fmt: skip
async def print_labels(call: Call[LabelsQuery]) -> Reply:
    """Print labels with QR codes for pieces, cans, guns or rooms, on sheets of any size.

    A code opens the gun-side page at that subject on a paired device; a stranger who reads it sees
    an empty page, for the code holds the shop's address and the subject's word and nothing else.
    Print at 100 %: the codes are made of whole dots of a 203 dpi printer. A label too small for
    its code is refused with how much it needs.
    """
    service, query = call.service, call.query
    base = base_address(query.base, service.settings, call.headers)
    form = form_of(query.format, call.media_type)

    def read(reader: Reader) -> LabelList:
        place = ask(reader, service.clock(), query.as_of, query.known_at)
        return label_list(reader, place, query.kind, query.id, query.after or "")

    found = await service.read(read)
    if found.missing:
        raise ProblemError("not_found", f"no {query.kind} {', '.join(found.missing[:10])}")
    labels = tuple(
        PrintedLabel(word=one.word, link=f"{base}{PAGE}#{query.kind}={one.word}", lines=one.lines)
        for one in found.labels
    )
    if form == JSON:
        told = Labels(
            position=found.position, kind=found.kind, labels=labels, next_after=found.next_after
        )
        return Reply(ENCODER.encode(told), headers=headers_of(JSON, "labels", found.position))
    require_printer()
    body = await service.in_thread(lambda: _drawn(call, labels, form))
    return Reply(body, media_type=form, headers=headers_of(form, "labels", found.position))


OPERATIONS: tuple[Operation, ...] = (print_labels,)


def _drawn(call: Call[LabelsQuery], labels: tuple[PrintedLabel, ...], form: str) -> bytes:
    # These load the fonts, and are not installed everywhere.
    from coatledger_adapters.printed.labels import Label, LabelError, pages
    from coatledger_adapters.printed.lettering import letters
    from coatledger_adapters.printed.paper import PAPERS, Paper, SheetError, sheet_of
    from coatledger_adapters.printed.pdf import pdf
    from coatledger_adapters.printed.svg import svg

    query = call.query
    own = PAPERS[query.paper]
    paper = Paper(query.paper_width_mm or own.width_mm, query.paper_height_mm or own.height_mm)
    try:
        sheet = sheet_of(
            paper, query.columns, query.rows, left_mm=query.left_mm, top_mm=query.top_mm,
            gap_x_mm=query.gap_x_mm, gap_y_mm=query.gap_y_mm,
            label_width_mm=query.label_width_mm, label_height_mm=query.label_height_mm,
        )  # fmt: skip
    except SheetError as error:
        raise _does_not_fit(*error.faults) from None
    if query.skip >= sheet.holds:
        raise _does_not_fit(("skip", f"a sheet has {sheet.holds} places"))
    written = letters(call.service.settings.print_font)
    drawn = tuple(Label(one.link, one.word, one.lines) for one in labels)
    try:
        laid = pages(drawn, sheet, written, skip=query.skip, outline=query.outline)
    except LabelError as error:
        raise _does_not_fit((error.parameter, str(error))) from None
    if form == PDF:
        return pdf(laid, "Labels", written)
    if query.sheet > len(laid):
        raise ProblemError("not_found", f"these labels fill {len(laid)} sheets")
    return svg(laid[query.sheet - 1], f"Labels, sheet {query.sheet} of {len(laid)}")


def _does_not_fit(*faults: tuple[str, str]) -> ProblemError:
    told = [ProblemFault(rule="does_not_fit", detail=says, parameter=name) for name, says in faults]
    detail = "; ".join(f"{name}: {says}" for name, says in faults)
    return ProblemError("does_not_fit", detail, faults=told)
