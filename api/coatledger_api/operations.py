"""One operation of the service as a value: address, scope, parameters, answer, and what runs it.

A function becomes an operation by a decorator. Its name is the operationId, its docstring the
documentation, its annotations the parameters and the answer; so code and contract cannot differ.
"""

import inspect
from collections.abc import AsyncGenerator, Awaitable, Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Generic, TypeVar, get_args, get_type_hints

import msgspec
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked, ask
from coatledger_adapters.keys import ApiKey
from msgspec import Struct

from coatledger_api.contract.deprecation import Deprecation
from coatledger_api.negotiate import JSON
from coatledger_api.parameters import AsOf
from coatledger_api.service import Service

ENCODER = msgspec.json.Encoder()
Q_co = TypeVar("Q_co", bound=Struct, covariant=True)


@dataclass(frozen=True, slots=True)
class Call(Generic[Q_co]):
    """One request that may be served. `key` is None where no key is asked for."""

    service: Service
    query: Q_co
    headers: Mapping[str, str]
    media_type: str
    key: ApiKey | None = None
    body: bytes = b""


# Of what is told once, or was true a moment ago.
NEVER_CACHED: Mapping[str, str] = {"Cache-Control": "no-store"}


@dataclass(frozen=True, slots=True)
class Reply:
    """A finished answer."""

    body: bytes
    status: int = 200
    media_type: str = JSON
    headers: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Streaming:
    """An answer that goes on until the client leaves or the service closes."""

    chunks: AsyncGenerator[bytes, None]
    media_type: str
    headers: Mapping[str, str] = field(default_factory=dict)


Runs = Callable[[Call[Any]], Awaitable[Reply | Streaming]]
Reads = Callable[[Call[Any], Reader], Struct | Reply]


@dataclass(frozen=True, slots=True)
class Operation:
    """One method of one address. `scope` None means open to everybody.

    `reads` runs in a thread on one consistent state and answers with a struct; `runs` runs in the
    loop. `answers` gives the type of each media type offered, `body` that of what is posted,
    `problems` the kinds it may end in beyond the usual. `kept` answers are given again for a
    moment; they hold no names or free words, which are erased without anything being recorded.
    `basic`: the key may also come as the password of HTTP Basic, for programs that know no other.
    `front`: pages of other origins may ask, with a publishable word (`origins`).
    """

    method: str
    path: str
    name: str
    tag: str
    scope: str | None
    summary: str
    description: str
    query: type[Struct]
    answers: Mapping[str, Any]
    problems: tuple[str, ...]
    status: tuple[int, ...] = (200,)
    body: Any = None
    reads: Reads | None = None
    runs: Runs | None = None
    kept: bool = False
    basic: bool = False
    front: bool = False
    deprecated: Deprecation | None = None


def reading(
    path: str, *, tag: str, scope: str | None = "read", also: Mapping[str, Any] | None = None,
    problems: tuple[str, ...] = (), kept: bool = False,
    deprecated: Deprecation | None = None,
) -> Callable[[Reads], Operation]:  # fmt: skip
    """Make a GET of a function from a call and a reader to a struct.

    `also` names further media types, and what is answered in each; such a function builds its
    `Reply` itself.
    """

    def made(function: Reads) -> Operation:
        answers = {JSON: _answer_of(function), **(also or {})}
        return _operation(
            function, method="GET", path=path, tag=tag, scope=scope, answers=answers,
            problems=problems, reads=function, kept=kept, deprecated=deprecated,
        )  # fmt: skip

    return made


def running(
    method: str, path: str, *, tag: str, scope: str | None, answers: Mapping[str, Any],
    body: Any = None, status: tuple[int, ...] = (200,), problems: tuple[str, ...] = (),
    kept: bool = False, basic: bool = False, deprecated: Deprecation | None = None,
) -> Callable[[Runs], Operation]:  # fmt: skip
    """Make an operation of a coroutine that builds its answer itself."""

    def made(function: Runs) -> Operation:
        return _operation(
            function, method=method, path=path, tag=tag, scope=scope, answers=answers,
            problems=problems, runs=function, status=status, body=body, kept=kept, basic=basic,
            deprecated=deprecated,
        )  # fmt: skip

    return made


def asked(call: Call[AsOf], reader: Reader) -> Asked:
    """Put the call's `as_of` and `known_at` on the ledger's axes."""
    return ask(reader, call.service.clock(), call.query.as_of, call.query.known_at)


def _operation(function: Callable[..., Any], **given: Any) -> Operation:
    summary, _, description = (inspect.getdoc(function) or "").partition("\n\n")
    return Operation(
        name=function.__name__,
        summary=" ".join(summary.split()),
        description=description.strip(),
        query=get_args(get_type_hints(function, include_extras=True)["call"])[0],
        **given,
    )


def _answer_of(function: Reads) -> Any:
    """The struct among what a function may return."""
    returned = get_type_hints(function, include_extras=True)["return"]
    structs = [kind for kind in get_args(returned) or (returned,) if kind is not Reply]
    assert len(structs) == 1, f"{function.__name__} answers with one struct"
    return structs[0]
