"""The expressions: equal to a plain fold, whatever the rows; what cannot be asked is said."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cubital.catalogue import shipped
from cubital.errors import InputError
from cubital.indicators.ask import (
    Count,
    counts,
    only_own,
    open_lake,
    quantiles,
    sums,
    tallies,
)
from cubital.indicators.engine import Engine, duckdb_engine
from cubital.indicators.lake import write_lake
from cubital.indicators.measures import MEASURES, SHARES, TIMES, terms_of
from cubital.indicators.values import DrawRow, LakeRows, LakeSite, SpecimenRow
from tests.draw.hands import laid_over, setting
from tests.indicators import fold, valley
from tests.indicators.makers import lake_in_memory

ALL_WORDS = sorted({word for words in fold.WORDS.values() for word in words})


@pytest.fixture(scope="module")
def engine() -> Iterator[Engine]:
    """DuckDB in memory."""
    with duckdb_engine(threads=1) as opened:
        yield opened


def listed(words: list[str]) -> str:
    """As the lake holds them."""
    return f";{';'.join(words)};" if words else ""


@st.composite
def specimens(draw: st.DrawFn) -> SpecimenRow:
    """A specimen of which anything may be true, or not known."""
    at = datetime(2026, draw(st.integers(1, 3)), draw(st.integers(1, 28)), 7, tzinfo=UTC)
    common = st.sampled_from(["haemolysed", "RH", "haemolysed-remark", "lost-in-laboratory"])
    words = st.lists(common | st.sampled_from(ALL_WORDS), max_size=2, unique=True)
    reasons, more, again = draw(words), draw(words), draw(words)
    longest = st.sampled_from([720 * 3600, 720 * 3600 + 1])
    transport = draw(st.none() | st.integers(-4000, 9000) | longest)
    row = valley.specimen(
        "S", at,
        site=draw(st.sampled_from(["valley", "pass"])),
        gauge=draw(st.none() | st.sampled_from([21, 23])),
        hour=draw(st.none() | st.integers(0, 23)),
        chemistry=draw(st.booleans()),
        anticoagulated=draw(st.booleans()),
        transport_s=transport,
        spin_wait_s=draw(st.none() | st.integers(-100, 4000)),
        reasons=listed(reasons),
        found=listed([*dict.fromkeys([*reasons, *more])]),
        recollected=listed(again),
        request_first=draw(st.booleans()),
        request_found=listed(more),
        haemolysis_mg_l=draw(st.none() | st.integers(400, 600)),
        not_received=draw(st.booleans()),
    )  # fmt: skip
    return replace(row, received_at=None) if draw(st.integers(0, 3)) == 0 else row


@st.composite
def draws(draw: st.DrawFn) -> DrawRow:
    """A draw of which anything may be true."""
    at = datetime(2026, draw(st.integers(1, 3)), draw(st.integers(1, 28)), 7, tzinfo=UTC)
    return valley.drawn(
        "D", at,
        site=draw(st.sampled_from(["valley", "pass"])),
        ended=draw(st.booleans()),
        obtained=draw(st.booleans()),
        attempts=draw(st.integers(0, 3)),
        tourniquet_s=draw(st.none() | st.integers(0, 90)),
        coagulation=draw(st.booleans()),
        tubes=draw(st.integers(0, 3)),
        order_breaches=draw(st.integers(0, 1)),
        needed_ul=draw(st.none() | st.integers(0, 5000)),
        drawn_known_ul=draw(st.integers(0, 9000)),
    )  # fmt: skip


LAKES = st.builds(
    lambda s, d: LakeRows(tuple(s), tuple(d)),
    st.lists(specimens(), max_size=25),
    st.lists(draws(), max_size=15),
)
BY = st.lists(st.sampled_from(["month", "site", "gauge", "hour"]), max_size=2, unique=True)


@settings(
    max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(LAKES, BY)
def test_expressions_equal_a_plain_fold(engine: Engine, rows: LakeRows, by: list[str]):
    """Every share, sum and time, by whatever dimensions."""
    lake = lake_in_memory(rows, engine)
    got = {(one.indicator, one.key): (one.bad, one.of) for one in counts(lake, by=by)}
    wanted = {
        (code, key): pair for code in SHARES for key, pair in fold.share(code, rows, by).items()
    }
    if not by:
        wanted = {(code, ()): (0, 0) for code in SHARES} | wanted
    assert got == wanted
    for code in TIMES:
        times = {
            one.key: (one.count, one.median, one.low, one.high, one.p90, one.backwards,
                      one.too_long)
            for one in quantiles(lake, [code], by)
        }  # fmt: skip
        expected = fold.quantiles(code, rows, by)
        if not by:
            expected = expected or {(): (0, None, None, None, None, 0, 0)}
        assert times == expected
    _check_sums(lake_in_memory(rows, engine), rows, by)


def _check_sums(lake: object, rows: LakeRows, by: list[str]) -> None:
    keys = {tuple(getattr(row, name) for name in by) for row in rows.draws}
    got = {(one.indicator, one.key): one for one in sums(lake, by=by)}  # type: ignore[arg-type]
    for key in keys:
        mine = [r for r in rows.draws if tuple(getattr(r, name) for name in by) == key]
        tried = [r for r in mine if r.attempts > 0]
        one = got["desk-attempts", key]
        assert (one.top, one.bottom, one.rows) == (
            sum(r.attempts for r in tried), sum(r.obtained for r in tried), len(tried),
        )  # fmt: skip
        known = [(r.drawn_known_ul or 0, r.needed_ul) for r in mine if r.needed_ul is not None]
        one = got["desk-blood", key]
        assert (one.top, one.bottom) == (sum(a for a, _ in known), sum(b for _, b in known))
        assert one.squares == (
            sum(a * a for a, _ in known), sum(b * b for _, b in known),
            sum(a * b for a, b in known),
        )  # fmt: skip


def test_every_indicator_of_the_table_has_an_expression_and_the_other_way_round():
    """Nothing is listed that is not counted."""
    from cubital.catalogue.model_quality import Indicator

    listed_there = {row.indicator: row.kind for row in shipped().rows(Indicator)}
    assert set(listed_there) == set(MEASURES)
    assert {code for code, kind in listed_there.items() if kind == "share"} == set(SHARES)
    assert {code for code, kind in listed_there.items() if kind == "time"} == set(TIMES)


def test_every_reason_of_the_reception_counts_in_an_indicator_that_exists():
    """The reception's rules and the reasons name no other."""
    terms = terms_of(shipped())
    assert set(terms.words) <= set(SHARES)
    silent = set(SHARES) - set(terms.words) - {
        code for code in SHARES if code.startswith("desk-")
    }  # fmt: skip
    assert silent == {"Pre-HemI", "Pre-NotRec", "Pre-RejS"}  # they need no reason


def test_the_confidence_of_a_median_is_the_laboratory_s(engine: Engine):
    """The setting that widens every other interval widens that of a median too."""
    rows = valley.years(months=1, sizes=(("valley", 60),))
    lake = lake_in_memory(rows, engine)
    sure = laid_over(setting("indicator_confidence_percent", "99.9"))
    (usual,) = quantiles(lake, ["desk-to-reception"], by=())
    (wider,) = quantiles(replace(lake, terms=terms_of(sure)), ["desk-to-reception"], by=())
    assert wider.median == usual.median
    assert None not in (wider.low, wider.high, usual.low, usual.high)
    assert wider.high - wider.low > usual.high - usual.low


def test_a_place_with_a_new_code_is_counted_once(engine: Engine):
    """What is on record under the old code counts under the new one, in every month."""
    rows = valley.years(months=2, sizes=(("old", 40), ("pass", 10)))
    sites = [LakeSite("old", "Old", now="valley"), *valley.SITES]
    lake = lake_in_memory(rows, engine, sites)
    found = counts(lake, ["Pre-RejS"], by=("site",))
    assert {one.key[0]: one.of for one in found} == {"pass": 20, "valley": 80}
    assert lake.site_now("old").name == "Ostrel valley laboratory"
    assert lake.site_now("elsewhere").name == "elsewhere"


def test_months_are_read_as_asked(engine: Engine, tmp_path: Path):
    """Only files of those months; none at all gives empty answers."""
    rows = valley.years(months=4, sizes=(("valley", 3),))
    write_lake(tmp_path / "l", rows, sites=valley.SITES, edition="x")
    two = open_lake(tmp_path / "l", shipped(), engine, months=(202601, 202602))
    assert {one.key[0] for one in counts(two, ["Pre-RejS"], ("month",))} == {202601, 202602}
    assert two.months == (202512, 202601, 202602, 202603)
    none = open_lake(tmp_path / "l", shipped(), engine, months=(201001, 201012))
    assert counts(none) == ()
    assert quantiles(none) == ()
    assert tallies(none) == {}
    assert {(one.bad, one.of) for one in counts(none, by=())} == {(0, 0)}


@pytest.mark.parametrize(
    ("codes", "by", "said"),
    [
        (["Pre-HemX"], ("month",), "Pre-HemX is no indicator. Write Pre-HemV"),
        (["desk-blood"], ("month",), "desk-blood is of another kind"),
        (["Pre-HemR"], ("moon",), "nothing is counted by “moon”. Write month."),
    ],
)
def test_what_cannot_be_asked(engine: Engine, codes: list[str], by: tuple[str], said: str):
    """One sentence with the nearest thing there is."""
    lake = lake_in_memory(LakeRows((), ()), engine)
    with pytest.raises(InputError) as caught:
        counts(lake, codes, by)
    assert said in str(caught.value)


def test_a_collector_sees_their_own_figures():
    """By collector, only theirs; without a name, none."""
    found = [Count("Pre-HemR", (202603, "mira"), 1, 9), Count("Pre-HemR", (202603, "tove"), 0, 9)]
    by = ("month", "collector")
    assert only_own(found, by, "mira") == (found[0],)
    assert only_own(found, by, "") == ()
    assert only_own([Count("Pre-HemR", (202603, ""), 1, 9)], by, "") == ()
    assert only_own(found, ("month", "site"), "vera") == tuple(found)


def test_late_events_are_told(engine: Engine):
    """More than a week between the fact and the record."""
    rows = valley.years(months=1, sizes=(("valley", 3),))
    late = replace(rows.specimens[0], late_s=int(timedelta(days=7, seconds=1).total_seconds()))
    lake = lake_in_memory(LakeRows((late, *rows.specimens[1:]), rows.draws), engine)
    assert tallies(lake)["valley",].late == 1
