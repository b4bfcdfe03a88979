"""The one door through which this service asks others: a message, posted to one checked address.

The name is resolved here, every address it has is judged, and the connection goes to one that was
judged, under the name it was asked for. No proxy, no redirect, no cookie; one deadline over all.
"""

import asyncio
import contextlib
import functools
import socket
import ssl
from collections.abc import Awaitable, Callable, Mapping
from threading import Thread
from typing import Final, NamedTuple

import h11

from coatledger_adapters.webhooks.targets import Target, TargetError, target_of, why_closed

ANSWER_BYTES_MAX: Final = 64 * 1024
READ_BYTES: Final = 16 * 1024
RETRY_AFTER_DIGITS: Final = 6
Resolve = Callable[[str, int], Awaitable[tuple[str, ...]]]


class Outcome(NamedTuple):
    """What became of one try: the receiver's status, or none, and what to tell about it."""

    status: int | None
    says: str
    retry_after_s: float | None = None

    @property
    def is_delivered(self) -> bool:
        """Whether the receiver has it. *Reference:* Standard Webhooks 1.0.0: any 2xx."""
        return self.status is not None and 200 <= self.status < 300


async def resolve(host: str, port: int) -> tuple[str, ...]:
    """Ask the system for the addresses of a name, in a thread nobody has to wait for."""
    loop = asyncio.get_running_loop()
    found: asyncio.Future[tuple[str, ...]] = loop.create_future()

    def tell(addresses: tuple[str, ...] | None, error: Exception | None) -> None:
        if found.done():
            return
        if addresses is None:
            found.set_exception(error or OSError("no address"))
        else:
            found.set_result(addresses)

    def ask() -> None:
        addresses, error = None, None
        try:
            answers = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
            addresses = tuple(dict.fromkeys(str(answer[4][0]) for answer in answers))
        except (OSError, UnicodeError) as failed:
            error = failed
        # The loop may have ended while the system was still looking.
        with contextlib.suppress(RuntimeError):
            loop.call_soon_threadsafe(tell, addresses, error)

    Thread(target=ask, name="coatledger-resolver", daemon=True).start()
    return await found


class Sender:
    """Posts messages. `allowed` are hosts with their ports that may lie in the shop's network."""

    def __init__(
        self, allowed: frozenset[str], timeout_s: float, *, resolve: Resolve = resolve,
        tls: Callable[[], ssl.SSLContext] = ssl.create_default_context,
    ) -> None:  # fmt: skip
        self.allowed = allowed
        self.timeout_s = timeout_s
        self._resolve = resolve
        # Reading the certificates of all authorities takes a moment, and most never send anything.
        self._tls = functools.cache(tls)

    async def post(self, url: str, headers: Mapping[str, str], body: bytes) -> Outcome:
        """Post one message; whatever happens is an outcome."""
        try:
            async with asyncio.timeout(self.timeout_s):
                target = target_of(url, self.allowed)
                addresses = await self._checked(target)
                return await self._posted(target, addresses, headers, body)
        except TargetError as error:
            return Outcome(None, str(error))
        except TimeoutError:
            return Outcome(None, f"no answer within {self.timeout_s:g} s")
        except ssl.SSLError as error:
            return Outcome(None, f"no trust in its certificate: {error.reason or error}")
        except (OSError, EOFError) as error:
            return Outcome(None, f"the connection failed: {str(error) or type(error).__name__}")
        except h11.RemoteProtocolError as error:
            return Outcome(None, f"its answer is not whole, or no HTTP: {error}")

    async def _checked(self, target: Target) -> tuple[str, ...]:
        """Resolve a name; one closed address among several closes it, for any may be chosen."""
        try:
            addresses = await self._resolve(target.host, target.port)
        except (OSError, UnicodeError) as error:
            raise TargetError(f"{target.host} has no address: {error}") from None
        for address in addresses:
            why = why_closed(address, is_allowed=target.is_allowed)
            if why is not None:
                raise TargetError(f"{target.host} leads to {why}")
        if not addresses:
            raise TargetError(f"{target.host} has no address")
        return addresses

    async def _posted(
        self, target: Target, addresses: tuple[str, ...], headers: Mapping[str, str], body: bytes
    ) -> Outcome:
        reader, writer = await self._connected(target, addresses)
        try:
            ours = h11.Connection(h11.CLIENT)
            sent = {"Host": target.authority, **headers, "Content-Length": str(len(body)),
                    "Connection": "close"}  # fmt: skip
            request = h11.Request(method="POST", target=target.path, headers=list(sent.items()))
            head, end = ours.send(request), ours.send(h11.Data(body))
            writer.write((head or b"") + (end or b"") + (ours.send(h11.EndOfMessage()) or b""))
            await writer.drain()
            return await _answer(ours, reader)
        finally:
            writer.transport.abort()

    async def _connected(
        self, target: Target, addresses: tuple[str, ...]
    ) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
        failed: OSError | None = None
        tls = self._tls() if target.is_encrypted else None
        name = target.host if target.is_encrypted else None
        for address in addresses:
            try:
                return await asyncio.open_connection(
                    address, target.port, ssl=tls, server_hostname=name
                )
            except ssl.SSLError:
                raise
            except OSError as error:
                failed = error
        assert failed is not None
        raise failed


async def _answer(ours: h11.Connection, reader: asyncio.StreamReader) -> Outcome:
    """Read the status, and see that the answer is whole; of its body nothing is kept."""
    answer: h11.Response | None = None
    size = 0
    while True:
        event = ours.next_event()
        if event is h11.NEED_DATA:
            ours.receive_data(await reader.read(READ_BYTES))
        elif isinstance(event, h11.Response):
            answer = event
        elif isinstance(event, h11.Data):
            size += len(event.data)
        elif not isinstance(event, h11.InformationalResponse):
            break
        if size > ANSWER_BYTES_MAX:
            break
    if answer is None:
        raise EOFError("it was closed before an answer came")
    return Outcome(answer.status_code, _words(answer), _retry_after_s(answer))


def _words(answer: h11.Response) -> str:
    status = answer.status_code
    if 200 <= status < 300:
        return ""
    if 300 <= status < 400:
        return f"answered {status}; redirects are not followed: change the address instead"
    return f"answered {status}"


def _retry_after_s(answer: h11.Response) -> float | None:
    for name, value in answer.headers:
        if name == b"retry-after" and value.isdigit() and len(value) <= RETRY_AFTER_DIGITS:
            return float(value)
    return None
