"""A number that a laboratory may change does something when it is changed."""

from __future__ import annotations

from pathlib import Path

import cubital
from cubital.catalogue import shipped

PACKAGE = Path(cubital.__file__).parent
PUT_TOGETHER = ("nadler_male_", "nadler_female_")
"""Keys that are made of pieces where they are read."""


def test_every_setting_is_read_by_a_room_or_a_screen() -> None:
    """A row that nobody reads would promise a laboratory what it does not keep."""
    code = "\n".join(path.read_text(encoding="utf-8") for path in PACKAGE.rglob("*.py"))
    keys = [key for key in shipped().settings if not key.startswith(PUT_TOGETHER)]
    assert len(keys) > 50
    assert [key for key in keys if f'"{key}"' not in code] == []
