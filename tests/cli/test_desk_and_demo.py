"""``cubital desk`` and ``cubital demo``: real processes on a real port."""

from __future__ import annotations

import http.client
import os
import signal
import socket
import stat
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.postgres import free_port

CUBITAL = [sys.executable, "-c", "from cubital.cli import main; main()"]
PATIENCE_S = 60


def environment(**more: str) -> dict[str, str]:
    """Nothing of the desk's own settings, but what is given."""
    kept = {k: v for k, v in os.environ.items() if not k.startswith(("CUBITAL_", "DJANGO_"))}
    return {**kept, **more}


def page(port: int, path: str) -> tuple[int, str]:
    """Status and text of a page."""
    door = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    door.request("GET", path)
    answer = door.getresponse()
    text = answer.read().decode()
    door.close()
    return answer.status, text


@contextmanager
def running(folder: Path, command: str, **more: str) -> Iterator[tuple[int, Path]]:
    """Run it in a folder until its door is open; gives the port and what it has printed."""
    port, printed = free_port(), folder / "printed.txt"
    with printed.open("wb") as out:
        process = subprocess.Popen(
            [*CUBITAL, command, "--port", str(port)], cwd=folder, env=environment(**more),
            stdin=subprocess.DEVNULL, stdout=out, stderr=out,
        )  # fmt: skip
        try:
            last = time.monotonic() + PATIENCE_S
            while True:
                assert process.poll() is None, printed.read_text()
                assert time.monotonic() < last, printed.read_text()
                try:
                    page(port, "/sign-in/")
                    break
                except OSError:
                    time.sleep(0.1)
            yield port, printed
        finally:
            process.send_signal(signal.SIGTERM)
            process.wait(PATIENCE_S)


def test_the_demo_opens_twice_and_says_who_may_sign_in(tmp_path: Path) -> None:
    """From an empty folder: address and sign-ins are printed, pages have their look, twice over."""
    for _ in range(2):
        with running(tmp_path, "demo") as (port, printed):
            status, text = page(port, "/sign-in/")
            assert status == 200
            style = text.split('rel="stylesheet" href="')[1].split('"')[0]
            assert page(port, style)[0] == 200
            said = printed.read_text(encoding="utf-8")
            assert f"http://127.0.0.1:{port}/" in said
            names = ("mira", "joren", "sade", "ilko", "runa", "ostrel-valley")
            assert all(f" {name} " in f"{said} ".replace("\n", " ") for name in names)
            badges = [line.split() for line in said.splitlines() if "BADGE-" in line]
            assert {line[0]: line[2] for line in badges} == {
                "BADGE-MIRA": "(Mira", "BADGE-RUNA": "(Runa", "BADGE-JOREN": "(Joren",
            }  # fmt: skip
    secret = tmp_path / "var" / "demo" / "secret"
    assert stat.S_IMODE(secret.stat().st_mode) == 0o600


def test_the_desk_lets_a_first_manager_in(tmp_path: Path) -> None:
    """Named by the environment where nobody sits at the keyboard; no demo people are there."""
    manager = {"CUBITAL_MANAGER": "ilko", "CUBITAL_MANAGER_PASSWORD": "seven-cold-rivers"}
    with running(tmp_path, "desk", **manager) as (port, _):
        status, text = page(port, "/sign-in/")
        assert status == 200
        assert "ostrel-valley" not in text
    with running(tmp_path, "desk") as (port, _):
        assert page(port, "/")[0] == 302


def refused(folder: Path, *arguments: str, **more: str) -> str:
    """Run what must be refused; gives its last line."""
    done = subprocess.run(
        [*CUBITAL, *arguments], cwd=folder, env=environment(**more), stdin=subprocess.DEVNULL,
        capture_output=True, text=True, timeout=PATIENCE_S, check=False,
    )  # fmt: skip
    assert done.returncode == 2, done.stderr
    assert "Traceback" not in done.stderr
    return done.stderr.strip().splitlines()[-1]


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({}, "Nobody may sign in yet"),
        ({"CUBITAL_MANAGER": "ilko", "CUBITAL_MANAGER_PASSWORD": "ilko"}, "password"),
        ({"CUBITAL_DATABASE": "mysql://x/y"}, "write sqlite:///PATH"),
    ],
)
def test_a_desk_that_cannot_open_says_why(tmp_path: Path, more: dict[str, str], words: str) -> None:
    """Nobody to sign in, a guessed password, a database it does not know: one sentence, exit 2."""
    assert words in refused(tmp_path, "desk", "--port", str(free_port()), **more)


@pytest.mark.parametrize("command", ["desk", "demo"])
def test_a_taken_port_is_said_before_anything_else(tmp_path: Path, command: str) -> None:
    """Another program's port: one sentence with the mend, nothing made."""
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = str(other.getsockname()[1])
        assert "choose another with --port" in refused(tmp_path, command, "--port", port)
    assert not (tmp_path / "var").exists()
