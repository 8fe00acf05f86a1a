"""What is done after a verdict: a stop holds, an ask needs a name and a reason."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cubital.errors import InputError
from cubital.finding import Severity
from cubital.reception import Outcome, Verdict, accepts_at_once, decide
from tests.draw.hands import laid_over, setting
from tests.reception.makers import DRAWN, arrival, expected, judged

EDTA = ("edta-3", "fbc")
GEL = ("gel-3.5", "sodium", "potassium", "ldh")


def test_a_good_specimen_needs_nobody() -> None:
    """Everything is done, no name, no reason, no remark."""
    done = accepts_at_once(judged(arrival(), expected(*EDTA)))
    assert done is not None
    assert (done.accept, done.refuse, done.remarks, done.decided_by) == (("fbc",), (), (), "")


def test_a_remark_goes_along() -> None:
    """Soon too old is accepted at once, and the remark stands in the decision."""
    verdict = judged(arrival(received_at=DRAWN + timedelta(hours=10)), expected(*EDTA))
    done = accepts_at_once(verdict)
    assert done is not None
    assert done.remarks == ("soon-too-old",)


def test_when_to_hurry_is_the_laboratory_s_to_say() -> None:
    """With ``stability_soon_percent`` at 95 the same specimen is not hurried yet."""
    calm = laid_over(setting("stability_soon_percent", "95"))
    verdict = judged(arrival(received_at=DRAWN + timedelta(hours=10)), expected(*EDTA), calm)
    done = accepts_at_once(verdict)
    assert done is not None
    assert done.remarks == ()


@pytest.mark.parametrize("seen", [{"leaking": True}, {"labels": 2}])
def test_what_stops_or_asks_is_not_accepted_at_once(seen: dict[str, object]) -> None:
    """Refused or to be decided: somebody looks."""
    assert accepts_at_once(judged(arrival(**seen), expected(*EDTA))) is None


def test_what_nobody_asked_a_test_from_is_not_accepted() -> None:
    """Without a test there is nothing to accept, however good it looks."""
    verdict = judged(arrival(), expected("edta-3"))
    assert accepts_at_once(verdict) is None
    with pytest.raises(InputError, match="Nobody asked"):
        decide(verdict, choices={})


def test_a_haemolysed_tube_is_refused_for_some_of_its_tests() -> None:
    """Sodium is done, potassium and LDH are not, and the rule is the reason."""
    verdict = judged(arrival(haemolysis_g_per_l=6.0), expected(*GEL))
    done = decide(verdict, choices={})
    assert (done.accept, done.refuse) == (("sodium",), ("potassium", "ldh"))
    assert done.reason == "haemolysed"
    assert "free haemoglobin" in done.sentence


def test_an_ask_needs_a_decision_a_name_and_a_reason() -> None:
    """Each of the three is asked for in turn."""
    verdict = judged(arrival(labels=2), expected(*EDTA))
    with pytest.raises(InputError, match="not decided"):
        decide(verdict, choices={})
    with pytest.raises(InputError, match="Who decides"):
        decide(verdict, choices={"fbc": True}, why="Both labels are hers.")
    with pytest.raises(InputError, match="Write why"):
        decide(verdict, choices={"fbc": True}, decided_by="joren")
    done = decide(verdict, choices={"fbc": True}, decided_by="joren", why=" Both are hers. ")
    assert (done.past, done.decided_by, done.why) == (("label-two",), "joren", "Both are hers.")
    refused = decide(verdict, choices={"fbc": False}, decided_by="joren")
    assert (refused.refuse, refused.reason, refused.past) == (("fbc",), "label-two", ())


@given(
    choices=st.dictionaries(st.sampled_from(GEL[1:]), st.booleans()),
    labels=st.integers(0, 2),
    g_per_l=st.floats(0, 10),
    irreplaceable=st.booleans(),
)
def test_a_stop_is_never_gone_past_and_no_test_is_lost(
    choices: dict[str, bool], labels: int, g_per_l: float, irreplaceable: bool
) -> None:
    """Whatever is chosen: every test is either done or not, and no refused one is done."""
    verdict: Verdict = judged(
        arrival(labels=labels, haemolysis_g_per_l=g_per_l),
        expected(*GEL, irreplaceable=irreplaceable),
    )
    every = {test: choices.get(test, True) for test in GEL[1:]}
    done = decide(verdict, choices=every, decided_by="joren", why="Looked at it.")
    assert sorted((*done.accept, *done.refuse)) == sorted(GEL[1:])
    refused = {t.test for t in verdict.tests if t.outcome is Outcome.REFUSED}
    assert refused.isdisjoint(done.accept)
    stops = {f.code for f in verdict.findings if f.severity is Severity.STOP}
    assert stops.isdisjoint(done.past)
    assert bool(done.refuse) == bool(done.reason)
