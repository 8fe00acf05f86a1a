"""The pages on transport and reception name what there is."""

import re
from pathlib import Path

import pytest

import cubital
from cubital.custody import KINDS

ROOT = Path(__file__).parent.parent
TABLES = Path(cubital.__file__).parent / "catalogue" / "tables"
PAGES = ("transport.md", "reception.md")


@pytest.mark.parametrize("name", PAGES)
def test_what_a_page_names_is_there(name: str) -> None:
    """Tables, events, other pages and benchmarks."""
    text = (ROOT / "docs" / name).read_text("utf-8")
    tables = set(re.findall(r"`(\w+\.csv)`", text))
    assert tables
    assert not [each for each in tables if not (TABLES / each).exists()]
    kinds = set(re.findall(r"`((?:specimen|box|override|recollection|requester)_\w+)`", text))
    assert kinds
    assert kinds <= set(KINDS)
    links = re.findall(r"\]\(([\w.-]+\.md)\)", text)
    assert links
    assert not [each for each in links if not (ROOT / "docs" / each).exists()]


def test_the_reception_page_names_every_kind_of_answer() -> None:
    """The words on the screen are those of the page."""
    text = (ROOT / "docs" / "reception.md").read_text("utf-8")
    scan = (Path(cubital.__file__).parent / "desk" / "reception" / "scan.py").read_text("utf-8")
    for word in ("Accepted, remark", "Already here", "Misread", "Not known", "Not told of yet",
                 "Not filled"):  # fmt: skip
        assert word in text
        assert f'"{word}"' in scan
