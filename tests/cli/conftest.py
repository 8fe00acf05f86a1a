"""What the tests of the command line share."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from cubital.cli import main
from tests.requisition.examples import WHOLE, small

NOW = "2026-03-02T08:00+05:45"


@pytest.fixture(autouse=True)
def plain_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """A wide terminal without colours, and none of the person's own settings."""
    monkeypatch.setenv("COLUMNS", "1000")
    monkeypatch.setenv("NO_COLOR", "1")
    for name in ("CUBITAL_CATALOGUE", "CUBITAL_TIME_ZONE", "CUBITAL_ALTITUDE_M", "FORCE_COLOR"):
        monkeypatch.delenv(name, raising=False)


@pytest.fixture
def cubital() -> Callable[..., Result]:
    """Run the command line in this process."""

    def call(*words: str | Path) -> Result:
        return CliRunner().invoke(main, [str(word) for word in words])

    return call


@pytest.fixture
def requisition(tmp_path: Path) -> Path:
    """One requisition as a JSON file."""
    path = tmp_path / "one.json"
    path.write_text(json.dumps(WHOLE), encoding="utf-8")
    return path


@pytest.fixture
def written(tmp_path: Path) -> Callable[..., Path]:
    """Write a short requisition with changes."""

    def write(**changes: Any) -> Path:
        path = tmp_path / "changed.json"
        path.write_text(json.dumps(small(**changes)), encoding="utf-8")
        return path

    return write
