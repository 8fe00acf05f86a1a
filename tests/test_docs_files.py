"""The pages on files say what is so."""

import json
import re
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest

from cubital.catalogue import load_catalogue, shipped
from cubital.cli.show_sources import sources_page
from cubital.requisition import patient, read_requisitions, shape, table
from tests.catalogue.small import lay

DOCS = Path(__file__).parent.parent / "docs"
NOW = datetime(2026, 3, 2, 8, tzinfo=timezone(timedelta(hours=5, minutes=45)))


def blocks(page: str, language: str) -> list[str]:
    """The code blocks of a page."""
    text = (DOCS / page).read_text("utf-8")
    return re.findall(rf"```{language}\n(.*?)```", text, re.DOTALL)


def test_the_examples_of_requisitions_are_read():
    """JSON and CSV of the page, and both mean the same first patient."""
    [as_json], [as_csv] = blocks("requisitions.md", "json"), blocks("requisitions.md", "csv")
    read = [
        read_requisitions(text, name="example", catalogue=shipped(), now=NOW)
        for text in (as_json, as_csv)
    ]
    assert read[0][0].patient.prior_draws == read[1][0].patient.prior_draws
    assert read[0][0].tests[0].through == ("renal",)
    assert [one.number for one in read[1]] == ["R-2026-0007", "R-2026-0008"]


def test_the_page_names_every_field_and_column():
    """None is left for the reader to find in the code."""
    text = (DOCS / "requisitions.md").read_text("utf-8")
    names = {*shape.FIELDS, *patient.PATIENT_FIELDS, *patient.ANSWER_FIELDS, *table.COLUMNS}
    assert {name for name in names if not re.search(rf"\b{name}\b", text)} == set()


def test_the_example_of_own_tables_is_laid_over(tmp_path: Path):
    """The source and the row of the page."""
    [source], [rows] = blocks("own-tables.md", "toml"), blocks("own-tables.md", "csv")
    folder = lay(tmp_path / "ostrel", test_volumes=rows, sources_toml=source)
    catalogue = load_catalogue(folder)
    assert catalogue.volume_ul("potassium") == 35
    assert catalogue.volumes["potassium"].layer == "ostrel"


def test_the_page_of_sources_is_up_to_date():
    """Make it anew with: cubital catalogue sources --out docs/sources.md."""
    assert (DOCS / "sources.md").read_text("utf-8") == sources_page(shipped())


@pytest.mark.parametrize("name", ["src/cubital/requisition/schema/requisition-1.json",
                                  "src/cubital/cli/schema/batch-1.json"])  # fmt: skip
def test_the_schemas_are_where_the_page_says(name: str):
    """And are JSON."""
    assert name in (DOCS / "requisitions.md").read_text("utf-8")
    assert json.loads((DOCS.parent / name).read_text("utf-8"))["title"].startswith("cubital.")
