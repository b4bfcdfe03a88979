"""Reaching the service: its address and key, one request, and what to say when it goes wrong."""

import os
import tomllib
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from types import TracebackType
from typing import Any, NamedTuple, TypeAlias, TypeVar

import click
import httpx
import msgspec

from coatledger_api.problems import Problem

TIMEOUT_S = 60.0
Asked: TypeAlias = str | float | bool | Sequence[str] | None
F = TypeVar("F", bound=Callable[..., Any])


class Place(NamedTuple):
    """Where the service is, and the key that opens it."""

    url: str
    key: str


class Failed(click.ClickException):
    """Ends a command with a sentence: something was refused or is not there."""


class Misused(Failed):
    """The command was called wrongly, or lacks what it needs to begin."""

    exit_code = 2


class Lost(Failed):
    """No answer came: the request may or may not have been carried out."""

    exit_code = 3

    def __init__(self, url: str, why: str) -> None:
        super().__init__(f"No answer from {url} ({why}). Is the service running?")


class Refusal(Failed):
    """The service answered with a problem."""

    def __init__(self, status: int, body: bytes) -> None:
        self.status = status
        try:
            problem = msgspec.json.decode(body, type=Problem)
        except msgspec.DecodeError:
            super().__init__(f"The service answered {status}, and nothing this command understands")
            return
        lines = [f"{problem.title}: {problem.detail}"]
        if len(problem.faults) > 1:
            lines += [f"  {f.pointer or f.parameter or ''}: {f.detail}" for f in problem.faults]
        super().__init__("\n".join(lines))


def reaching(command: F) -> F:
    """Give a command the options --url and --key."""
    command = click.option(
        "--key",
        envvar="COATLEDGER_KEY",
        help="Key of the service. Default: COATLEDGER_KEY, then the configuration file.",
    )(command)
    return click.option(
        "--url",
        envvar="COATLEDGER_URL",
        help="Address of the service. Default: COATLEDGER_URL, then the configuration file.",
    )(command)


def place_of(url: str | None, key: str | None) -> Place:
    """Complete address and key from the configuration file, or say what is missing."""
    path = configuration_file()
    if url is None or key is None:
        kept = _kept(path)
        url, key = url or kept.get("url"), key or kept.get("key")
    missing = [name for name, value in (("address", url), ("key", key)) if not value]
    if url is None or key is None or missing:
        options = " and ".join(f"--{'url' if name == 'address' else 'key'}" for name in missing)
        names = " and ".join(
            f"COATLEDGER_{'URL' if name == 'address' else 'KEY'}" for name in missing
        )
        raise Misused(
            f"The service's {' and '.join(missing)} {'is' if len(missing) == 1 else 'are'} not"
            f" known. Give {options}, or set {names}, or write the file {path}."
        )
    if not url.startswith(("http://", "https://")):
        raise Misused(f"The service's address {url!r} does not begin with http:// or https://.")
    return Place(url.rstrip("/"), key)


def configuration_file() -> Path:
    """Return the path of the file that keeps address and key."""
    folder = os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config"
    return Path(folder) / "coatledger"


def _kept(path: Path) -> Mapping[str, str]:
    try:
        kept = tomllib.loads(path.read_text(encoding="utf-8"))
    except (FileNotFoundError, NotADirectoryError):
        return {}
    except (OSError, ValueError) as fault:
        raise Misused(f"The file {path} cannot be read: {fault}") from None
    wrong = [name for name, value in kept.items() if not isinstance(value, str)]
    if wrong or not kept.keys() <= {"url", "key"}:
        raise Misused(f'The file {path} holds lines such as url = "…" and key = "…" only.')
    return kept


class Service:
    """One service, spoken to over HTTP with one connection kept open."""

    def __init__(self, place: Place) -> None:
        self._url = place.url
        headers = {"Authorization": f"Bearer {place.key}"}
        self._client = httpx.Client(
            base_url=place.url, headers=headers, timeout=TIMEOUT_S, follow_redirects=False
        )

    def __enter__(self) -> "Service":
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._client.close()

    def get(self, path: str, **query: Asked) -> bytes:
        """Ask; parameters that are None are left out."""
        asked = {name: value for name, value in query.items() if value is not None}
        return self._answer("GET", path, params=asked)

    def post(self, path: str, body: bytes, **headers: str) -> bytes:
        """Send a JSON body."""
        said = {"Content-Type": "application/json", **headers}
        return self._answer("POST", path, content=body, headers=said)

    def send(self, method: str, path: str, body: bytes) -> bytes:
        """Send a JSON body by a method of its own."""
        said = {"Content-Type": "application/json"}
        return self._answer(method, path, content=body, headers=said)

    def delete(self, path: str) -> None:
        """Delete what is there."""
        self._answer("DELETE", path)

    def _answer(self, method: str, path: str, **how: Any) -> bytes:
        try:
            answer = self._client.request(method, path, **how)
        except httpx.HTTPError as fault:
            raise Lost(self._url, str(fault) or type(fault).__name__) from None
        except (httpx.InvalidURL, UnicodeEncodeError) as fault:
            raise Misused(f"The service's address or key cannot be used: {fault}") from None
        if answer.is_success:
            return answer.content
        raise Refusal(answer.status_code, answer.content)
