"""What rooms ask of the catalogue."""

import pytest

from cubital.catalogue import Catalogue, load_catalogue
from cubital.errors import CatalogueError
from cubital.finding import Reason
from tests.catalogue.small import write


@pytest.fixture(scope="module")
def catalogue(tmp_path_factory: pytest.TempPathFactory) -> Catalogue:
    """The small tables, read once."""
    return load_catalogue(tables=write(tmp_path_factory.mktemp("tables")))


def test_rows_by_code(catalogue: Catalogue):
    """Every indexed table answers by its code."""
    assert catalogue.tests["potassium"].bench == "chem"
    assert catalogue.benches["chem"].station == "core"
    assert catalogue.stations["core"].max_tests_per_tube == 20
    assert catalogue.panels["lytes"].name == "Electrolytes"
    assert catalogue.additives["edta"].colour == "lavender"
    assert catalogue.colours["lavender"].ink == "#000000"
    assert catalogue.containers["edta-2"].nominal_ul == 2000
    assert catalogue.needles[21].hub_colour == "green"
    assert catalogue.devices["heel"].draws_by == "drops"
    assert catalogue.sites["median_cubital"].age_to_days == 54786
    assert catalogue.label_sizes["50x25"].columns == 1
    assert catalogue.dead_volume("core", "micro").dead_ul == 50
    assert [row.additive for row in catalogue.accepted("sodium")] == ["clot", "edta"]
    assert catalogue.accepted("no-such-test") == ()


def test_a_chosen_row_goes_before_one_that_always_holds(catalogue: Catalogue):
    """Renin is spun sooner on ice; the need is told once."""
    default = catalogue.handling("renin")
    iced = catalogue.handling("renin", {"renin-cooling": "ice"})
    assert {row.need: row.value for row in default} == {"never_chilled": 0, "spin_within_min": 60}
    assert {row.need: row.value for row in iced} == {"ice_slurry": 0, "spin_within_min": 20}


def test_an_option_without_a_row_falls_back_to_the_default(catalogue: Catalogue):
    """The local mixing says nothing of EDTA, so the published row counts."""
    local = {"mixing-turns": "local"}
    assert catalogue.mixing("clot").inversions_low == 5
    assert catalogue.mixing("clot", local).inversions_low == 4
    assert catalogue.mixing("edta", local).inversions_low == 8
    assert catalogue.fill_limit("edta", local).minimum_percent == 90


def test_options(catalogue: Catalogue):
    """Chosen, else the default; what is not an option is refused with the mend."""
    assert catalogue.option("renin-cooling").option == "room"
    assert catalogue.option("renin-cooling", {"renin-cooling": "ice"}).option == "ice"
    with pytest.raises(CatalogueError, match="Write one of room, ice"):
        catalogue.option("renin-cooling", {"renin-cooling": "snow"})
    with pytest.raises(CatalogueError, match="Write renin-cooling"):
        catalogue.option("renin-coolin")


def test_settings(catalogue: Catalogue):
    """Numbers, decimals and words; a missing or unreadable one is told."""
    assert catalogue.number("tourniquet_max_s") == 60
    assert catalogue.decimal("share") == 0.5
    assert catalogue.word("order_note") == "as printed"
    with pytest.raises(CatalogueError, match=r"row 3, value: share cannot be “0.5”. Write a whole"):
        catalogue.number("share")
    with pytest.raises(CatalogueError, match="the setting gravity is missing"):
        catalogue.setting("gravity")


def test_panels_expand_with_their_path(catalogue: Catalogue):
    """Each test once, by the first path to it; a test is itself."""
    assert catalogue.expand("admission") == (
        ("haemoglobin", ("admission",)),
        ("sodium", ("admission", "lytes")),
        ("potassium", ("admission", "lytes")),
    )
    assert catalogue.expand("sodium") == (("sodium", ()),)
    with pytest.raises(KeyError):
        catalogue.expand("chloride")


@pytest.mark.parametrize(
    "text", ["potassium", "POTASSIUM", " Serum  Potassium", "k", "K+", "2823-3"]
)
def test_a_test_is_found_by_all_its_names(catalogue: Catalogue, text: str):
    """Code, name, short name, alias or LOINC code, whatever the case and blanks."""
    assert catalogue.find(text) == "potassium"


def test_search_puts_the_likely_first(catalogue: Catalogue):
    """The same, then what begins so, then what holds it; nothing typed finds nothing."""
    assert catalogue.search("k")[0] == ("potassium", "Potassium", "test")
    assert next(code for code, _, _ in catalogue.search("s")) in ("potassium", "sodium")
    assert catalogue.search("pan") == (("admission", "Admission panel", "panel"),)
    assert catalogue.search("o", limit=2) == (
        ("potassium", "Potassium", "test"),
        ("sodium", "Sodium", "test"),
    )
    assert catalogue.search("  ") == ()
    assert catalogue.find("zinc") is None
    assert catalogue.suggest("potasium") == ("potassium",)


def test_reasons_carry_source_and_layer(catalogue: Catalogue):
    """A sentence never stands alone."""
    row = catalogue.option("renin-cooling")
    assert catalogue.reason(row, row.meaning) == Reason("at room temperature", "paper", "shipped")


def test_nothing_can_be_written(catalogue: Catalogue):
    """The catalogue is one immutable value."""
    with pytest.raises(AttributeError):
        catalogue.edition = "other"  # type: ignore[misc]
    with pytest.raises(TypeError):
        catalogue.tests["potassium"] = None  # type: ignore[index]
