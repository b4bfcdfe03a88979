"""What every question of the command line shares: the service, the two time axes, and --json."""

import functools
from collections.abc import Callable
from typing import Any, NamedTuple, TypeVar

import click
import msgspec

from coatledger_api.commands.log_times import Unreadable, Wall, read_time
from coatledger_api.commands.reach import Failed, Misused, Service, place_of, reaching
from coatledger_api.commands.shown import Manner, manner_of

A = TypeVar("A")
Asks = Callable[..., None]


class Question(NamedTuple):
    """A question under way: whom it is put to, as of when and knowing what, and how it is shown."""

    service: Service
    manner: Manner
    as_of: str | None
    known_at: str | None
    as_json: bool

    def put(
        self, path: str, kind: type[A], show: Callable[[A, Manner], None], **query: Any
    ) -> None:
        """Ask, and show the answer to a person, or pass it on as it came."""
        self._show(
            self.service.get(path, as_of=self.as_of, known_at=self.known_at, **query), kind, show
        )

    def send(
        self, path: str, kind: type[A], show: Callable[[A, Manner], None], asked: dict[str, Any]
    ) -> None:
        """Ask by a body, which holds the two axes too."""
        axes = {"as_of": self.as_of, "known_at": self.known_at}
        body = {**asked, **{name: at for name, at in axes.items() if at is not None}}
        self._show(self.service.post(path, msgspec.json.encode(body)), kind, show)

    def change(
        self, method: str, path: str, asked: object, kind: type[A],
        show: Callable[[A, Manner], None],
    ) -> None:  # fmt: skip
        """Have something changed by a body, and show what it is now."""
        self._show(self.service.send(method, path, msgspec.json.encode(asked)), kind, show)

    def read(self, path: str, kind: type[A]) -> A:
        """Ask how something stands, and show nothing."""
        return _understood(self.service.get(path), kind)

    def _show(self, body: bytes, kind: type[A], show: Callable[[A, Manner], None]) -> None:
        if self.as_json:
            click.echo(body)
            return
        show(_understood(body, kind), self.manner)


def asking(question: Asks) -> Asks:
    """Give a command the options of every question, and its first argument, the `Question`."""

    @functools.wraps(question)
    def put(
        url: str | None,
        key: str | None,
        as_of: str | None,
        known_at: str | None,
        as_json: bool,
        **rest: Any,
    ) -> None:
        with Service(place_of(url, key)) as service:
            manner = manner_of(service)
            asked = Question(
                service,
                manner,
                _moment(as_of, "--as-of", manner),
                _moment(known_at, "--known-at", manner),
                as_json,
            )
            question(asked, **rest)

    put = reaching(put)
    put = click.option("--json", "as_json", is_flag=True, help="The service's answer as it is.")(
        put
    )
    put = click.option(
        "--known-at", help="Use only what was recorded by this time, such as '2026-03-02 17:00'."
    )(put)
    return click.option(
        "--as-of", help="Answer as of this time, such as '2026-03-02 17:00'. Default: now."
    )(put)


def acting(question: Asks) -> Asks:
    """Give a command the service and --json, and its first argument, the `Question`."""

    @functools.wraps(question)
    def put(url: str | None, key: str | None, as_json: bool, **rest: Any) -> None:
        with Service(place_of(url, key)) as service:
            question(Question(service, manner_of(service), None, None, as_json), **rest)

    said = click.option("--json", "as_json", is_flag=True, help="The service's answer as it is.")
    return said(reaching(put))


def _understood(body: bytes, kind: type[A]) -> A:
    try:
        return msgspec.json.decode(body, type=kind)
    except msgspec.DecodeError as fault:
        raise Failed(
            f"The service's answer is not understood ({fault}). Is it of another version?"
        ) from None


def _moment(text: str | None, option: str, manner: Manner) -> str | None:
    if text is None:
        return None
    try:
        return read_time(text, Wall(manner.zone)).isoformat()
    except Unreadable as fault:
        raise Misused(f"{option}: {fault}") from None
