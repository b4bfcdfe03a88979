"""The shop's numbers: what comes back, what leaves, what is in the cans, how its finishes dry."""

from coatledger.answers.drying import DryingAnswer, drying
from coatledger.answers.rework import ReworkAnswer, rework
from coatledger.answers.stock import StockAnswer, stock
from coatledger.answers.throughput import ThroughputAnswer, throughput
from coatledger.events.base import Word
from coatledger.ledger.store import Reader
from coatledger_adapters.public_holidays import holidays_around

from coatledger_api.charts.pictures import of_rework, of_throughput
from coatledger_api.charts.pictures_stock import of_stock
from coatledger_api.forms import Formed, numbers
from coatledger_api.operations import Call, Operation, asked, reading
from coatledger_api.parameters import AsOf, Week
from coatledger_api.problems import ProblemError


class WeeksQuery(Formed, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """From which week to which, both included."""

    first_week: Week | None = None
    last_week: Week | None = None


class OneProduct(AsOf, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which product."""

    product: Word


@numbers("/v1/rework", lambda answer, query: of_rework(answer))
def read_rework(call: Call[WeeksQuery], reader: Reader) -> ReworkAnswer:
    """Read first-pass yield, rework and scrap, week by week.

    By the definitions of ISO 22400-2, each share with its 95 % Wilson interval; defects by kind,
    those the shop found apart from those a customer found.
    """
    query = call.query
    return rework(
        reader,
        asked(call, reader),
        first_week=query.first_week or "",
        last_week=query.last_week or "~",
    )


@numbers("/v1/throughput", lambda answer, query: of_throughput(answer))
def read_throughput(call: Call[WeeksQuery], reader: Reader) -> ThroughputAnswer:
    """Read what left, what is in process, and lead time.

    Pieces shipped a week and the throughput rate of ISO 22400-2 are two numbers under two names.
    """
    query = call.query
    return throughput(
        reader,
        asked(call, reader),
        first_week=query.first_week or "",
        last_week=query.last_week or "~",
    )


@numbers("/v1/stock", lambda answer, query: of_stock(answer))
def read_stock(call: Call[Formed], reader: Reader) -> StockAnswer:
    """Read the finish on hand against what the open work needs.

    Per product: its cans with what is left and until when they may be used, litres needed as a
    range, and the piece and day at which it runs out: earliest, likely and latest.
    """
    place = asked(call, reader)
    factors = call.service.learning.factors(reader, place)
    return stock(reader, place, holidays_around(reader, place), factors)


@reading("/v1/products/{product}/drying", tag="Numbers", problems=("not_found",))
def read_product_drying(call: Call[OneProduct], reader: Reader) -> DryingAnswer:
    """Read what the clock has learned of a product in this shop.

    The data sheet's hours, what was believed before any check, what the dryness checks say, and
    whether the newest can dries unlike the others.
    """
    found = drying(reader, call.query.product, asked(call, reader))
    if found is None:
        raise ProblemError("not_found", f"no product {call.query.product} was described then")
    return found


OPERATIONS: tuple[Operation, ...] = (
    read_rework,
    read_throughput,
    read_stock,
    read_product_drying,
)
