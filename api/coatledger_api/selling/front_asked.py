"""What a web shop's page asks for, as it stands in an address: one parameter for each line."""

import re
from typing import Annotated, Literal

from coatledger.answers.promises.lines import wrong_lines
from coatledger.events.base import WORD_PATTERN, Day, Word, whole
from coatledger.events.orders import OrderLine
from coatledger.subjects.view import View
from msgspec import Meta, Struct

from coatledger_api.problems import ProblemError, ProblemFault
from coatledger_api.selling.asked import LINES_MAX

QUANTITY = "([1-9]|[1-4][0-9]|50)"
LINE_PATTERN = f"{WORD_PATTERN}(\\*{QUANTITY})?(;{WORD_PATTERN}={WORD_PATTERN}){{0,10}}"
Line = Annotated[str, Meta(pattern=whole(LINE_PATTERN), max_length=900)]
Ships = Literal["together", "split", "single"]
PublicWord = Annotated[
    str,
    Meta(
        pattern=whole("clw_[0-9A-Za-z]{46}"),
        description="The publishable word, where the page sends no Authorization header.",
    ),
]
_PARTS = re.compile(r"(?P<sku>[^*;]+)(\*(?P<quantity>\d+))?(?P<options>(;[^;]+)*)")


class ShipPromiseQuery(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What is asked for, and how it ships."""

    line: Annotated[
        tuple[Line, ...],
        Meta(
            min_length=1, max_length=LINES_MAX,
            description="A SKU, perhaps with a quantity of 1 to 50 and options: "
            "`SH-OAK-90*2;sheen=matte`. Given again for each further line.",
        ),
    ]  # fmt: skip
    ships: Annotated[
        Ships,
        Meta(
            description="A cart whose lines ship `together` or are `split`, each when it is ready; "
            "`single` asks of each by itself, as a page that lists many does.",
        ),
    ] = "together"
    no_later_than: Annotated[
        Day | None, Meta(description="Refuse (409) when it cannot leave by this day.")
    ] = None
    hold: Annotated[
        Word | None,
        Meta(description="Tell the day of this hold, which is of the same lines, while it lasts."),
    ] = None
    word: PublicWord | None = None


def lines_of(texts: tuple[str, ...]) -> tuple[OrderLine, ...]:
    """Read the lines of an address."""
    return tuple(_line(n, text) for n, text in enumerate(texts, 1))


def _line(number: int, text: str) -> OrderLine:
    found = _PARTS.fullmatch(text)
    assert found is not None, "the pattern of the parameter lets nothing else through"
    options: dict[str, str] = {}
    for part in filter(None, found["options"].split(";")):
        axis, _, value = part.partition("=")
        if axis in options:
            raise _refused("invalid", [(number, f"the option {axis} is given twice")])
        options[axis] = value
    return OrderLine(
        line=str(number), sku=found["sku"], quantity=int(found["quantity"] or 1), options=options
    )


def check(view: View, lines: tuple[OrderLine, ...]) -> None:
    """Refuse lines that name no SKU of the shop's, or options it does not have; one that is paused
    is answered as such."""
    found = wrong_lines(view, lines)
    for kind, name in (("wrong", "invalid"), ("unknown", "unknown_offering")):
        told = [one for one in found if one.kind == kind]
        if told:
            raise _refused(name, [(_number(one.pointer), one.says) for one in told])


def _number(pointer: str) -> int:
    first = pointer.split("/")[1] if "/" in pointer else "0"
    return int(first) + 1


def _refused(kind: str, told: list[tuple[int, str]]) -> ProblemError:
    faults = [
        ProblemFault(rule=kind, detail=f"line {number}: {says}", parameter="line")
        for number, says in told
    ]
    return ProblemError(kind, "; ".join(dict.fromkeys(f.detail for f in faults)), faults=faults)
