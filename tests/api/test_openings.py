"""The service waits to be asked: it has nothing at hand to ask others with."""

import subprocess
import sys

OPENERS = ("httpx", "requests", "aiohttp", "urllib3", "smtplib", "ftplib", "websockets")


def test_the_service_loads_nothing_that_opens_addresses() -> None:
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
