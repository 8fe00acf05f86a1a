"""The sheet as JSON: back again, named by its content, and every sentence the rules' own."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import timedelta

import pytest

from cubital.chair import State, fold, judge, understand
from cubital.chair.judge import left_out, unfinished
from cubital.chair.said import BLANK, finding_from, finding_to
from cubital.chair.shape import SCHEMA, code_of, kept_to, sheet_from, sheet_to
from cubital.errors import InputError
from cubital.finding import Finding, Severity
from tests.chair.makers import NUMBERS, Story, sheet


@pytest.mark.parametrize("labels", ["before", "after"])
def test_a_sheet_comes_back_through_json(labels: str) -> None:
    """What was written is read again, whole, through real JSON text."""
    paper = replace(
        sheet(labels),
        discard_ul=1000,
        findings=(Finding("namesake", Severity.NOTE, "Same name today.", "who", "77"),),
    )
    text = json.dumps(sheet_to(paper), ensure_ascii=False)
    assert sheet_from(json.loads(text)) == paper
    assert json.loads(text)["schema"] == SCHEMA == "cubital.chair/1"


def test_what_is_kept_leaves_out_the_other_patients_only() -> None:
    """No event of the draw hangs on them; everything else comes back."""
    paper = sheet()
    assert sheet_from(kept_to(paper)) == replace(paper, others=())
    assert "others" not in kept_to(paper)


def test_the_code_names_the_content() -> None:
    """The same sheet has the same code, another tube, lot or policy another; others change none."""
    paper = sheet()
    assert code_of(paper) == sheet_to(paper)["code"] == code_of(sheet())
    assert len(code_of(paper)) == 32
    assert code_of(replace(paper, others=())) == code_of(paper)
    other_codes = {
        code_of(paper),
        code_of(sheet("after")),
        code_of(sheet(attempts=3)),
        code_of(replace(paper, tubes=paper.tubes[:-1])),
        code_of(replace(paper, stock=paper.stock[:-1])),
        code_of(replace(paper, today=paper.today + timedelta(days=1))),
    }
    assert len(other_codes) == 6


@pytest.mark.parametrize(
    "shape",
    [
        {},
        {"schema": "cubital.plan/1"},
        {**kept_to(sheet()), "tubes": [{"accession": "A"}]},
        {**kept_to(sheet()), "today": "tomorrow"},
        {**kept_to(sheet()), "policy": None},
        {k: v for k, v in kept_to(sheet()).items() if k != "scans"},
    ],
)
def test_what_is_no_sheet_is_refused(shape: dict[str, object]) -> None:
    """One sentence, and what to do."""
    with pytest.raises(InputError, match=r"schema|Load it anew"):
        sheet_from(shape)


def test_a_finding_comes_back() -> None:
    """Code, severity, sentence, source and subject."""
    finding = Finding("tube-used", Severity.STOP, "It is drawn already.", "who", "A1")
    assert finding_from(finding_to(finding)) == finding


def test_every_sentence_of_a_tube_is_what_the_rules_say() -> None:
    """Too early, too late, used, unlabelled, left out: the same finding as the rule's own."""
    paper = sheet()
    said = sheet_to(paper)["said"]["tubes"]
    begun = Story().identified().needle()
    state = fold(paper, begun.tubes(paper, 2).events)
    late = understand(paper, state, NUMBERS[0]).findings[0]
    assert said[NUMBERS[0]]["too_late"][NUMBERS[1]] == finding_to(late)
    early = understand(paper, State(), NUMBERS[3]).findings[0]
    assert said[NUMBERS[3]]["too_early"][NUMBERS[0]] == finding_to(early)
    used = understand(paper, state, NUMBERS[1]).findings[0]
    assert said[NUMBERS[1]]["used"] == finding_to(used)
    assert finding_to(left_out(paper, state)[0]) == said[NUMBERS[0]]["left_out"]
    after = sheet("after")
    drawn = fold(after, Story().identified().needle().tubes(after, 1).events)
    assert finding_to(unfinished(after, drawn)[0]) == said[NUMBERS[0]]["unlabelled"]


def test_what_only_the_page_knows_stands_as_a_blank() -> None:
    """A scanned code, a label, seconds: the sentence keeps a place for them."""
    paper = sheet()
    said = sheet_to(paper)["said"]
    assert said["blank"] == BLANK
    state = fold(paper, Story().identified().needle().tubes(paper, 1).events)
    wrong = Story().add("label_matched", f"specimen:{NUMBERS[0]}", label="X9").events[0]
    expected = finding_to(judge(paper, state, wrong)[0])
    kept = said["tubes"][NUMBERS[0]]["label_mismatch"]
    assert {k: v.replace(BLANK, "X9") for k, v in kept.items()} == expected
    assert said["fixed"]["tourniquet_long"]["sentence"].startswith(
        f"The tourniquet was on for {BLANK} s"
    )


def test_two_tubes_of_one_additive_have_no_turn_between_them() -> None:
    """Nothing can be carried over from EDTA to EDTA: the second may come first."""
    paper = sheet()
    twin = replace(paper.tubes[2], accession="TWIN", position=4)
    paper = replace(paper, tubes=(*paper.tubes[:3], twin))
    said = sheet_to(paper)["said"]["tubes"]["TWIN"]
    assert set(said["too_early"]) == {NUMBERS[0], NUMBERS[1]}
    state = fold(paper, Story().identified().needle().tubes(paper, 1, 2).events)
    assert understand(paper, state, "TWIN").findings == ()


def test_a_label_on_a_tube_taken_by_its_lot_is_a_label() -> None:
    """With labels before the draw, too: the tube is drawn, and its label is still to be scanned."""
    paper = sheet()
    story = Story().identified().needle()
    story.add("tube_scanned", f"specimen:{NUMBERS[0]}", draw="d-1", patient="104233",
              container="citrate-27", lot="A1")  # fmt: skip
    state = fold(paper, story.events)
    scan = understand(paper, state, NUMBERS[0])
    assert (scan.means, scan.findings) == ("label", ())
    state = fold(paper, story.add("label_matched", f"specimen:{NUMBERS[0]}").events)
    assert understand(paper, state, NUMBERS[0]).findings[0].code == "tube-used"


def test_a_container_is_told_by_its_name() -> None:
    """A wrong container is named as it stands on the shelf, not by its code."""
    paper = sheet()
    state = fold(paper, Story().identified().needle().events)
    wrong = Story().add("tube_scanned", f"specimen:{NUMBERS[0]}", draw="d-1", patient="104233",
                        container="heparin-40")  # fmt: skip
    (finding,) = judge(paper, state, wrong.events[0])
    assert finding.sentence == "heparin 40 was taken where citrate 27 is planned."
