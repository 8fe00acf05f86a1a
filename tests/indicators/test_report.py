"""The report of a month: what changed and how sure, and what makes it doubtful."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from cubital.catalogue import shipped
from cubital.errors import InputError
from cubital.indicators.engine import Engine, duckdb_engine
from cubital.indicators.lake import UNFINISHED, write_lake
from cubital.indicators.report import report, weeks_of
from cubital.indicators.report_values import Report, ShareLine
from cubital.indicators.values import LakeRows, LakeSite
from tests.indicators import valley
from tests.indicators.makers import GEL, Log

MARCH = 202603
Make = Callable[..., Report]


@pytest.fixture(scope="module")
def engine() -> Iterator[Engine]:
    """DuckDB in memory."""
    with duckdb_engine(threads=1) as opened:
        yield opened


@pytest.fixture
def make(engine: Engine, tmp_path: Path) -> Make:
    """Write a lake and make its report."""

    def call(
        rows: LakeRows,
        month: int = MARCH,
        *,
        sites: Sequence[LakeSite] = valley.SITES,
        **more: object,
    ) -> Report:
        write_lake(tmp_path / "lake", rows, sites=sites, edition="x")
        more = {"with_drivers": False, **more}
        return report(tmp_path / "lake", month, shipped(), engine, **more)  # type: ignore[arg-type]

    return call


def line(made: Report, code: str) -> ShareLine:
    """The line of an indicator."""
    return next(one for one in made.shares if one.what.code == code)


def codes(made: Report) -> list[str]:
    """Codes of the findings."""
    return [finding.code for finding in made.findings]


def sentence(made: Report, code: str) -> str:
    """The sentence of a finding."""
    return next(finding.sentence for finding in made.findings if finding.code == code)


def test_a_year_of_the_valley(make: Make):
    """A rise in haemolysis is told with its interval and signal, a quiet indicator stays quiet."""
    made = make(valley.years(worse_from=MARCH), with_drivers=True)
    assert made.drivers is not None
    assert made.drivers.refused == ""
    assert made.title == "Quality indicators, March 2026"
    assert (made.period, made.specimens, made.draws) == ("month", 370, 370)
    rejected = line(made, "Pre-HemR")
    assert rejected.changed == "more"
    assert rejected.difference.low > 0
    assert [one.rule for one in rejected.signals] == ["beyond-3"]
    assert rejected.chart.kind == "p′"
    assert len(rejected.chart.points) == 12
    assert "chance alone would seldom do that." in " ".join(rejected.sentences)
    assert "IFCC specification of 2017" in " ".join(rejected.sentences)
    assert any("Rejected for haemolysis" in text and "went up" in text for text in made.headlines)
    assert any("gives a signal" in text for text in made.headlines)
    quiet = line(made, "Pre-MisS")
    assert (quiet.bad, quiet.changed, quiet.signals) == (0, None, ())
    assert quiet.sigma_words.startswith("sigma at least ")
    assert "of them would seem to change by chance alone" in made.cautions[-1]


def test_a_quiet_month_says_so(make: Make):
    """Nothing changed, no signal."""
    made = make(valley.years(worse_from=202701))
    assert made.headlines[1] == (
        "Nothing changed by more than chance, and no control chart gives a signal."
    )


def test_the_same_lake_gives_the_same_report(make: Make):
    """Down to every sentence."""
    rows = valley.years(months=9)
    assert make(rows) == make(rows)


def test_a_month_with_no_specimens(make: Make):
    """Said first; every line is there, with nothing to count and no error."""
    made = make(valley.years(months=3), 202701, with_drivers=True)
    assert made.headlines == ("No specimens and no draws are on record in January 2027.",)
    assert all(one.share is None and one.sigma is None for one in made.shares)
    assert line(made, "Pre-HemR").sentences[0] == (
        "Nothing to count: no clinical chemistry samples this month."
    )
    assert made.drivers is None
    assert (made.sites, made.specimens) == ((), 0)


def test_an_empty_lake(make: Make):
    """A desk that has not begun."""
    made = make(LakeRows((), ()))
    assert made.headlines == ("No specimens and no draws are on record in March 2026.",)
    assert made.findings == ()


def test_the_month_after_a_silent_one(make: Make):
    """Before has nothing to compare with, and the chart has a gap and no zero."""
    rows = valley.years(months=10)
    kept = LakeRows(
        tuple(r for r in rows.specimens if r.month != 202602),
        tuple(r for r in rows.draws if r.month != 202602),
    )
    made = make(kept)
    rejected = line(made, "Pre-HemR")
    assert rejected.before == (0, 0)
    assert "The month before has nothing to compare with." in rejected.sentences
    (gap,) = [point for point in rejected.chart.points if point.period == 202602]
    assert gap.value is None
    assert rejected.changed is None


def test_one_place_with_three_specimens(make: Make):
    """Its counts are shown and never compared."""
    rows = valley.years(sizes=(("valley", 300), ("pass", 3)))
    bad = [replace(r, reasons=";haemolysed;", found=";haemolysed;")
           if r.site == "pass" and r.month == MARCH else r for r in rows.specimens]  # fmt: skip
    made = make(LakeRows(tuple(bad), rows.draws))
    assert sentence(made, "few-at-place") == (
        "Ostrel pass post has 3 specimens: its counts are shown, and never compared."
    )
    rejected = line(made, "Pre-HemR")
    post = next(site for site in rejected.sites if site.code == "pass")
    assert (post.bad, post.of, post.few, post.zone) == (3, 3, True, "few")
    assert "Too few to be compared: Ostrel pass post." in rejected.sentences
    assert not any("stands out" in text or "lies above" in text for text in rejected.sentences)


def test_a_month_with_three_specimens_in_all(make: Make):
    """No share, no sigma, no change: a count."""
    made = make(valley.years(months=2, sizes=(("valley", 3),)))
    rejected = line(made, "Pre-HemR")
    assert rejected.few
    assert rejected.sentences[0].endswith("too few for a share.")
    assert rejected.sigma is None
    assert rejected.changed is None


def test_weeks_where_there_are_few_months(make: Make):
    """A young laboratory gets points of weeks, and limits that are called provisional."""
    made = make(valley.years(months=3, sizes=(("valley", 400),), haemolysed=0.06))
    assert made.period == "week"
    rejected = line(made, "Pre-HemR")
    assert len(rejected.chart.points) >= 12
    assert rejected.chart.provisional
    assert any("are provisional until there are 20" in text for text in rejected.sentences)
    assert {one.period for one in rejected.signals} <= set(weeks_of(MARCH))


def test_a_clock_set_back_an_hour(make: Make):
    """Specimens that arrive before they were drawn: said, left out of times, counted elsewhere."""
    rows = valley.years(months=2)
    back = [
        replace(r, transport_s=(r.transport_s or 0) - 3600)
        if r.site == "valley" and r.month == MARCH and r.day.day < 5 else r
        for r in rows.specimens
    ]  # fmt: skip
    made = make(LakeRows(tuple(back), rows.draws))
    n = sum((r.transport_s or 0) < 0 for r in back)
    assert n > 5
    assert sentence(made, "time-backwards") == (
        f"Collection to reception: {n} times at Ostrel valley laboratory run backwards, so a clock"
        " was wrong or set back; look at the clocks there."
    )
    time = next(one for one in made.times if one.what.code == "desk-to-reception")
    assert (time.now.count, time.now.backwards) == (370 - n, n)
    assert line(made, "Pre-HemR").of == 370


def test_a_typing_error_of_years(make: Make):
    """A specimen drawn in another year is no time."""
    rows = valley.years(months=1)
    first = replace(rows.specimens[0], transport_s=365 * 86400)
    made = make(LakeRows((first, *rows.specimens[1:]), rows.draws))
    assert "Collection to reception: 1 time at Ostrel valley laboratory is too long to be true" in (
        sentence(made, "time-too-long")
    )


def test_an_event_a_week_late(make: Make):
    """It counts in its own month, and the report says that it came late."""
    log = Log()
    for n in range(40):
        at = datetime(2026, 3, 30, 6, tzinfo=UTC) + timedelta(minutes=n)
        log.draw(f"D{n}", at, tubes={f"S{n}": GEL})
    log.delay = timedelta(days=9)
    for n in range(3):
        log.arrive(f"S{n}", datetime(2026, 3, 30, 9, tzinfo=UTC), refused="haemolysed")
    made = make(log.rows())
    assert line(made, "Pre-HemR").bad == 3
    assert sentence(made, "events-late") == (
        "3 specimens of this month became known more than 168 h after the fact; a report made"
        " earlier did not count them so."
    )


def test_a_half_written_file(make: Make, engine: Engine, tmp_path: Path):
    """Left over from an export it is said; in the place of a part it stops the report."""
    made = make(valley.years(months=2))
    assert made.findings == ()
    part = tmp_path / "lake/specimens/year=2026/month=03/site=valley/part-0.parquet"
    part.with_name(part.name + UNFINISHED).write_bytes(b"PAR1")
    again = report(tmp_path / "lake", MARCH, shipped(), engine)
    assert "An export was broken off: 1 file half-written" in sentence(again, "export-unfinished")
    assert again.shares == made.shares
    part.write_bytes(part.read_bytes()[:-9])
    with pytest.raises(InputError, match="half-written"):
        report(tmp_path / "lake", MARCH, shipped(), engine)


def test_a_place_renamed_in_the_middle_of_the_year(make: Make):
    """A new name alone changes only what is shown; a new code is joined, or said."""
    rows = valley.years(sizes=(("valley", 100), ("post", 100)))
    moved = LakeRows(
        tuple(replace(r, site="pass") if r.site == "post" and r.month >= 202510 else r
              for r in rows.specimens),
        tuple(replace(r, site="pass") if r.site == "post" and r.month >= 202510 else r
              for r in rows.draws),
    )  # fmt: skip
    twice = [LakeSite("valley", "Valley"), LakeSite("post", "Post"), LakeSite("pass", "Post")]
    made = make(moved, sites=twice)
    assert sentence(made, "place-twice").startswith(
        "pass and post are both called Post and are counted apart"
    )
    joined = [LakeSite("valley", "Valley"), LakeSite("post", "Post", now="pass"),
              LakeSite("pass", "Pass post")]  # fmt: skip
    made = make(moved, 202509, sites=joined)
    assert (
        sentence(made, "place-renamed")
        == "What is on record under post counts as Pass post (pass)."
    )
    assert [code for code, _ in made.sites] == ["pass", "valley"]
    assert line(made, "Pre-HemR").of == 200


def test_a_place_that_fell_silent_or_is_not_listed(make: Make):
    """Both are said."""
    rows = valley.years(months=2, sizes=(("valley", 40), ("pass", 40), ("tent", 40)))
    kept = LakeRows(
        tuple(r for r in rows.specimens if r.site != "pass" or r.month < MARCH),
        tuple(r for r in rows.draws if r.site != "pass" or r.month < MARCH),
    )
    made = make(kept)
    assert sentence(made, "place-silent") == (
        "Ostrel pass post has no specimens this month; it had 40 the month before. Is its export"
        " missing?"
    )
    assert sentence(made, "place-unnamed").startswith("tent is in no list of places")


def test_a_place_without_a_reception(make: Make):
    """No reception on record: no share of nothing, and it is said."""
    rows = valley.years(months=1, sizes=(("valley", 50),))
    dry = tuple(replace(r, received_at=None, transport_s=None) for r in rows.specimens)
    made = make(LakeRows(dry, rows.draws))
    assert "No specimen of Ostrel valley laboratory was received at a desk" in sentence(
        made, "nothing-received"
    )
    assert line(made, "Pre-HemR").of == 0


def test_the_rules_of_the_laboratory_are_used(make: Make):
    """Eight months on one side are a signal in 1956, and none in 1984."""
    made = valley.years(sizes=(("valley", 100),), haemolysed=0, worse=0)
    first = [n for n in range(1200) if n % 100 < (9 if n >= 400 else 4 + n // 100 % 2 * 2)]
    bad = [
        replace(row, reasons=";haemolysed;", found=";haemolysed;") if n in set(first) else row
        for n, row in enumerate(made.specimens)
    ]
    rows = LakeRows(tuple(bad), made.draws)
    old = line(make(rows), "Pre-HemR")
    new = line(make(rows, choices={"run-rules": "nelson"}), "Pre-HemR")
    assert "one-side" in {one.rule for one in old.signals}
    assert "one-side" not in {one.rule for one in new.signals}


@pytest.mark.parametrize("month", [0, 202600, 202613, 26, -202603])
def test_what_is_no_month(engine: Engine, tmp_path: Path, month: int):
    """One sentence."""
    with pytest.raises(InputError, match="is no month"):
        report(tmp_path, month, shipped(), engine)


def test_weeks_of_a_month():
    """March 2026 begins on a Sunday and ends on a Tuesday: six weeks have a day in it."""
    assert weeks_of(202603) == [202609, 202610, 202611, 202612, 202613, 202614]
    assert weeks_of(202701)[0] == 202653


def test_every_finding_names_a_source(make: Make):
    """Keys of the catalogue."""
    rows = valley.years(months=2, sizes=(("valley", 40), ("tent", 3)))
    findings = make(rows).findings
    assert findings
    assert {finding.source for finding in findings} <= set(shipped().sources)


def test_no_share_beyond_what_is_possible(make: Make):
    """Every figure of a hard report lies inside its own interval and between 0 and 1."""
    made = make(valley.years(months=9, sizes=(("valley", 35), ("pass", 1), ("mill", 0))))
    for one in made.shares:
        for share, interval in (
            (one.share, one.interval), *((site.share, site.interval) for site in one.sites),
        ):  # fmt: skip
            assert 0 <= interval.low <= interval.high <= 1
            assert share is None or interval.holds(share)
    assert codes(made) == ["few-at-place"]
