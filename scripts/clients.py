"""Makes clients of the contract with public generators, and lets each do a round against a service.

A Python client (openapi-python-client) and a TypeScript one (openapi-typescript with openapi-fetch)
are made in a temporary folder, checked for their types, and used: record, read, follow the feed,
be refused. A generator's warning about anything of JSON fails, too: something is left out then.
Exit code 77 says that a tool is missing.
"""

import os
import subprocess
import sys
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path

from contract_tools import MISSING, MissingToolsError, node_tools, python_tools
from fuzz import Service, running_service

PYTHON_ROUND = """
import sys, uuid
from datetime import UTC, datetime
from coatledger_client import AuthenticatedClient
from coatledger_client.api.events import read_event, read_feed, record_events
from coatledger_client.api.pieces import read_piece
from coatledger_client.models import (
    CoatApplied, CoatAppliedType, PieceAnswer, PieceStarted, PieceStartedType, Problem, Recording,
)

def new_id():
    ms, low = int(datetime.now(UTC).timestamp() * 1000), uuid.uuid4().int
    return uuid.UUID(int=ms << 80 | 7 << 76 | 2 << 62 | low & ((1 << 62) - 1))

address, token = sys.argv[1:]
client = AuthenticatedClient(base_url=address, token=token)
started = PieceStarted.from_dict({
    "type": "piece_started", "id": str(new_id()), "occurred_at": datetime.now(UTC).isoformat(),
    "pieces": ["PY-1"], "kind": "bedside table", "species": "ash", "coat_area_m2": 0.5,
    "use": "decor",
})
first = record_events.sync_detailed(client=client, body=started)
assert first.status_code == 201 and isinstance(first.parsed, Recording), first
again = record_events.sync_detailed(client=client, body=started)
assert again.status_code == 200 and again.parsed.events[0].repeated is True, again
coat = CoatApplied.from_dict({
    "type": "coat_applied", "id": str(new_id()), "occurred_at": datetime.now(UTC).isoformat(),
    "pieces": ["PY-1"], "lot": "can-1", "wet_film_um": 100.5,
})
assert record_events.sync_detailed(client=client, body=coat).status_code == 201
piece = read_piece.sync("PY-1", client=client)
assert isinstance(piece, PieceAnswer) and piece.stage == "coated", piece
page = read_feed.sync(client=client)
told = [seen.event for seen in page.events if seen.event.id == coat.id]
assert len(told) == 1 and isinstance(told[0], CoatApplied) and told[0].wet_film_um == 100.5, page
assert read_event.sync(coat.id, client=client).event.to_dict() == told[0].to_dict()
missing = read_piece.sync("PY-2", client=client)
assert isinstance(missing, Problem) and missing.status == 404, missing
print("round done")
"""
TYPESCRIPT_ROUND = """
import createClient from "openapi-fetch";
import type { components, paths } from "./api";

type Piece = components["schemas"]["PieceAnswer"];
const [address, token] = process.argv.slice(2);
const client = createClient<paths>({
  baseUrl: address, headers: { Authorization: `Bearer ${token}` },
});
function must(holds: boolean, says: unknown): asserts holds {
  if (!holds) { console.error(says); process.exit(1); }
}
function newId(): string {
  const ms = Date.now().toString(16).padStart(12, "0");
  const low = crypto.randomUUID().slice(19);
  return `${ms.slice(0, 8)}-${ms.slice(8)}-7000-${low}`;
}
async function round(): Promise<void> {
  const occurred_at = new Date().toISOString();
  const started: components["schemas"]["PieceStarted"] = {
    type: "piece_started", id: newId(), occurred_at, pieces: ["TS-1"], kind: "jewellery box",
    species: "cherry", coat_area_m2: 0.25, use: "decor",
  };
  const first = await client.POST("/v1/events", { body: started });
  must(first.response.status === 201 && first.data !== undefined, first.error);
  const again = await client.POST("/v1/events", { body: started });
  must(again.response.status === 200, again.error);
  must(again.data?.events[0].position === first.data.events[0].position, again.data);
  const coat: components["schemas"]["CoatApplied"] = {
    type: "coat_applied", id: newId(), occurred_at, pieces: ["TS-1"], lot: "can-1",
    wet_film_um: 90.5,
  };
  must((await client.POST("/v1/events", { body: coat })).response.status === 201, coat);
  const read = await client.GET("/v1/pieces/{piece}", { params: { path: { piece: "TS-1" } } });
  const piece: Piece | undefined = read.data;
  must(piece?.stage === "coated", read.error ?? piece);
  const page = await client.GET("/v1/events", { params: { query: { limit: 500 } } });
  must(page.data !== undefined && "events" in page.data, page.error);
  const told = page.data.events.find((seen) => seen.event.id === coat.id)?.event;
  must(told?.type === "coat_applied" && told.wet_film_um === 90.5, told);
  const missing = await client.GET("/v1/pieces/{piece}", { params: { path: { piece: "TS-2" } } });
  must(missing.error?.status === 404 && missing.error.type === "/problems/not_found", missing);
  console.log("round done");
}
round().catch((error) => { console.error(error); process.exit(1); });
"""


# Pictures, tables and pages are fetched by their addresses; generators have no type for them.
NOT_JSON = "Unsupported content_type"


def python_client(service: Service, folder: Path) -> str:
    """Generate the Python client and use it; what is returned is wrong, "" nothing."""
    python = python_tools()
    generator = python.with_name("openapi-python-client")
    address = f"{service.address}/openapi.json"
    place = str(folder / "python")
    said = _run([str(generator), "generate", "--url", address, "--meta", "none",
                 "--output-path", f"{place}/coatledger_client"], folder)  # fmt: skip
    wrong = [told for told in said.split("WARNING")[1:] if NOT_JSON not in told]
    if wrong or "Unable to" in said:
        return said
    (folder / "round.py").write_text(PYTHON_ROUND, "utf-8")
    words = [str(python), "round.py", service.address, service.token]
    return _must(_run(words, folder, {"PYTHONPATH": place}), "round done")


def typescript_client(service: Service, folder: Path) -> str:
    """Generate the TypeScript client, compile it strictly and use it."""
    tools = node_tools()
    made = folder / "typescript"
    made.mkdir()
    (made / "node_modules").symlink_to(tools / "node_modules")
    (made / "round.ts").write_text(TYPESCRIPT_ROUND, "utf-8")
    programs = tools / "node_modules" / ".bin"
    said = _run([str(programs / "openapi-typescript"), f"{service.address}/openapi.json",
                 "--output", "api.ts", "--default-non-nullable", "false"], made)  # fmt: skip
    if not (made / "api.ts").exists():
        return said
    said = _run([str(programs / "tsc"), "--strict", "--target", "es2022", "--module", "nodenext",
                 "--moduleResolution", "nodenext", "--lib", "es2022,dom",
                 "--types", "node", "round.ts"], made)  # fmt: skip
    if said.strip():
        return said
    words = ["node", "round.js", service.address, service.token]
    return _must(_run(words, made), "round done")


def _must(said: str, words: str) -> str:
    return "" if words in said else said or "it said nothing"


def _run(command: list[str], folder: Path, more: Mapping[str, str] | None = None) -> str:
    """Run a command and return all it says."""
    done = subprocess.run(
        command, cwd=folder, text=True, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        env={**os.environ, **(more or {})}, check=False,
    )  # fmt: skip
    return done.stdout


CLIENTS: Mapping[str, Callable[[Service, Path], str]] = {
    "Python": python_client,
    "TypeScript": typescript_client,
}


def main() -> int:
    """Make and use both."""
    wrong = 0
    with running_service() as service, tempfile.TemporaryDirectory() as folder:
        for name, made in CLIENTS.items():
            try:
                said = made(service, Path(folder))
            except MissingToolsError as error:
                print(error)
                return MISSING
            print(f"{name} client: {'made, typed and used' if not said else 'FAILED'}", flush=True)
            if said:
                print(said)
            wrong += bool(said)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
