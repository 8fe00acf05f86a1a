"""The command line starts fast and ends with the right code: real processes."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from cubital.cli import COMMANDS, main


def run(*words: str | Path) -> subprocess.CompletedProcess[str]:
    """Run cubital as a person does."""
    start = "from cubital.cli import main; main()"
    return subprocess.run(
        [sys.executable, "-c", start, *map(str, words)],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def test_help_lists_every_command_without_loading_one():
    """Names and lines come from the register."""
    done = run("--help")
    assert done.returncode == 0
    for name, (_, line) in COMMANDS.items():
        assert name in done.stdout
        assert line in done.stdout


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_every_command_is_where_the_register_says(name: str):
    """And answers to --help."""
    done = run(name, "--help")
    assert done.returncode == 0
    assert f"Usage: cubital {name}" in done.stdout or "Usage:" in done.stdout


def test_an_unknown_command_is_refused():
    """With its name."""
    done = run("plant")
    assert done.returncode == 2
    assert "plant" in done.stderr


def test_planning_loads_neither_the_desk_nor_the_labels(requisition: Path):
    """A cold start pays for what it needs only."""
    look = (
        "import sys; from cubital.cli import main; main(sys.argv[1:], standalone_mode=False); "
        "print([m for m in ('django', 'reportlab', 'multiprocessing', 'jsonschema')"
        " if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", look, "plan", str(requisition), "--json"],
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    assert done.stdout.splitlines()[-1] == "[]"
    assert json.loads("".join(done.stdout.splitlines()[:-1]))["schema"] == "cubital.plan/1"


def test_bad_input_ends_with_code_2_and_one_sentence(tmp_path: Path):
    """On standard error, without a trace."""
    path = tmp_path / "empty.json"
    path.write_bytes(b"")
    done = run("plan", path)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr == (
        "cubital: empty.json: the file is empty. Give a requisition in JSON or CSV.\n"
    )


def test_good_input_ends_with_code_0(requisition: Path):
    """And a plan on standard output."""
    done = run("plan", requisition)
    assert done.returncode == 0
    assert done.stderr == ""
    assert "R-2026-0007" in done.stdout


def test_the_register_is_sorted():
    """As the help shows it."""
    assert list(main.lazy) == sorted(main.lazy)
