"""The API against its own description, fuzzed from outside: no 500, and only what it declares."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests.postgres import free_port
from tests.record.conftest import database, databases
from tests.serving import TOKEN, servers, session_for

__all__ = ["database", "databases"]
CHECKS = (
    "not_a_server_error", "status_code_conformance", "content_type_conformance",
    "response_schema_conformance", "response_headers_conformance",
)  # fmt: skip
"""A wrong event is answered in its own line, with 200 for the list: that it is refused with a 4xx
is the one thing not asked."""


@pytest.mark.parametrize("database", ["sqlite"], indirect=True)
def test_the_api_answers_anything_as_it_says(database: str, tmp_path: Path) -> None:
    """Good and broken requests made from the description, against the real server."""
    cookie = f"Cookie: sessionid={session_for('mira')}; csrftoken={TOKEN}"
    with servers(database) as starter:
        port = free_port()
        starter.start(port)
        done = subprocess.run(
            [
                str(Path(sys.executable).with_name("schemathesis")), "run",
                f"http://127.0.0.1:{port}/api/openapi.json",
                "--header", cookie, "--header", f"X-CSRFToken: {TOKEN}",
                "--seed", "20261125", "--max-examples", "25", "--no-color",
                "--checks", ",".join(CHECKS),
            ],
            cwd=tmp_path,
            capture_output=True,
            text=True,
        )  # fmt: skip
    assert done.returncode == 0, done.stdout[-4000:]
