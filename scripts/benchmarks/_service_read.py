"""Reading one piece over HTTP, beside a bare handler of the same framework, in turns of one run.

Both check the same key under the same server and answer with the same struct: ours works it out
from the ledger, the bare one holds it in memory and lets the framework encode it. One piece is
asked again and again, as a page at the bench does; then every piece in turn, so that no answer is
asked twice within the time it is kept.
"""

from __future__ import annotations

import re
import statistics
import subprocess
from collections.abc import Mapping, Sequence
from pathlib import Path

from _ledger_http import served
from _ledger_load import found_in, generator, load_requests
from _ledger_servers import SECRET
from _ledger_world import BLOCK, GROUPS, SHOP, begin, coat, described, fill, pieces, prepared
from coatledger_adapters.keys import make_key
from coatledger_adapters.migrate import migrate
from coatledger_adapters.sql_store import open_store

CLIENTS = 16
SCRIPT = """
local headers = {{["Authorization"] = "Bearer {token}"}}
local words, n = {{{words}}}, 0
function request()
  n = n + 1
  return wrk.format("GET", "/v1/pieces/" .. words[(n - 1) % #words + 1], headers)
end
"""


def reading(folder: Path, rounds: int, seconds: int) -> Mapping[str, float]:
    """Return the rates and their ratios, medians over the rounds."""
    token, key = make_key(SECRET, "measure", ("read",), 0)
    ledger = f"sqlite:///{folder / 'read.db'}"
    words = begun_shop(ledger)
    told = f"{key.key_id}:{key.token_hash.hex()}:read"
    sides = (("bare", words[:1]), ("ours", words[:1]), ("ours", words))
    rates: dict[int, list[float]] = {0: [], 1: [], 2: []}
    for turn in range(rounds):
        for place in range(len(sides)):
            number = (turn + place) % len(sides)
            kind, asked = sides[number]
            with served(f"read_{kind}", ledger, told) as port:
                load(port, token, asked, 1, folder)
                rates[number].append(load(port, token, asked, seconds, folder))
    bare, same, each = (statistics.median(rates[number]) for number in range(3))
    return {
        "read_piece_vs_bare": round(same / bare, 3),
        "read_each_piece_vs_bare": round(each / bare, 3),
        "read_bare_per_s": round(bare),
        "read_piece_per_s": round(same),
        "read_each_piece_per_s": round(each),
    }


def begun_shop(address: str) -> Sequence[str]:
    """Make a ledger of one block of coats, and return its pieces: each has three coats by now."""
    migrate(address)
    store = open_store(address, SHOP)
    day = begin()
    fill(store, described(day))
    fill(store, prepared(day, 0))
    fill(store, (coat(day, number) for number in range(BLOCK)))
    store.close()
    return [word for group in range(GROUPS) for word in pieces(0, group)]


def load(port: int, token: str, words: Sequence[str], seconds: int, folder: Path) -> float:
    """Return the answers a second to so many clients; all must be good ones."""
    if generator() != "wrk":
        head = f"HTTP/1.1\r\nHost: shop\r\nAuthorization: Bearer {token}\r\n\r\n"
        asked = [f"GET /v1/pieces/{word} {head}".encode() for word in words]
        found = load_requests(port, asked * max(1, CLIENTS // len(asked)), seconds, CLIENTS)
        assert found.refused == 0
        return found.per_s
    script = folder / "read.lua"
    listed = ", ".join(f'"{word}"' for word in words)
    script.write_text(SCRIPT.format(token=token, words=listed), encoding="ascii")
    command = ["wrk", "-t1", f"-c{CLIENTS}", f"-d{seconds}s", "-s", str(script)]
    done = subprocess.run(
        [*command, f"http://127.0.0.1:{port}"], capture_output=True, text=True, check=True
    )
    assert not re.search("Non-2xx", done.stdout), done.stdout
    return float(found_in(r"Requests/sec:\s+([\d.]+)", done.stdout))
