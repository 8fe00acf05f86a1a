"""The shipped tables themselves."""

from hypothesis import given, settings
from hypothesis import strategies as st

from cubital.catalogue import check_catalogue, model, model_bench, shipped
from cubital.catalogue.table import read_table

UNDATED = {
    "arterial-secondary", "culture_bottle_order", "edta-plasma-edrn", "hbig-ny", "infusion_review",
    "kellogg_hospital", "order_by_class", "precautions_guide", "rcf-formula", "retention-citrate",
    "retention-guide", "seizure-first-aid", "sites_avoided", "tbv_adolescent", "vein_choice",
}  # fmt: skip
"""Pages seen without a date whose addresses were not kept: this set may only become smaller."""


def test_the_shipped_tables_are_sound():
    """`cubital catalogue check` has nothing to say."""
    assert [str(problem) for problem in check_catalogue()] == []


def test_the_shipped_tables_hold_what_a_district_laboratory_runs():
    """At least 90 tests, every room's tables filled, every test within the reach of a tube."""
    catalogue = shipped()
    assert len(catalogue.tests) >= 90
    empty = [cls.FILE for cls in model.ROWS if not catalogue.rows(cls)]
    assert empty == [cls.FILE for cls in model_bench.LABORATORY_OWN]
    assert all(
        catalogue.accepted(test) and catalogue.volume_ul(test) > 0 for test in catalogue.tests
    )


def test_every_panel_expands():
    """Each to at least one test, by a path that begins with the panel."""
    catalogue = shipped()
    for panel in catalogue.panels:
        expanded = catalogue.expand(panel)
        assert expanded
        assert all(path[0] == panel and test in catalogue.tests for test, path in expanded)


def test_every_test_and_panel_is_found_by_its_own_words():
    """Code, name and LOINC code lead back to it."""
    catalogue = shipped()
    for row in catalogue.rows(model.Test):
        assert catalogue.find(row.code) == row.code
        assert catalogue.find(row.name.upper()) == row.code
        assert not row.loinc or catalogue.find(row.loinc) == row.code
        assert row.code in [code for code, _, _ in catalogue.search(row.name)]


@settings(max_examples=60)
@given(st.one_of(st.binary(max_size=200), st.text(alphabet='k,0123"\n -', max_size=120)))
def test_whatever_the_bytes_a_table_gives_rows_or_sentences(data: bytes | str):
    """No content of a file raises anything; what is not a row is a sentence that names the file."""
    body = data.encode() if isinstance(data, str) else data
    table = read_table(model.TestVolume, b"test,volume_ul,source\n" + body)
    assert all(str(problem).startswith("test_volumes.csv") for problem in table.problems)
    assert all(row.test and row.source and row.line >= 2 for row in table.rows)
    assert table.rows or table.problems or not body.strip(b'\r\n," ')


def test_every_published_source_says_where_to_look() -> None:
    """A title, a part of it, and a year or an address; a page without a date says whose it is."""
    published = [each for each in shipped().sources.values() if each.basis == "published"]
    assert len(published) > 100
    silent = [each.key for each in published if not (each.title and each.part)]
    assert silent == []
    undated = {each.key for each in published if not (each.year or each.address)}
    assert undated == UNDATED
