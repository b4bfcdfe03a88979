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
from coatledger_api.parameters import AsOf
from coatledger_api.problems import ProblemError
from coatledger_api.ranges import REFUSED, Bucketed, within


class OneProduct(AsOf, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which product."""

    product: Word


@numbers("/v1/rework", lambda answer, query: of_rework(answer), problems=REFUSED)
def read_rework(call: Call[Bucketed], reader: Reader) -> ReworkAnswer:
    """Read first-pass yield, rework and scrap, by day, week or month.

    By the definitions of ISO 22400-2, each share with its 95 % Wilson interval; defects by kind,
    those the shop found apart from those a customer found. A piece counts on the local day of its
    first final inspection.
    """
    query, place = call.query, asked(call, reader)
    days = within(query, reader, place, query.bucket)
    return rework(reader, place, within=days, bucket=query.bucket)


@numbers("/v1/throughput", lambda answer, query: of_throughput(answer), problems=REFUSED)
def read_throughput(call: Call[Bucketed], reader: Reader) -> ThroughputAnswer:
    """Read what left by day, week or month, what is in process, and lead time.

    Pieces shipped a week and the throughput rate of ISO 22400-2 are two numbers under two names. A
    piece counts on the local day of its first shipment.
    """
    query, place = call.query, asked(call, reader)
    days = within(query, reader, place, query.bucket)
    return throughput(reader, place, within=days, bucket=query.bucket)


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
