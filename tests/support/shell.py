"""The command line called as a shell calls it, against a service under way."""

from __future__ import annotations

import json
from typing import Any, NamedTuple

from click.testing import CliRunner, Result
from coatledger.ledger.memory import MemoryStore
from coatledger_adapters.keys import MemoryKeys, make_key
from coatledger_api.commands.main import main

SECRET = bytes(32)


class Running(NamedTuple):
    """A service under way: where it is, a key that may do all, and its ledger."""

    url: str
    key: str
    store: MemoryStore
    keys: MemoryKeys

    def key_for(self, *scopes: str) -> str:
        """Make one more key."""
        token, kept = make_key(SECRET, "trial", scopes, 0)
        self.keys.add(kept)
        return token


def call(*words: str, told: str | bytes | None = None) -> Result:
    """Call the command line; what it says stands in `stdout` and `stderr`."""
    return CliRunner().invoke(main, list(words), input=told, catch_exceptions=False)


def asked(*words: str, told: str | bytes | None = None) -> Any:
    """Call the command line with --json and read what it says."""
    result = call(*words, "--json", told=told)
    assert result.stdout, result.stderr
    return json.loads(result.stdout)
