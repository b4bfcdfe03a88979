"""Load from outside: so many connections, each sending its next fact when the last is answered.

`wrk` (https, Debian package `wrk`) does it where it is installed, else a client of ours in a
process of its own. Which of them it was is told with the figures.
"""

from __future__ import annotations

import asyncio
import multiprocessing
import re
import shutil
import statistics
import subprocess
import time
from collections.abc import Sequence
from multiprocessing.connection import Connection
from pathlib import Path
from typing import NamedTuple

UNITS_MS = {"us": 0.001, "ms": 1.0, "s": 1000.0, "m": 60_000.0}
SCRIPT = """
local bodies, next_one = {{}}, 0
for line in io.lines("{file}") do bodies[#bodies + 1] = line end
local headers = {{["Content-Type"] = "application/json", ["Authorization"] = "Bearer {token}"}}
function request()
  next_one = next_one + 1
  return wrk.format("POST", "/v1/events", headers, bodies[(next_one - 1) % #bodies + 1])
end
"""


class Load(NamedTuple):
    """What one run came to."""

    per_s: float
    p50_ms: float
    p99_ms: float
    answered: int
    refused: int


def generator() -> str:
    """Name what makes the load on this machine."""
    return "wrk" if shutil.which("wrk") else "own client"


def load(
    port: int, token: str, bodies: Sequence[bytes], seconds: int, clients: int, folder: Path
) -> Load:
    """Send bodies from so many connections for so many seconds."""
    if shutil.which("wrk"):
        return _wrk(port, token, bodies, seconds, clients, folder)
    return _own(port, token, bodies, seconds, clients)


def _wrk(
    port: int, token: str, bodies: Sequence[bytes], seconds: int, clients: int, folder: Path
) -> Load:
    lines, script = folder / "bodies", folder / "load.lua"
    lines.write_bytes(b"\n".join(bodies) + b"\n")
    script.write_text(SCRIPT.format(file=lines, token=token), encoding="ascii")
    words = ["wrk", "-t1", f"-c{clients}", f"-d{seconds}s", "--latency", "-s", str(script)]
    done = subprocess.run(
        [*words, f"http://127.0.0.1:{port}"], capture_output=True, text=True, check=True
    )
    said = done.stdout
    refused = re.search(r"Non-2xx or 3xx responses: (\d+)", said)
    return Load(
        per_s=float(found_in(r"Requests/sec:\s+([\d.]+)", said)),
        p50_ms=_ms(found_in(r"\n\s+50%\s+(\S+)", said)),
        p99_ms=_ms(found_in(r"\n\s+99%\s+(\S+)", said)),
        answered=int(found_in(r"(\d+) requests in", said)),
        refused=int(refused[1]) if refused else 0,
    )


def found_in(pattern: str, said: str) -> str:
    found = re.search(pattern, said)
    assert found is not None, said
    return found[1]


def _ms(told: str) -> float:
    found = re.fullmatch(r"([\d.]+)(us|ms|s|m)", told)
    assert found is not None, told
    return float(found[1]) * UNITS_MS[found[2]]


def _own(port: int, token: str, bodies: Sequence[bytes], seconds: int, clients: int) -> Load:
    head = (
        f"POST /v1/events HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nAuthorization: Bearer {token}\r\n"
        "Content-Type: application/json\r\nContent-Length: "
    ).encode()
    requests = [head + str(len(body)).encode() + b"\r\n\r\n" + body for body in bodies]
    return load_requests(port, requests, seconds, clients)


def load_requests(port: int, requests: Sequence[bytes], seconds: int, clients: int) -> Load:
    """Send whole requests, by the client of ours."""
    receiving, sending = multiprocessing.get_context("spawn").Pipe(duplex=False)
    client = multiprocessing.get_context("spawn").Process(
        target=_client, args=(sending, port, requests, seconds, clients)
    )
    client.start()
    found: Load = receiving.recv()
    client.join()
    return found


def _client(  # a process of its own, so that it shares no interpreter with what it measures
    sending: Connection[Load, None], port: int, requests: Sequence[bytes], seconds: int,
    clients: int,
) -> None:  # fmt: skip
    sending.send(asyncio.run(_all_clients(port, requests, seconds, clients)))


async def _all_clients(port: int, requests: Sequence[bytes], seconds: int, clients: int) -> Load:
    waits: list[float] = []
    refused = [0]
    begun = time.perf_counter()
    ends = begun + seconds

    async def one(number: int) -> None:
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        while (sent := time.perf_counter()) < ends:
            writer.write(requests[number % len(requests)])
            number += clients
            head = await reader.readuntil(b"\r\n\r\n")
            length = re.search(rb"(?i)content-length: (\d+)", head)
            assert length is not None
            await reader.readexactly(int(length[1]))
            waits.append(time.perf_counter() - sent)
            refused[0] += head[9:10] != b"2"
        writer.close()

    await asyncio.gather(*(one(number) for number in range(clients)))
    waits.sort()
    took_s = time.perf_counter() - begun
    return Load(
        per_s=len(waits) / took_s,
        p50_ms=statistics.median(waits) * 1000,
        p99_ms=waits[len(waits) * 99 // 100] * 1000,
        answered=len(waits),
        refused=refused[0],
    )
