"""The README's receivers take what this service signs, and nothing else."""

from __future__ import annotations

import base64
import json
import re
import shutil
import subprocess
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest
from coatledger_adapters.webhooks.secrets import headers_for, make_secret

README = Path(__file__).resolve().parents[2] / "README.md"
BODY = '{"data":{"kind":"shipped","order":"Bücherregal"}}'.encode()
Check = Callable[[str, Mapping[str, str], bytes], bool]
NODE = """
import { isOurs } from "./receiver.mjs";
let told = "";
for await (const part of process.stdin) told += part;
const { secret, headers, body } = JSON.parse(told);
console.log(isOurs(secret, headers, Buffer.from(body, "base64")));
"""


def block(form: str) -> str:
    (text,) = re.findall(rf"```{form}\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)
    return str(text)


@pytest.fixture(params=["python", "js"])
def is_ours(request: pytest.FixtureRequest, tmp_path: Path) -> Check:
    """Each receiver of the README."""
    if request.param == "python":
        found: dict[str, Any] = {}
        exec(block("python"), found)
        check: Check = found["is_ours"]
        return check
    node = shutil.which("node")
    if node is None:
        pytest.skip("no node to run the README's receiver with")
    (tmp_path / "receiver.mjs").write_text(block("js"), encoding="utf-8")
    (tmp_path / "asked.mjs").write_text(NODE, encoding="utf-8")

    def by_node(secret: str, headers: Mapping[str, str], body: bytes) -> bool:
        told = {"secret": secret, "headers": headers, "body": base64.b64encode(body).decode()}
        ran = subprocess.run(
            [node, "asked.mjs"], cwd=tmp_path, input=json.dumps(told), text=True,
            capture_output=True, check=True, timeout=30,
        )  # fmt: skip
        return ran.stdout.strip() == "true"

    return by_node


def test_a_receiver_of_the_readme_takes_what_is_ours_and_nothing_bent(is_ours: Check) -> None:
    secret, older = make_secret(), make_secret()
    now_s = int(time.time())
    headers = headers_for([secret, older], "msg_1", now_s, BODY)
    assert is_ours(secret, headers, BODY)
    assert is_ours(older, headers, BODY)
    assert not is_ours(make_secret(), headers, BODY)
    assert not is_ours(secret, headers, BODY + b" ")
    assert not is_ours(secret, {**headers, "webhook-id": "msg_2"}, BODY)
    late = headers_for([secret], "msg_1", now_s - 400, BODY)
    assert not is_ours(secret, late, BODY)
    assert not is_ours(secret, {**headers, "webhook-signature": "v1,"}, BODY)
