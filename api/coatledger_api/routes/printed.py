"""What is printed with the work and the goods: travellers, care cards and packing slips."""

from collections.abc import Callable
from typing import Annotated, Any, Literal, TypeVar

from coatledger.answers.care_card import CareCard, care_card
from coatledger.answers.packing_slip import PackingSlip, packing_slip
from coatledger.answers.traveller import TravellerAnswer, traveller
from coatledger.events.base import Word
from coatledger.ledger.record import micros
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked, ask
from coatledger_adapters.checkpoints import BrokenHistoryError
from coatledger_adapters.printed.document import Document
from msgspec import Meta

from coatledger_api.base_address import BaseAddress, base_address
from coatledger_api.negotiate import JSON
from coatledger_api.operations import ENCODER, Call, Operation, Reply, running
from coatledger_api.paper.printed_page import PRINTED_HEADERS, printed_page
from coatledger_api.paper.printed_things import care_document, slip_document, traveller_documents
from coatledger_api.paper.printed_words import Manner
from coatledger_api.paper.printing import HTML, PDF, Units, form_of, headers_of, require_printer
from coatledger_api.parameters import AsOf
from coatledger_api.problems import ProblemError
from coatledger_api.rendering import for_people, shop_zone
from coatledger_api.service import Service

A = TypeVar("A", TravellerAnswer, CareCard, PackingSlip)


class PrintedQuery(AsOf, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Of which order, which pieces, or both; on what paper, in which units and form."""

    order: Annotated[Word | None, Meta(description="All pieces of this order.")] = None
    piece: Annotated[
        tuple[Word, ...],
        Meta(max_length=200, description="These pieces; without an order, one at least."),
    ] = ()
    paper: Annotated[
        Literal["a4", "letter", "a5", "a6"], Meta(description="The sheet; a6 suits a card.")
    ] = "a4"
    units: Units = None
    format: Annotated[
        Literal["pdf", "html", "json"] | None, Meta(description="The form, whatever Accept says.")
    ] = None


class TravellerQuery(PrintedQuery, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Of which order or pieces, and the address that its code opens."""

    base: BaseAddress | None = None


@running("GET", "/v1/traveller", tag="Printed", scope="read",
         answers={PDF: str, HTML: str, JSON: TravellerAnswer}, problems=("not_found",))  # fmt: skip
async def print_traveller(call: Call[TravellerQuery]) -> Reply:
    """Print what travels with a batch: its schedule to tick off, one page for each schedule.

    Each step with its target, the cans that are here, and how long the film then stands before
    what, likely and surely, in the air as it is now; what was done before is ticked already. The
    cautions of its acts stand below; they defer to sheets, codes and practice.
    """
    base = base_address(call.query.base, call.service.settings, call.headers)

    def read(reader: Reader, place: Asked) -> TravellerAnswer:
        factors = call.service.learning.factors(reader, place)
        return traveller(reader, place, call.query.order, call.query.piece, factors)

    def write(told: TravellerAnswer, manner: Manner) -> tuple[Document, ...]:
        return traveller_documents(told, base, manner)

    return await _printed(call, "traveller", read, write)


@running("GET", "/v1/care-card", tag="Printed", scope="read",
         answers={PDF: str, HTML: str, JSON: CareCard}, problems=("not_found",))  # fmt: skip
async def print_care_card(call: Call[PrintedQuery]) -> Reply:
    """Print the card for the buyer: from when the piece may be used, likely and surely, what not to
    do until then, and its care for good.

    The day is the cure clock's. A piece whose finish is not whole has none, and the card says why.
    """

    def read(reader: Reader, place: Asked) -> CareCard:
        factors = call.service.learning.factors(reader, place)
        return care_card(reader, place, call.query.order, call.query.piece, factors)

    def write(told: CareCard, manner: Manner) -> tuple[Document, ...]:
        return (care_document(told, manner),)

    return await _printed(call, "care-card", read, write)


@running("GET", "/v1/packing-slip", tag="Printed", scope="read",
         answers={PDF: str, HTML: str, JSON: PackingSlip},
         problems=("not_found", "history_broken"))  # fmt: skip
async def print_packing_slip(call: Call[PrintedQuery]) -> Reply:
    """Print the packing slip: what is in the box, and the ledger's signed head of this moment.

    Whoever keeps the slip can show later what the ledger was, and check the proof of a piece
    against it with `coatledger verify`. No customer is named on it.
    """
    service = call.service

    def read(reader: Reader, place: Asked) -> PackingSlip:
        return packing_slip(reader, place, call.query.order, call.query.piece)

    def write(told: PackingSlip, manner: Manner) -> tuple[Document, ...]:
        return (slip_document(told, _head(service), service.heads.signer.key.text, manner),)

    return await _printed(call, "packing-slip", read, write)


OPERATIONS: tuple[Operation, ...] = (print_traveller, print_care_card, print_packing_slip)


async def _printed(
    call: Call[Any], name: str, read: Callable[[Reader, Asked], A],
    write: Callable[[A, Manner], tuple[Document, ...]],
) -> Reply:  # fmt: skip
    query, service = call.query, call.service
    if query.order is None and not query.piece:
        raise ProblemError("not_found", "neither an order nor a piece was named")
    form = form_of(query.format, call.media_type)
    if form == PDF:
        require_printer()

    def ask_it(reader: Reader) -> tuple[A, Manner]:
        now = service.clock()
        place = ask(reader, now, query.as_of, query.known_at)
        zone = shop_zone(reader, now)
        shop = place.view(reader).shop()
        units = query.units or ("metric" if shop is None else shop.units)
        return for_people(read(reader, place), zone), Manner(zone, units == "us")

    told, manner = await service.read(ask_it)
    if told.missing:
        raise ProblemError("not_found", f"nothing is called {', '.join(told.missing[:10])}")
    if form == JSON:
        return Reply(ENCODER.encode(told), headers=headers_of(JSON, name, told.position))
    body = await service.in_thread(lambda: _set(call, write(told, manner), form))
    headers = headers_of(form, name, told.position)
    if form == HTML:
        return Reply(body, media_type=f"{HTML}; charset=utf-8",
                     headers={**headers, **PRINTED_HEADERS})  # fmt: skip
    return Reply(body, media_type=form, headers=headers)


def _set(call: Call[Any], documents: tuple[Document, ...], form: str) -> bytes:
    if form == HTML:
        return printed_page(documents)
    # These load the fonts, and are not installed everywhere.
    from coatledger_adapters.printed.document_pdf import document_pdf
    from coatledger_adapters.printed.lettering import letters
    from coatledger_adapters.printed.paper import PAPERS

    written = letters(call.service.settings.print_font)
    return document_pdf(documents, PAPERS[call.query.paper], written)


def _head(service: Service) -> str:
    try:
        return service.heads.sign(micros(service.clock())).note.whole
    except BrokenHistoryError as error:
        raise ProblemError("history_broken", str(error)) from None
