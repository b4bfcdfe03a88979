"""The shop itself, as it was described last."""

from coatledger.answers.shop import ShopAnswer, shop_answer
from coatledger.ledger.store import Reader

from coatledger_api.operations import Call, Operation, asked, reading
from coatledger_api.parameters import AsOf


@reading("/v1/shop", tag="Shop")
def read_shop(call: Call[AsOf], reader: Reader) -> ShopAnswer:
    """Read the shop's zone, units and hours.

    Whoever shows answers to people needs these first: times are given in this zone and quantities
    in these units.
    """
    return shop_answer(reader, asked(call, reader))


OPERATIONS: tuple[Operation, ...] = (read_shop,)
