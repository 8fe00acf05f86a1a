"""How much blood may be taken."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cubital.catalogue import shipped
from cubital.catalogue.model import BloodLimit, BloodVolume
from cubital.draw.allowance import (
    age_days,
    allowance,
    blood_allowance,
    blood_volume_row,
    is_child,
    limit_findings,
    nadler_ul,
    taken_ul,
    total_blood_volume_ul,
    window_words,
)
from cubital.finding import Severity
from cubital.requisition.values import PriorDraw
from tests.draw.hands import MORNING, TODAY, drawn_before, laid_over, setting, someone

POLICIES = sorted(o.option for o in shipped().options["blood-limit"].values())
HANDBOOK = {"tbv-per-kg": "harriet_lane"}  # 75 mL a kg from one month to four years
PRIORS = st.lists(
    st.tuples(st.floats(0, 2000), st.integers(0, 200_000)).map(lambda p: drawn_before(*p)),
    max_size=6,
)
WEIGHTS = st.integers(400, 180_000)
AGES = st.integers(0, 40_000)


def test_age_counts_whole_days() -> None:
    """Born today is 0; a birth date after the day is 0 as well; unknown stays unknown."""
    assert age_days(date(2025, 3, 4), date(2025, 3, 4)) == 0
    assert age_days(date(2024, 2, 29), date(2025, 3, 1)) == 366
    assert age_days(date(2026, 1, 1), date(2025, 3, 4)) == 0
    assert age_days(None, date(2025, 3, 4)) is None


def test_a_child_is_under_the_setting() -> None:
    """6,573 days is a child, 6,574 is not; an unknown age is not taken for one."""
    assert is_child(6573, shipped())
    assert not is_child(6574, shipped())
    assert not is_child(None, shipped())
    assert is_child(6574, laid_over(setting("adult_from_days", "7000")))


# ---------------------------------------------------------------- total blood volume


@given(AGES, st.sampled_from(["female", "male", "other", "unknown"]))
def test_the_default_never_gives_more_than_another_source(age: int, sex: str) -> None:
    """The cautious option is at most the lowest of the published ones, at any age and sex."""
    rows = {
        option: blood_volume_row(age, sex, shipped(), {"tbv-per-kg": option})
        for option in shipped().options["tbv-per-kg"]
    }
    default = shipped().option("tbv-per-kg").option
    lowest = rows[default]
    assert lowest is not None
    assert all(row is not None and lowest.ml_per_kg <= row.ml_per_kg for row in rows.values())


def test_a_row_of_the_own_sex_comes_before_one_for_anybody() -> None:
    """A boy of nine has his own figure; where the sex is not known, the one for anybody holds."""
    days = 9 * 366
    own = blood_volume_row(days, "male", shipped(), {"tbv-per-kg": "linderkamp_1977"})
    anybody = blood_volume_row(days, "unknown", shipped(), {"tbv-per-kg": "linderkamp_1977"})
    assert own is not None
    assert anybody is not None
    assert (own.sex, own.ml_per_kg) == ("male", 80)
    assert anybody.ml_per_kg == 73


def test_an_option_with_rows_for_one_sex_only_gives_strangers_the_lowest() -> None:
    """Without a row for anybody, somebody of unknown sex gets the lower of the two."""
    mine = [
        BloodVolume(
            choice="mine",
            sex=sex,
            age_from_days=0,
            age_to_days=54786,
            ml_per_kg=ml,
            source="memory",
        )
        for sex, ml in (("female", 61), ("male", 69))
    ]
    option = replace(shipped().option("tbv-per-kg"), option="mine", default=False)
    row = blood_volume_row(20_000, "unknown", laid_over(option, *mine), {"tbv-per-kg": "mine"})
    assert row is not None
    assert row.ml_per_kg == 61


def test_volume_is_weight_times_ml_per_kg_with_its_reason() -> None:
    """4 kg at 77 mL a kg: 308 mL, said so, with the source of the figure."""
    infant = someone(120, weight_g=4000)
    volume, reason = total_blood_volume_ul(
        infant, shipped(), {"tbv-per-kg": "linderkamp_1977"}, TODAY
    )
    assert volume == 308_000
    assert reason is not None
    assert reason.source == "linderkamp_1977"
    assert "308 mL: 77 mL per kg at 4 kg" in reason.sentence


def test_unknown_weight_gives_no_volume() -> None:
    """Nothing is guessed."""
    assert total_blood_volume_ul(someone(), shipped(), {}, TODAY) == (None, None)


@pytest.mark.parametrize("option", ["lower", "per_kg", "nadler"])
@given(st.integers(1300, 2100), st.integers(35_000, 160_000), st.sampled_from(["female", "male"]))
@settings(max_examples=40)
def test_adults_of_known_height_by_the_chosen_way(
    option: str, height: int, weight: int, sex: str
) -> None:
    """Per kg, by height and weight, or the lower of the two."""
    patient = someone(sex=sex, weight_g=weight, height_mm=height)
    volume, reason = total_blood_volume_ul(patient, shipped(), {"tbv-adult": option}, TODAY)
    row = blood_volume_row(14_000, sex, shipped(), {})
    assert row is not None
    per_kg, formula = weight * row.ml_per_kg, nadler_ul(height, weight, sex, shipped())
    expected = {"lower": min(per_kg, formula), "per_kg": per_kg, "nadler": formula}[option]
    assert volume == expected
    assert reason is not None
    assert (reason.source == "nadler_1962") == (expected != per_kg)


def test_height_changes_nothing_for_a_child() -> None:
    """The formula is for adults."""
    child = someone(3000, weight_g=30_000, height_mm=1300, sex="male")
    short = replace(child, height_mm=None)
    choices = {"tbv-adult": "nadler"}
    volume, _ = total_blood_volume_ul(child, shipped(), choices, TODAY)
    assert volume == total_blood_volume_ul(short, shipped(), choices, TODAY)[0]


def test_nadler_without_a_sex_is_the_lower() -> None:
    """Unknown sex: the smaller of the two formulas."""
    both = [nadler_ul(1700, 70_000, sex, shipped()) for sex in ("female", "male")]
    assert nadler_ul(1700, 70_000, "unknown", shipped()) == min(both)
    assert both[0] < both[1]


# ---------------------------------------------------------------- what was taken


def test_taken_counts_the_window_and_its_first_moment() -> None:
    """24 hours ago counts, a moment earlier does not; a negative volume gives nothing back."""
    patient = someone(prior_draws=(drawn_before(24, 3000), drawn_before(24.001, 9000)))
    assert taken_ul(patient, MORNING, 24) == 3000
    assert taken_ul(patient, MORNING, 1344) == 12_000
    odd = someone(prior_draws=(PriorDraw(MORNING, -500), drawn_before(1, 200)))
    assert taken_ul(odd, MORNING, 24) == 200


def test_each_limit_counts_its_own_window() -> None:
    """24 hours, 4 weeks and 8 weeks: blood of three weeks ago is in the latter two only."""
    infant = someone(120, weight_g=4000, prior_draws=(drawn_before(21 * 24, 5000),))
    allowed = allowance(infant, shipped(), {}, MORNING)
    taken = {limit.window_h: limit.taken_ul for limit in allowed.limits}
    assert taken == {24: 0, 672: 5000, 1344: 5000}
    assert (allowed.taken_24h_ul, allowed.taken_8wk_ul) == (0, 5000)


# ---------------------------------------------------------------- limits


@pytest.mark.parametrize("policy", POLICIES)
@given(AGES, WEIGHTS, PRIORS)
@settings(max_examples=40)
def test_what_is_left_is_never_negative_nor_over_the_limit(
    policy: str, age: int, weight: int, prior: list[PriorDraw]
) -> None:
    """Under every policy, for any patient and any history."""
    patient = someone(age, weight_g=weight, prior_draws=tuple(prior))
    allowed = allowance(patient, shipped(), {"blood-limit": policy}, MORNING)
    assert allowed.limits
    for limit in allowed.limits:
        assert 0 <= limit.left_ul <= limit.limit_ul
        assert limit.left_ul == max(0, limit.limit_ul - limit.taken_ul)
    stops = [limit.left_ul for limit in allowed.limits if limit.severity == Severity.STOP]
    asks = [limit.left_ul for limit in allowed.limits if limit.severity == Severity.ASK]
    assert allowed.stop_left_ul == min(stops, default=None)
    assert allowed.ask_left_ul == min(asks, default=None)
    assert allowed.limit_ul == min(stops + asks)


@pytest.mark.parametrize("policy", POLICIES)
@given(AGES, WEIGHTS, PRIORS, st.floats(0, 2000), st.integers(0, 100_000))
@settings(max_examples=40)
def test_more_blood_taken_never_allows_more(
    policy: str, age: int, weight: int, prior: list[PriorDraw], hours: float, volume: int
) -> None:
    """One more draw in the past leaves every limit as it was or lower."""
    choices = {"blood-limit": policy}
    before = someone(age, weight_g=weight, prior_draws=tuple(prior))
    after = replace(before, prior_draws=(*prior, drawn_before(hours, volume)))
    one = allowance(before, shipped(), choices, MORNING)
    other = allowance(after, shipped(), choices, MORNING)
    for left, less in (
        (one.stop_left_ul, other.stop_left_ul),
        (one.ask_left_ul, other.ask_left_ul),
    ):
        assert (left is None) == (less is None)
        assert left is None or less is None or less <= left


@pytest.mark.parametrize("policy", POLICIES)
@given(WEIGHTS, AGES)
@settings(max_examples=40)
def test_an_unknown_age_never_allows_more_than_a_known_one(
    policy: str, weight: int, age: int
) -> None:
    """Without a birth date the tightest limit of any age holds."""
    choices = {"blood-limit": policy}
    unknown = allowance(someone(None, weight_g=weight), shipped(), choices, MORNING)
    known = allowance(someone(age, weight_g=weight), shipped(), choices, MORNING)
    assert unknown.limit_ul is not None
    assert known.limit_ul is not None
    assert unknown.limit_ul <= known.limit_ul
    assert "age-unknown" in {finding.code for finding in unknown.findings}


def test_every_measure_gives_its_volume() -> None:
    """Percent of the blood volume, mL per kg, and plain mL."""
    rows = [
        BloodLimit(
            policy="mine",
            age_from_days=0,
            age_to_days=54786,
            window_h=window,
            measure=measure,
            value=value,
            severity="stop",
            source="memory",
        )
        for window, measure, value in (
            (24, "percent_of_tbv", 2.5),
            (672, "ml_per_kg", 3.0),
            (1344, "ml", 50.0),
        )
    ]
    option = replace(shipped().option("blood-limit"), option="mine", default=False)
    infant = someone(120, weight_g=4000)
    choices = {"blood-limit": "mine", "tbv-per-kg": "linderkamp_1977"}
    allowed = allowance(infant, laid_over(option, *rows), choices, MORNING)
    assert {x.window_h: x.limit_ul for x in allowed.limits} == {24: 7700, 672: 12_000, 1344: 50_000}
    assert allowed.ask_left_ul is None
    assert [reason.source for reason in allowed.reasons] == ["linderkamp_1977", "memory"]


def test_an_unknown_age_and_weight_are_both_asked_for() -> None:
    """It may be a child: the weight is asked for, not only noted."""
    allowed = allowance(someone(None), shipped(), {}, MORNING)
    found = {finding.code: finding.severity for finding in allowed.findings}
    assert found == {"age-unknown": Severity.ASK, "weight-unknown": Severity.ASK}


@pytest.mark.parametrize(("days", "severity"), [(400, Severity.ASK), (14_000, Severity.NOTE)])
def test_an_unknown_weight_is_said(days: int, severity: Severity) -> None:
    """A child must be weighed; for an adult it is a note, and limits in mL still hold."""
    allowed = allowance(someone(days), shipped(), {}, MORNING)
    (finding,) = allowed.findings
    assert (finding.code, finding.severity) == ("weight-unknown", severity)
    assert allowed.total_blood_volume_ul is None
    assert (allowed.limit_ul is None) == (days == 400)


def test_nothing_is_said_when_all_is_known() -> None:
    """A weighed patient of known age gives no finding."""
    assert allowance(someone(weight_g=70_000), shipped(), {}, MORNING).findings == ()


@given(st.integers(0, 40_000))
def test_findings_follow_the_limits(planned: int) -> None:
    """A plan over a limit is a finding of that limit's severity, a plan within it is none."""
    allowed = allowance(someone(400, weight_g=10_000), shipped(), {}, MORNING)
    found = {finding.severity: finding for finding in limit_findings(allowed, planned)}
    assert allowed.stop_left_ul is not None
    assert allowed.ask_left_ul is not None
    assert (Severity.STOP in found) == (planned > allowed.stop_left_ul)
    assert (Severity.ASK in found) == (planned > allowed.ask_left_ul)
    assert all(f"{planned / 1000:.1f} mL" in finding.sentence for finding in found.values())


def test_a_plan_that_takes_all_that_is_left_is_within_the_limit() -> None:
    """Exactly what is left is allowed, one microlitre more is not."""
    allowed = allowance(someone(400, weight_g=10_000), shipped(), HANDBOOK, MORNING)
    assert allowed.ask_left_ul == 7500
    assert limit_findings(allowed, 7500) == ()
    assert [finding.severity for finding in limit_findings(allowed, 7501)] == [Severity.ASK]


def test_a_finding_says_the_limit_what_was_taken_and_the_mend() -> None:
    """10 kg at 75 mL a kg: stop over 5 % in 24 hours, of which 30 mL were taken."""
    patient = someone(400, weight_g=10_000, prior_draws=(drawn_before(2, 30_000),))
    found = limit_findings(allowance(patient, shipped(), HANDBOOK, MORNING), 8000)
    stop = next(finding for finding in found if finding.severity == Severity.STOP)
    for part in ("8.0 mL", "37.5 mL in 24 hours", "5 % of", "30.0 mL taken", "7.5 mL left"):
        assert part in stop.sentence
    assert stop.sentence.endswith("Take smaller tubes or fewer tests, or wait.")
    assert stop.source == "howie_2011"


def test_the_plan_carries_the_allowance() -> None:
    """The plan's own value holds the same figures and what the plan takes."""
    allowed = allowance(someone(400, weight_g=10_000), shipped(), HANDBOOK, MORNING)
    carried = blood_allowance(allowed, 3000, 900)
    assert (carried.limit_ul, carried.planned_ul, carried.needed_ul) == (7500, 3000, 900)
    assert carried.total_blood_volume_ul == 750_000
    assert carried.reasons == allowed.reasons


@pytest.mark.parametrize(
    ("hours", "words"),
    [(24, "24 hours"), (36, "36 hours"), (72, "3 days"), (672, "4 weeks"), (1344, "8 weeks")],
)
def test_windows_in_words(hours: int, words: str) -> None:
    """Hours, days or weeks, whichever is read soonest."""
    assert window_words(hours) == words


def test_the_day_is_that_of_the_place() -> None:
    """Just after midnight in the valley the child is a day older than in UTC."""
    child = someone(6573, weight_g=50_000)
    late = MORNING.replace(hour=23, minute=59)
    policy = {limit.window_h for limit in allowance(child, shipped(), {}, late).limits}
    next_day = allowance(child, shipped(), {}, late + timedelta(minutes=2))
    assert 672 in policy
    assert 672 not in {limit.window_h for limit in next_day.limits}
