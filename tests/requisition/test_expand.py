"""What was asked for, as tests."""

from pathlib import Path

import pytest

from cubital.catalogue import Catalogue, load_catalogue
from cubital.errors import RequisitionError
from cubital.requisition.expand import Asked, expand
from cubital.requisition.values import OrderedTest
from tests.catalogue.small import write


@pytest.fixture(scope="module")
def tables(tmp_path_factory: pytest.TempPathFactory) -> Catalogue:
    """The small tables."""
    folder: Path = tmp_path_factory.mktemp("tables")
    return load_catalogue(tables=write(folder))


def test_panels_open_in_the_order_asked(tables: Catalogue):
    """Each test with the panels it came through, each with the panel's priority."""
    assert expand([Asked("renin"), Asked("admission", 3)], tables) == (
        OrderedTest("renin", 5),
        OrderedTest("haemoglobin", 3, ("admission",)),
        OrderedTest("sodium", 3, ("admission", "lytes")),
        OrderedTest("potassium", 3, ("admission", "lytes")),
    )


@pytest.mark.parametrize("turned", [False, True])
def test_a_test_asked_for_twice_stays_once(tables: Catalogue, turned: bool):
    """With its best priority, and as asked for by itself, whichever came first."""
    asked = [Asked("lytes", 2), Asked("potassium", 7)]
    found = expand(asked[::-1] if turned else asked, tables)
    assert set(found) == {OrderedTest("sodium", 2, ("lytes",)), OrderedTest("potassium", 2, ())}


def test_all_names_of_a_test_do(tables: Catalogue):
    """LOINC code, short name and alias mean the same test."""
    [once] = expand([Asked("2823-3"), Asked("K"), Asked("serum potassium")], tables)
    assert once.code == "potassium"


def test_an_unknown_test_names_the_nearest(tables: Catalogue):
    """So that a slip is mended at once."""
    with pytest.raises(RequisitionError) as caught:
        expand([Asked("hemoglobin", where="a.csv, row 2, tests")], tables)
    assert str(caught.value) == (
        "a.csv, row 2, tests: no test or panel is called “hemoglobin”. Did you mean haemoglobin?"
    )
