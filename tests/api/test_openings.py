"""The service waits to be asked. It asks others through one door, and only where a webhook is."""

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
DOOR = ROOT / "adapters" / "coatledger_adapters" / "webhooks" / "sending.py"
OPENERS = ("httpx", "requests", "aiohttp", "urllib3", "smtplib", "ftplib", "websockets")
# Words that open a connection, of the library's own modules.
OPENING = frozenset(
    ("create_connection", "open_connection", "open_unix_connection", "getaddrinfo", "urlopen",
     "HTTPConnection", "HTTPSConnection", "connect_ex", "sock_connect", "SMTP", "FTP")
)  # fmt: skip
# The command line is another program: it asks the service.
COMMANDS = ROOT / "api" / "coatledger_api" / "commands"

A_DAY = """
import sys
sys.path[:0] = {path!r}
opened = []
sys.addaudithook(lambda event, args: event == "socket.connect" and opened.append(args[1]))
from receiver import receiving, until
from served import serving
from coatledger.ledger.memory import MemoryStore
from coatledger_api.settings import Settings
with receiving() as receiver:
    settings = Settings(webhook_hosts=receiver.host, webhook_poll_s=0.02)
    with serving(MemoryStore("trial"), settings) as served:
        served.pieces("a")
        served.record("shipped", pieces=["a"])
        served.get("/v1/pieces/a")
        before = list(opened)
        body = {{"label": "x", "url": receiver.url, "kinds": ["shipped"]}}
        assert served.ask("POST", "/v1/webhooks", json=body).status_code == 201
        served.pieces("b")
        served.record("shipped", pieces=["b"])
        receiver.wait_for(1)
    assert before == [], before
    assert set(opened) == {{receiver.server_address}}, opened
"""


def opening(path: Path) -> Iterator[str]:
    """Name what in a source file can open a connection."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        word = node.attr if isinstance(node, ast.Attribute) else getattr(node, "id", None)
        if word in OPENING:
            yield str(word)


def test_one_module_of_the_service_can_open_a_connection() -> None:
    sources = [
        *ROOT.glob("core/**/*.py"),
        *ROOT.glob("adapters/**/*.py"),
        *ROOT.glob("api/**/*.py"),
    ]
    found = {path for path in sources if COMMANDS not in path.parents and list(opening(path))}
    assert found == {DOOR}


def test_the_service_loads_nothing_else_that_opens_addresses() -> None:
    code = (
        "import sys; import coatledger_api.app, coatledger_api.server\n"
        "import coatledger_adapters.sql_store, coatledger_adapters.sql_keys\n"
        f"print([name for name in {OPENERS!r} if name in sys.modules])"
    )
    path = ":".join(part for part in sys.path if part)
    ran = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60,
        env={"PYTHONPATH": path},
    )  # fmt: skip
    assert ran.stdout.strip() == "[]"


def test_on_a_day_of_work_it_connects_to_its_receivers_and_to_nobody_else() -> None:
    """Python itself tells of every connection of a process, whatever opens it."""
    code = A_DAY.format(path=[part for part in sys.path if part])
    ran = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, timeout=60
    )
    assert ran.returncode == 0, ran.stderr
