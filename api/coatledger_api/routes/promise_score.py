"""How promises came out: kept or not, how often each level held, and how sharp they were."""

from coatledger.answers.promises.score import PromiseScore, score
from coatledger.ledger.store import Reader

from coatledger_api.charts.pictures_promises import of_score
from coatledger_api.forms import Formed, numbers
from coatledger_api.operations import Call, Operation, asked


@numbers("/v1/promises/score", lambda answer, query: of_score(answer), tag="Promises")
def read_promise_score(call: Call[Formed], reader: Reader) -> PromiseScore:
    """Read how the shop's promises came out, by the first day each customer was told.

    A promise counts when its day is over; what is still here then was not kept. `levels` tells how
    often the days at 50, 80, 90 and 95 % held, with 95 % Wilson intervals, the mean pinball loss
    and the mean lead; `stated` the chance said against the share kept; then months and offerings.
    `correction` says by how much the next quote is moved by what earlier promises came to: it is
    part of every chance that is said. With `as_of` and `known_at` a past place is judged as it was
    known then.
    """
    return score(reader, asked(call, reader))


OPERATIONS: tuple[Operation, ...] = (read_promise_score,)
