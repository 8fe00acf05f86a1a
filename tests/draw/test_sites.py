"""Where blood may be taken, and where not."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cubital.catalogue import shipped
from cubital.catalogue.model import Site, SiteCondition
from cubital.draw.sites import VERDICTS, SiteChoice, choose_sites
from cubital.finding import Severity
from cubital.requisition.values import Condition, Patient
from tests.draw.hands import laid_over, someone, with_condition

ADULT = 14_000
RULES = {row.condition: row for row in shipped().rows(SiteCondition)}
CODES = st.sampled_from([*sorted(RULES), "latex_allergy", "nothing_known"])
SIDES = st.sampled_from(["left", "right", "both", ""])
PLACES = st.sampled_from(["", *sorted(shipped().sites), "nowhere"])
CONDITIONS = st.lists(st.builds(Condition, CODES, SIDES, PLACES), max_size=4).map(tuple)
AGES = st.one_of(st.none(), st.integers(0, 40_000))
ROUTES = st.sampled_from(["venous", "capillary"])


def sites(
    patient: Patient | None = None,
    *,
    route: str = "venous",
    age: int | None = ADULT,
    asked: tuple[str, str] = ("", ""),
    choices: dict[str, str] | None = None,
) -> SiteChoice:
    """The sites for an adult's venous draw, unless told."""
    return choose_sites(
        patient or someone(),
        shipped(),
        choices or {},
        route=route,
        age=age,
        asked_site=asked[0],
        asked_side=asked[1],
    )


def verdicts(choice: SiteChoice) -> dict[tuple[str, str], str]:
    """(site, side) -> verdict."""
    return {(planned.site, planned.side): planned.verdict for planned in choice.sites}


def codes(choice: SiteChoice) -> dict[str, Severity]:
    """Code -> severity of the findings."""
    return {finding.code: finding.severity for finding in choice.findings}


def covered(condition: Condition, site: Site, side: str) -> bool:
    """Whether a condition covers a site, said the other way round than the rule says it."""
    row = RULES.get(condition.code)
    if row is None or (condition.side in ("left", "right") and side not in ("", condition.side)):
        return False
    if row.scope == "site":
        return condition.site == site.code
    where = shipped().sites.get(condition.site)
    limb = (where.limb if where else "") or "arm"
    beyond = row.scope == "below" and where is not None and site.level > where.level
    return site.limb == limb and not beyond


# ---------------------------------------------------------------- invariants


@settings(max_examples=300)
@given(CONDITIONS, ROUTES, AGES)
def test_a_site_that_a_condition_covers_is_never_allowed(
    conditions: tuple[Condition, ...], route: str, age: int | None
) -> None:
    """Whatever the conditions: no covered site is allowed, none with a stop is even by order."""
    choice = sites(someone(conditions=conditions), route=route, age=age)
    for planned in choice.sites:
        site = shipped().sites[planned.site]
        over = [RULES[c.code] for c in conditions if covered(c, site, planned.side)]
        if over:
            assert planned.verdict != "allowed"
        if any(row.severity == "stop" for row in over):
            assert planned.verdict in ("excluded", "never")
        if not over and site.verdict == "allowed":
            assert planned.verdict == "allowed"


@given(CONDITIONS, ROUTES, AGES)
def test_never_stays_never_and_says_why(
    conditions: tuple[Condition, ...], route: str, age: int | None
) -> None:
    """Sites of no blood are on every list, last, with a reason, and nothing changes them."""
    choice = sites(someone(conditions=conditions), route=route, age=age)
    never = {s.code for s in shipped().sites.values() if s.verdict == "never"}
    assert {p.site for p in choice.sites if p.verdict == "never"} == never
    assert all(p.reason.sentence and p.reason.source in shipped().sources for p in choice.sites)
    order = [VERDICTS.index(p.verdict) for p in choice.sites]
    assert order == sorted(order)


@given(CONDITIONS, ROUTES, AGES)
def test_without_an_allowed_site_there_is_a_finding(
    conditions: tuple[Condition, ...], route: str, age: int | None
) -> None:
    """Either a site is allowed, or an order is asked for, or it is a stop."""
    choice = sites(someone(conditions=conditions), route=route, age=age)
    found, kinds = codes(choice), {p.verdict for p in choice.sites}
    assert ("site-by-order" in found) == ("allowed" not in kinds and "by_order" in kinds)
    assert ("site-none" in found) == kinds.isdisjoint({"allowed", "by_order"})


# ---------------------------------------------------------------- order


def test_order_of_preference_on_both_sides() -> None:
    """Median cubital, cephalic, basilic, back of the hand, left and right; the foot by order."""
    choice = sites()
    allowed = [(p.site, p.side) for p in choice.sites if p.verdict == "allowed"]
    veins = ("median_cubital", "cephalic", "basilic", "hand_back")
    assert allowed == [(vein, side) for vein in veins for side in ("left", "right")]
    assert verdicts(choice)["ankle_foot", "left"] == "by_order"
    assert choice.findings == ()


def test_each_site_carries_its_caution() -> None:
    """The basilic vein lies near artery and nerve, and says so."""
    basilic = next(p for p in sites().sites if p.site == "basilic")
    assert "artery" in basilic.caution
    assert "nerve" in basilic.caution


@pytest.mark.parametrize(
    ("days", "here", "not_here"), [(100, "heel", "finger"), (200, "finger", "heel")]
)
def test_heel_or_finger_by_age(days: int, here: str, not_here: str) -> None:
    """Under six months the heel, from then on the finger; the other is not on the list."""
    listed = {p.site for p in sites(route="capillary", age=days).sites if p.verdict == "allowed"}
    assert here in listed
    assert not_here not in listed


@pytest.mark.parametrize(("option", "depth"), [("mm_2_0", "2.0 mm"), ("mm_2_4", "2.4 mm")])
def test_the_heel_says_the_depth_that_was_chosen(option: str, depth: str) -> None:
    """The caution holds the depth of the chosen source."""
    choice = sites(route="capillary", age=10, choices={"heel-depth": option})
    heel = next(p for p in choice.sites if p.site == "heel")
    assert depth in heel.caution


# ---------------------------------------------------------------- conditions


def test_a_mastectomy_on_the_left_shuts_the_left_arm() -> None:
    """Every vein of the left arm is excluded with the reason; the right arm stays."""
    choice = sites(with_condition("mastectomy", "left"))
    for planned in choice.sites:
        if planned.site in ("median_cubital", "cephalic", "basilic", "hand_back"):
            assert planned.verdict == ("excluded" if planned.side == "left" else "allowed")
        if planned.verdict == "excluded":
            assert planned.reason.sentence == RULES["mastectomy"].sentence
    assert verdicts(choice)["ankle_foot", "left"] == "by_order"
    assert choice.findings == ()


def test_a_mastectomy_on_both_sides_asks_for_an_order() -> None:
    """With no arm left both are by order, and the finding asks for that order."""
    choice = sites(with_condition("mastectomy", "both"))
    assert verdicts(choice)["median_cubital", "left"] == "by_order"
    assert codes(choice) == {"site-by-order": Severity.ASK}


def test_a_fistula_is_never_by_order() -> None:
    """A stop holds on both sides: only the foot is left, by order."""
    choice = sites(with_condition("fistula", "both"))
    assert verdicts(choice)["hand_back", "right"] == "excluded"
    assert {p.site for p in choice.sites if p.verdict == "by_order"} == {"ankle_foot"}


def test_the_hardest_condition_gives_the_reason() -> None:
    """A fistula and a mastectomy in one arm: the stop is shown, in either order of writing."""
    both = (Condition("mastectomy", "left"), Condition("fistula", "left"))
    for conditions in (both, both[::-1]):
        choice = sites(someone(conditions=conditions))
        shut = next(p for p in choice.sites if (p.site, p.side) == ("basilic", "left"))
        assert shut.reason.sentence == RULES["fistula"].sentence


def test_below_an_infusion_comes_after_the_other_arm() -> None:
    """A drip in the left elbow shuts the elbow; the left hand stays, last, with its caution."""
    choice = sites(with_condition("infusion", "left", "cephalic"))
    allowed = [(p.site, p.side) for p in choice.sites if p.verdict == "allowed"]
    assert allowed[-1] == ("hand_back", "left")
    assert [side for _, side in allowed[:-1]] == ["right"] * 4
    hand = next(p for p in choice.sites if (p.site, p.side) == ("hand_back", "left"))
    assert RULES["infusion"].sentence in hand.caution
    assert hand.reason.sentence == RULES["infusion"].sentence


def test_an_infusion_in_the_hand_leaves_nothing_below_but_the_finger() -> None:
    """The hand and all above it are shut; a finger prick is still below."""
    patient = with_condition("infusion", "left", "hand_back")
    assert verdicts(sites(patient))["hand_back", "left"] == "excluded"
    assert verdicts(sites(patient, route="capillary"))["finger", "left"] == "allowed"


def test_an_infusion_somewhere_shuts_the_whole_arm() -> None:
    """Where it runs is not written down: nothing of that arm is allowed."""
    choice = sites(with_condition("infusion", "right"))
    assert {p.side for p in choice.sites if p.verdict == "allowed"} == {"left"}


def test_a_condition_of_one_site_shuts_that_site_only() -> None:
    """A scar over the left cephalic vein leaves all the rest."""
    seen = verdicts(sites(with_condition("scar", "left", "cephalic")))
    assert [key for key, verdict in seen.items() if verdict == "excluded"] == [("cephalic", "left")]


def test_a_site_without_sides_is_shut_by_a_condition_of_either_side() -> None:
    """An ear lobe kept without sides in a laboratory's table, scarred on the left, is shut."""
    mine = laid_over(replace(shipped().sites["ear_lobe"], sided=False))
    patient = with_condition("scar", "left", "ear_lobe")
    choice = choose_sites(patient, mine, {}, route="capillary", age=ADULT)
    assert verdicts(choice)["ear_lobe", ""] == "excluded"


def test_a_condition_of_the_leg_leaves_the_arms() -> None:
    """An injured foot shuts the foot, not the arm."""
    seen = verdicts(sites(with_condition("fracture", "left", "ankle_foot")))
    assert seen["ankle_foot", "left"] == "excluded"
    assert seen["median_cubital", "left"] == "allowed"


@pytest.mark.parametrize(
    ("condition", "code"),
    [
        (Condition("mastectomy"), "condition-side"),
        (Condition("scar", "left"), "condition-site"),
        (Condition("scar", "left", "nowhere"), "condition-site"),
    ],
)
def test_what_is_not_written_down_is_asked(condition: Condition, code: str) -> None:
    """A side, a place, or a place that no table knows."""
    choice = sites(someone(conditions=(condition,)))
    assert codes(choice)[code] == Severity.ASK
    if code == "condition-side":
        assert "allowed" not in {p.verdict for p in choice.sites}


def test_cautions_of_the_patient_are_not_the_sites_business() -> None:
    """An allergy changes no site and gives no finding here."""
    assert sites(with_condition("latex_allergy")) == sites()


def test_when_every_site_is_shut_it_is_a_stop() -> None:
    """Plaster on both arms and burns on both feet: do not draw."""
    conditions = (Condition("cast", "both"), Condition("burn", "both", "ankle_foot"))
    choice = sites(someone(conditions=conditions))
    assert codes(choice) == {"site-none": Severity.STOP}


# ---------------------------------------------------------------- a site that somebody wants


@pytest.mark.parametrize(
    ("asked", "code", "severity"),
    [
        (("wrist_palm", "left"), "site-refused", Severity.STOP),
        (("femoral", ""), "site-refused", Severity.STOP),
        (("median_cubital", "left"), "site-refused", Severity.STOP),
        (("ankle_foot", "right"), "site-by-order", Severity.ASK),
        (("heel", "left"), "site-refused", Severity.STOP),
        (("elbow", ""), "site-refused", Severity.STOP),
    ],
)
def test_an_asked_site_is_refused_where_it_must_be(
    asked: tuple[str, str], code: str, severity: Severity
) -> None:
    """Never-sites, excluded ones, the wrong route or age, and sites that no table knows."""
    choice = sites(with_condition("mastectomy", "left"), asked=asked)
    (finding,) = choice.findings
    assert (finding.code, finding.severity, finding.subject) == (code, severity, asked[0])


@pytest.mark.parametrize("asked", [("median_cubital", "right"), ("median_cubital", "")])
def test_an_asked_site_that_is_allowed_is_not_refused(asked: tuple[str, str]) -> None:
    """The other arm, or no side said while one is free."""
    assert sites(with_condition("mastectomy", "left"), asked=asked).findings == ()


@given(st.sampled_from(sorted(shipped().sites)), SIDES.filter(lambda s: s != "both"), CONDITIONS)
def test_only_an_allowed_site_passes(
    code: str, side: str, conditions: tuple[Condition, ...]
) -> None:
    """Asked for and not refused means: allowed on that side, or on one of them."""
    choice = sites(someone(conditions=conditions), asked=(code, side))
    allowed = {(p.site, p.side) for p in choice.sites if p.verdict == "allowed"}
    fits = any(site == code and side in ("", on) for site, on in allowed)
    asked = [f for f in choice.findings if f.subject == code and f.code.startswith("site-")]
    assert (not asked) == fits


def test_a_refusal_says_why() -> None:
    """The sentence names the site and gives the row's own reason."""
    choice = sites(with_condition("fistula", "left"), asked=("basilic", "left"))
    (finding,) = choice.findings
    assert finding.sentence.startswith("Blood is not taken from the left basilic vein.")
    assert RULES["fistula"].sentence in finding.sentence
    assert finding.source == RULES["fistula"].source


def test_a_laboratory_may_shut_a_site() -> None:
    """Its own row decides, and the reason says that it is the laboratory's."""
    row = shipped().sites["hand_back"]
    mine = laid_over(replace(row, verdict="by_order", layer="district"))
    choice = choose_sites(someone(), mine, {}, route="venous", age=ADULT)
    hand = next(p for p in choice.sites if p.site == "hand_back")
    assert (hand.verdict, hand.reason.layer) == ("by_order", "district")
