"""One address, the same numbers in every form: JSON, CSV, Arrow and Parquet, a table to read, a
picture drawn or to be drawn. `Accept` chooses, or `format` where a link must say it.
"""

from collections.abc import Awaitable, Callable, Mapping
from functools import wraps
from typing import Annotated, Any, Literal

from coatledger.ledger.store import Reader
from msgspec import Meta, Struct

from coatledger_api.charts.columnar import arrow_of, parquet_of, require_columns
from coatledger_api.charts.frame import Frame, csv_of, html_of
from coatledger_api.charts.look import Look
from coatledger_api.charts.pictures import Picture
from coatledger_api.charts.specs import SCHEMA
from coatledger_api.negotiate import JSON
from coatledger_api.operations import ENCODER, Call, Operation, Reply, running
from coatledger_api.pages import HEADERS
from coatledger_api.parameters import AsOf
from coatledger_api.rendering import for_people, shop_zone

CSV, HTML, SVG, PNG = "text/csv", "text/html", "image/svg+xml", "image/png"
ARROW, PARQUET = "application/vnd.apache.arrow.stream", "application/vnd.apache.parquet"
VEGA, VEGA_6 = "application/vnd.vegalite.v5+json", "application/vnd.vegalite.v6+json"
FORMATS: Mapping[str, str] = {
    "json": JSON, "csv": CSV, "html": HTML, "svg": SVG, "png": PNG, "vega": VEGA,
    "vega6": VEGA_6, "arrow": ARROW, "parquet": PARQUET,
}  # fmt: skip
# The pictures' grammar is the same in both, which a test holds: both draw the same.
SCHEMAS: Mapping[str, str] = {VEGA: SCHEMA, VEGA_6: SCHEMA.replace("v5", "v6")}
# A picture is markup that may be opened by itself: it may style itself and nothing else.
_PICTURE: Mapping[str, str] = {
    "Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; "
    "frame-ancestors 'none'"
}


class Formed(AsOf, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """In which form the numbers are wanted, and how a picture should look."""

    format: Annotated[
        Literal["json", "csv", "html", "svg", "png", "vega", "vega6", "arrow", "parquet"] | None,
        Meta(
            description="The form, whatever Accept says. `vega` and `vega6` are specifications of"
            " Vega-Lite 5 and 6, with the numbers inside."
        ),
    ] = None
    look: Annotated[
        Look, Meta(description="A picture's colours: light, dark, of high contrast, for paper.")
    ] = "light"
    width: Annotated[
        int, Meta(ge=320, le=1600, description="A picture's width in pixels; 360 suits a phone.")
    ] = 720


class Tabled(AsOf, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """In which form an answer is wanted that is no picture."""

    format: Annotated[
        Literal["json", "csv", "html"] | None, Meta(description="The form, whatever Accept says.")
    ] = None


Asks = Callable[[Call[Any], Reader], Struct]
Draws = Callable[[Any, Any], Picture]


def numbers(
    path: str, picture: Draws, *, tag: str = "Numbers", problems: tuple[str, ...] = ()
) -> Callable[[Asks], Operation]:
    """Make a GET of a function from a call and a reader to a struct, offered in every form.

    `picture` takes the answer and the query. Nothing is drawn while the ledger is read.
    """

    def formed(call: Call[Any], answer: Struct, form: str) -> Reply:
        query = call.query
        shown = picture(answer, query)
        if form in (CSV, HTML):
            return _table(shown.frame, answer, form)
        if form in (ARROW, PARQUET):
            require_columns()
            body = arrow_of(shown.frame) if form == ARROW else parquet_of(shown.frame)
            return Reply(body, media_type=form, headers=_position(answer))
        spec = shown.spec(query.look, query.width)
        if form in SCHEMAS:
            said = ENCODER.encode({**spec, "$schema": SCHEMAS[form]})
            return Reply(said, media_type=form, headers=_position(answer))
        body = call.service.painter.draw(spec, "svg" if form == SVG else "png")
        return Reply(body, media_type=form, headers={**_PICTURE, **_position(answer)})

    forms = (CSV, HTML, SVG, PNG, VEGA, VEGA_6, ARROW, PARQUET)
    return _in_forms(path, tag, forms, formed, problems=problems)


def tabled(
    path: str, frame: Callable[[Any], Frame], page: Callable[[Any], bytes], *, tag: str
) -> Callable[[Asks], Operation]:
    """Make a GET as `numbers` does, of an answer that has a page of its own and no picture."""

    def formed(call: Call[Any], answer: Struct, form: str) -> Reply:
        if form == CSV:
            return _table(frame(answer), answer, form)
        headers = {**HEADERS, **_position(answer)}
        return Reply(page(answer), media_type=f"{HTML}; charset=utf-8", headers=headers)

    return _in_forms(path, tag, (CSV, HTML), formed, kept=True)


def _in_forms(
    path: str, tag: str, forms: tuple[str, ...], formed: Callable[[Call[Any], Struct, str], Reply],
    *, kept: bool = False, problems: tuple[str, ...] = (),
) -> Callable[[Asks], Operation]:  # fmt: skip
    def made(function: Asks) -> Operation:
        @wraps(function)
        async def runs(call: Call[Any]) -> Reply:
            def read(reader: Reader) -> Struct:
                shown: Struct = for_people(
                    function(call, reader), shop_zone(reader, call.service.clock())
                )
                return shown

            answer = await call.service.read(read)
            form = FORMATS[call.query.format] if call.query.format else call.media_type
            if form == JSON:
                return Reply(ENCODER.encode(answer), headers=_position(answer))
            return await call.service.in_thread(lambda: formed(call, answer, form))

        others = {form: dict if form in SCHEMAS else str for form in forms}
        described: Callable[[Call[Any]], Awaitable[Reply]] = runs
        return running(
            "GET", path, tag=tag, scope="read", kept=kept, problems=problems,
            answers={JSON: function.__annotations__["return"], **others},
        )(described)  # fmt: skip

    return made


def _table(frame: Frame, answer: Struct, form: str) -> Reply:
    if form == CSV:
        media = f"{CSV}; charset=utf-8; header=present"
        return Reply(csv_of(frame), media_type=media, headers=_position(answer))
    headers = {**HEADERS, **_position(answer)}
    return Reply(html_of(frame), media_type=f"{HTML}; charset=utf-8", headers=headers)


def _position(answer: Struct) -> Mapping[str, str]:
    return {"Coatledger-Position": str(getattr(answer, "position", 0))}
