"""A patient of whom fewer identifiers are known than the policy asks for."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date

import pytest

from cubital.catalogue import shipped
from cubital.chair import fold, judge
from cubital.chair.few import few_for
from cubital.chair.judge import identity_complete
from cubital.chair.shape import code_of, sheet_from, sheet_to
from cubital.chair.sheet import questions_for
from cubital.chair.values import Few, FewReason, Sheet
from cubital.custody.kinds import check_event
from cubital.errors import CatalogueError, RequisitionError
from cubital.finding import Severity
from cubital.requisition.values import Patient
from tests.chair.makers import Story, sheet

UNKNOWN = Patient("OV-77", "Unknown, man from the ferry")


def few_sheet(*checks: str) -> Sheet:
    """Name and number alone, three asked for."""
    few = Few(
        ("birth date",),
        checks or ("wristband",),
        (
            FewReason("unconscious", "Unconscious", reads=True, source="who"),
            FewReason("birth_date_unknown", "Nobody knows the birth date", reads=False,
                      source="practice"),
        ),
        "practice",
    )  # fmt: skip
    plain = sheet()
    questions = tuple(q for q in plain.questions if q.code != "birth_date")
    return replace(plain, questions=questions, few=few)


def said(**last: object) -> Story:
    """Scanned, both identifiers agreed to, and what stands in for the third."""
    story = Story().add("identity_confirmed", identifiers=["scan"], scanned=True)
    story.add("identity_confirmed", identifiers=["name"])
    story.add("identity_confirmed", identifiers=["number"])
    return story.add("identity_confirmed", **last) if last else story


def test_what_is_lacking_is_named_and_the_tables_say_what_stands_in() -> None:
    """One of three is missing: its name, the reasons of the table, the check of the setting."""
    few = few_for(UNKNOWN, shipped(), 3)
    assert few.lacking == ("birth date",)
    assert few.checks == ("wristband",)
    assert {"unconscious", "unidentified"} <= {each.code for each in few.reasons}
    assert all(each.source in shipped().sources for each in few.reasons)
    assert [q.code for q in questions_for(UNKNOWN, 3)] == ["name", "number"]


def test_nobody_lacks_anything_where_enough_is_known() -> None:
    """All three, or as many as are asked; then the only reason is that they cannot be said."""
    for known in (
        few_for(replace(UNKNOWN, birth_date=date(1961, 4, 12)), shipped(), 3),
        few_for(UNKNOWN, shipped(), 2),
    ):
        assert known.lacking == ()
        assert all(each.reads for each in known.reasons)
        assert {"unconscious", "confused"} <= {each.code for each in known.reasons}
        assert "unidentified" not in {each.code for each in known.reasons}


def mute_sheet() -> Sheet:
    """Everything is known, and the patient may not be able to say it."""
    return replace(
        sheet(), few=replace(few_sheet().few or few_for(UNKNOWN, shipped(), 3), lacking=())
    )


def test_a_patient_who_says_everything_needs_no_reason_and_no_check() -> None:
    """As before."""
    story = said().add("identity_confirmed", identifiers=["birth_date"])
    assert identity_complete(mute_sheet(), fold(mute_sheet(), story.events))


def test_once_a_reason_is_given_the_check_holds_as_well() -> None:
    """Identifiers that are read, not said, want the band on the patient beside them."""
    paper = mute_sheet()
    story = Story().add("identity_confirmed", identifiers=["scan"], scanned=True)
    story.add("identity_confirmed", identifiers=["name"], reason="unconscious")
    story.add("identity_confirmed", identifiers=["birth_date"])
    story.add("identity_confirmed", identifiers=["number"])
    state = fold(paper, story.events)
    assert not identity_complete(paper, state)
    assert [f.code for f in judge(paper, state, Story().needle().events[0])] == ["identity-open"]
    story.add("identity_confirmed", identifiers=["wristband"])
    done = fold(paper, story.events)
    assert identity_complete(paper, done)
    (found,) = done.findings
    assert (found.code, found.severity) == ("identifiers-read", Severity.NOTE)
    assert found.sentence == (
        "The patient cannot say the identifiers: they are read on the wristband. Unconscious."
    )


def test_fewer_than_two_identifiers_are_never_enough() -> None:
    """A number alone is refused, whatever the reason."""
    with pytest.raises(RequisitionError, match="2 identifiers at least"):
        questions_for(Patient("OV-77", ""), 3)


@pytest.mark.parametrize(
    ("word", "checks"),
    [
        ("wristband", ("wristband",)),
        ("second_person", ("second_person",)),
        ("both", ("wristband", "second_person")),
    ],
)
def test_local_policy_says_what_stands_in(word: str, checks: tuple[str, ...]) -> None:
    """One setting, three words."""
    few = few_for(UNKNOWN, with_setting(word), 3)
    assert few.checks == checks


def test_another_word_in_the_setting_is_refused() -> None:
    """With the words that may stand there."""
    with pytest.raises(CatalogueError, match="second_person"):
        few_for(UNKNOWN, with_setting("nobody"), 3)


def with_setting(word: str):
    """The shipped catalogue with this check."""

    class Other:
        """A catalogue whose one setting differs."""

        def __getattr__(self, name: str) -> object:
            return getattr(shipped(), name)

        def setting(self, key: str) -> object:
            row = shipped().setting(key)
            return replace(row, value=word) if key == "identifiers_few_check" else row

    return Other()


def test_no_needle_before_the_reason_and_the_check() -> None:
    """Two identifiers that agree are not enough by themselves."""
    paper = few_sheet()
    state = fold(paper, said().events)
    assert not identity_complete(paper, state)
    needle = Story().needle().events[0]
    assert [f.code for f in judge(paper, state, needle)] == ["identity-open"]
    reason_only = fold(paper, said(identifiers=["scan"], reason="unconscious").events)
    assert not identity_complete(paper, reason_only)
    check_only = fold(paper, said(identifiers=["wristband"]).events)
    assert not identity_complete(paper, check_only)


def test_a_reason_and_the_wristband_let_the_draw_go_on_and_it_is_a_finding() -> None:
    """The finding names what was known, what was missing and why, with the reason's source."""
    paper = few_sheet()
    story = said(identifiers=["wristband"], reason="unconscious")
    for event in story.events:
        check_event(event)
    state = fold(paper, story.events)
    assert identity_complete(paper, state)
    (found,) = state.findings
    assert (found.code, found.severity, found.source) == ("identifiers-few", Severity.NOTE, "who")
    assert "2 of 3 identifiers" in found.sentence
    assert "birth date" in found.sentence
    assert "Unconscious" in found.sentence


def test_both_checks_are_needed_where_policy_wants_both() -> None:
    """And the second person is another person."""
    paper = few_sheet("wristband", "second_person")
    band = said(identifiers=["wristband"], reason="unconscious")
    assert not identity_complete(paper, fold(paper, band.events))
    band.add("identity_confirmed", identifiers=["second_person"], second="mira")
    alone = fold(paper, band.events)
    assert not identity_complete(paper, alone)
    assert alone.findings[-1].code == "second-person-same"
    band.add("identity_confirmed", identifiers=["second_person"])
    assert fold(paper, band.events).findings[-1].code == "second-person-missing"
    band.add("identity_confirmed", identifiers=["second_person"], second="Sister Orla")
    check_event(band.events[-1])
    assert identity_complete(paper, fold(paper, band.events))


def test_a_mismatch_still_stops_and_nothing_overrides_it() -> None:
    """Also with a reason, a wristband and a second person afterwards."""
    paper = few_sheet()
    story = said().add("identity_mismatch", identifier="name")
    story.add("override_given", finding="identifier-missing", reason="Unconscious")
    story.add("identity_confirmed", identifiers=["wristband"], reason="unconscious")
    state = fold(paper, story.events)
    assert not identity_complete(paper, state)
    assert state.mismatch == "name"


def test_a_reason_that_is_not_in_the_table_is_refused() -> None:
    """And one where nothing is lacking."""
    paper = few_sheet()
    strange = fold(paper, said(identifiers=["wristband"], reason="in_a_hurry").events)
    assert [f.code for f in strange.findings] == ["identity-reason-unknown"]
    assert not identity_complete(paper, strange)
    plain = fold(sheet(), said(identifiers=["scan"], reason="unconscious").events)
    assert [f.code for f in plain.findings] == ["identity-reason-unknown"]


def test_the_sheet_comes_back_and_an_older_one_is_still_read() -> None:
    """What stands in is part of the sheet's content; a sheet kept before it was is read."""
    paper = few_sheet("wristband", "second_person")
    shape = json.loads(json.dumps(sheet_to(paper)))
    assert sheet_from(shape) == paper
    assert code_of(paper) != code_of(replace(paper, few=None))
    assert set(shape["said"]["few"]) == {"unconscious", "birth_date_unknown"}
    old = json.loads(json.dumps(sheet_to(sheet())))
    del old["few"]
    old["questions"] = [{k: q[k] for k in ("code", "ask", "answer")} for q in old["questions"]]
    assert sheet_from(old) == sheet()
