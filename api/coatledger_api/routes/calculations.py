"""The trade's numbers: an address for each calculation of the core's table."""

from collections.abc import Awaitable, Callable

from coatledger.answers.calculations.calculation import Calculation
from coatledger.answers.calculations.table import CALCULATIONS, calculate
from coatledger.ledger.decode import plain, typed

from coatledger_api.negotiate import JSON
from coatledger_api.operations import ENCODER, Call, Operation, Reply
from coatledger_api.parameters import Nothing


def _operation(calculation: Calculation) -> Operation:
    return Operation(
        method="POST",
        path=f"/v1/calculations/{calculation.name}",
        name=f"calculate_{calculation.name.replace('-', '_')}",
        tag="Calculations",
        scope="read",
        summary=calculation.does,
        description=f"{calculation.does}\n\nSource: {calculation.source}.",
        query=Nothing,
        answers={JSON: calculation.answers},
        problems=("beyond_source",),
        body=calculation.asks,
        runs=_running(calculation),
    )


def _running(calculation: Calculation) -> Callable[[Call[Nothing]], Awaitable[Reply]]:
    async def work(call: Call[Nothing]) -> Reply:
        asked = typed(plain(call.body), calculation.asks)
        told = await call.service.in_thread(lambda: calculate(calculation, asked))
        return Reply(ENCODER.encode(told))

    return work


OPERATIONS: tuple[Operation, ...] = tuple(map(_operation, CALCULATIONS.values()))
