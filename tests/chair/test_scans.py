"""What a scan means, at once."""

from __future__ import annotations

import pytest

from cubital.chair import State, fold, understand
from tests.chair.makers import NUMBERS, Story, sheet


@pytest.mark.parametrize(
    ("scanned", "means", "codes"),
    [
        ("104233", "patient", []),  # wristband
        (" R-1 ", "patient", []),  # requisition, with a scanner's blanks
        (NUMBERS[0], "tube", []),  # first of the order
        (NUMBERS[2], "tube", ["order-too-early"]),
        ("citrate-27:A1", "tube", []),  # a lot's bar code stands for the next such tube
        ("edta-30:OLD", "tube", ["tube-expired"]),
        ("edta-30:REC", "tube", ["lot-recalled"]),
        ("heparin-40:H1", "tube", ["wrong-container"]),
        ("OL2611250099Z", "unknown", ["other-patient"]),
        ("???", "unknown", ["unknown-scan"]),
    ],
)
def test_each_scan_is_understood(scanned: str, means: str, codes: list[str]) -> None:
    """Patient, tube, or what is wrong with it."""
    scan = understand(sheet(), State(), scanned)
    assert (scan.means, [f.code for f in scan.findings]) == (means, codes)


def test_every_wrong_scan_says_what_to_do() -> None:
    """A wrong container names what is due instead; another patient is named."""
    paper = sheet()
    assert (
        "Now comes citrate 27" in understand(paper, State(), "heparin-40:H1").findings[0].sentence
    )
    assert "Ash, Bea" in understand(paper, State(), "OL2611250099Z").findings[0].sentence


def test_a_drawn_tube_is_used() -> None:
    """Neither its label nor its lot's code may be drawn again."""
    paper = sheet()
    state = fold(paper, Story().identified().needle().tubes(paper, 1).events)
    for scanned in (NUMBERS[0], "citrate-27:A1"):
        assert [f.code for f in understand(paper, state, scanned).findings] == ["tube-used"]
        assert understand(paper, state, scanned).refused


def test_with_labels_after_the_draw_a_label_is_a_label() -> None:
    """The same number means a label to be matched, not a tube."""
    assert understand(sheet("after"), State(), NUMBERS[0]).means == "label"
