"""
The page looks up and the core decides: the same random scans and events, played to both.

See ``docs/decisions/0006-the-page-looks-up.md``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from random import Random
from typing import Any

from playwright.sync_api import Page

from cubital.chair import State, judge, understand
from cubital.chair.fold import take
from cubital.chair.judge import left_out, unfinished
from cubital.chair.said import finding_to
from cubital.chair.shape import sheet_to
from cubital.chair.values import Sheet
from cubital.custody import Event, event_to
from tests.chair.makers import BEGIN, NUMBERS, sheet
from tests.chair.test_few import few_sheet, mute_sheet

STORIES = 240
STEPS = 45
SCANS = (
    "104233", "R-1", " R-1 ", *NUMBERS, "TWIN", "OL2611250099Z", "???", "104234",
    "citrate-27:A1", "serum-50:A2", "edta-30:A3", "fluoride-20:A4", "edta-30:OLD", "edta-30:REC",
    "heparin-40:H1",
)  # fmt: skip

PLAY = """
async ([sheets, stories]) => {
  const j = await import("/static/chair/chair_judge.js");
  return stories.map(({ sheet: number, steps }) => {
    const sheet = sheets[number];
    let state = j.emptyState();
    const said = steps.map((step) => {
      if (step.scan !== undefined) return { scan: j.understand(sheet, state, step.scan) };
      const against = j.judge(sheet, state, step.event);
      state = j.take(sheet, state, step.event);
      return { against, unfinished: j.unfinished(sheet, state), leftOut: j.leftOut(sheet, state) };
    });
    return { said, state };
  });
}
"""


def sheets() -> list[Sheet]:
    """Labels before and after, one attempt, no coagulation, twins of one additive, nobody else."""
    plain = sheet()
    twin = replace(plain.tubes[2], accession="TWIN", position=4)
    return [
        plain,
        sheet("after"),
        sheet(attempts=1, coagulation=False),
        replace(plain, tubes=(*plain.tubes[:3], twin, replace(plain.tubes[3], position=5))),
        replace(sheet("after"), others=(), stock=sheet().stock[:2], tubes=plain.tubes[:1]),
        few_sheet(),
        few_sheet("wristband", "second_person"),
        mute_sheet(),
    ]


def random_event(random: Random, at: int) -> Event:
    """Anything that may arrive: usual, odd, out of its turn, of a tube that is not in the plan."""
    kind, about, payload = random.choice(KINDS)(random)
    return Event(
        id="",
        site="valley",
        kind=kind,
        happened_at=BEGIN + timedelta(milliseconds=at),
        who=random.choice(("mira", "mira", "mira", "oskan")),
        subject=about,
        payload=payload,
    )


def tube(random: Random) -> str:
    """A specimen, now and then one that nobody planned."""
    return f"specimen:{random.choice((*NUMBERS, *NUMBERS, 'TWIN', 'NOPE'))}"


Made = tuple[str, str, dict[str, Any]]


def identity(random: Random) -> Made:
    """Scanned, or an identifier said; rarely one that is not asked."""
    said = random.choice(
        (["scan"], ["name"], ["birth_date"], ["number"], ["name", "number"], ["blood_group"],
         ["wristband"], ["second_person"])
    )  # fmt: skip
    payload: dict[str, Any] = {"identifiers": said}
    if "scan" in said or random.random() < 0.2:
        payload["scanned"] = True
    if "wristband" in said or random.random() < 0.1:
        payload["reason"] = random.choice(("unconscious", "birth_date_unknown", "in_a_hurry"))
    if "second_person" in said:
        payload["second"] = random.choice(("mira", "oskan", "Sister Orla", " "))
    return "identity_confirmed", "draw:d-1", payload


def begun(random: Random) -> Made:
    """A needle, with or without where and what."""
    payload: dict[str, Any] = {"draw": "d-1"}
    if random.random() < 0.5:
        payload |= {"body_site": "hand_back", "side": "left", "device": "winged", "gauge": 23}
    return "attempt_begun", f"attempt:a-{random.randint(1, 9)}", payload


def ended(random: Random) -> Made:
    """The needle out."""
    good = random.random() < 0.3
    payload = {"draw": "d-1", "success": good} | ({} if good else {"reason": "no_vein"})
    return "attempt_ended", "attempt:a-1", payload


def scanned(random: Random) -> Made:
    """A tube, of a container and a lot that may be wrong."""
    payload: dict[str, Any] = {"draw": "d-1", "patient": "104233", "position": 1}
    if random.random() < 0.3:
        payload["container"] = random.choice(("citrate-27", "serum-50", "edta-30", "heparin-40"))
    if random.random() < 0.3:
        payload["lot"] = random.choice(("A1", "OLD", "REC", "unknown"))
    return "tube_scanned", tube(random), payload


def filled(random: Random) -> Made:
    """How far it filled."""
    fill = random.choice(("full", "short", "none"))
    payload: dict[str, Any] = {"fill": fill} | ({"volume_ul": 900} if fill == "short" else {})
    return "tube_filled", tube(random), payload


def matched(random: Random) -> Made:
    """A label, the right one or another."""
    about = tube(random)
    label = random.choice((about.partition(":")[2], NUMBERS[1], NUMBERS[2], ""))
    return "label_matched", about, {"label": label} if label else {}


def simple(kind: str, **payload: Any) -> Callable[[Random], Made]:
    """An event of the draw that says always the same."""
    return lambda random: (kind, "draw:d-1", payload)


KINDS: tuple[Callable[[Random], Made], ...] = (
    simple("draw_begun", patient="104233", requisition="R-1"),
    identity, identity, identity, identity, identity,
    begun, begun, begun, ended, ended, scanned, scanned, scanned, scanned, filled, matched, matched,
    lambda random: ("tube_mixed", tube(random), {}),
    lambda random: ("label_printed", tube(random), {}),
    simple("tourniquet_on"), simple("tourniquet_off"), simple("tourniquet_off"),
    simple("site_chosen", body_site="cephalic", side="right"),
    simple("device_chosen", device="syringe", gauge=21),
    simple("draw_handed_over", to="oskan"),
    simple("override_given", finding="order-too-early", reason="on the needle already"),
    lambda random: ("incident_recorded", "incident:i-1", {"what": "fainting"}),
    simple("tube_refused", finding="unknown"),
    lambda random: random.choice((
        ("draw_finished", "draw:d-1", {}), ("draw_finished", "draw:d-1", {}),
        ("draw_not_obtained", "draw:d-1", {"reason": "refused"}),
        ("identity_mismatch", "draw:d-1", {"identifier": "name"}),
        *[("tourniquet_off", "draw:d-1", {})] * 8,
    )),
)  # fmt: skip


def made_story(random: Random, at: int) -> dict[str, Any]:
    """One story, half of them with the identity certain from the start."""
    steps: list[dict[str, Any]] = []
    if random.random() < 0.7:
        for said in (["scan"], ["name"], ["birth_date"], ["number"]):
            payload = {"identifiers": said, "scanned": True}
            steps.append({"event": Event(id="", site="valley", kind="identity_confirmed",
                                         happened_at=BEGIN, who="mira", subject="draw:d-1",
                                         payload=payload)})  # fmt: skip
    moment = 0
    for _ in range(STEPS):
        moment += random.choice((5, 900, 20_000, 46_000, 61_500))
        if random.random() < 0.4:
            steps.append({"scan": random.choice(SCANS)})
        else:
            steps.append({"event": random_event(random, moment)})
    return {"sheet": at, "steps": steps}


def by_the_core(paper: Sheet, steps: list[dict[str, Any]]) -> dict[str, Any]:
    """What the core says to each step, and how the draw stands in the end."""
    state, said = State(), []
    for step in steps:
        if "scan" in step:
            scan = understand(paper, state, step["scan"])
            said.append({"scan": {
                "means": scan.means, "text": scan.text, "accession": scan.accession,
                "lot": scan.lot, "findings": [finding_to(f) for f in scan.findings],
            }})  # fmt: skip
            continue
        against = judge(paper, state, step["event"])
        state = take(paper, state, step["event"])
        said.append({
            "against": [finding_to(f) for f in against],
            "unfinished": [finding_to(f) for f in unfinished(paper, state)],
            "leftOut": [finding_to(f) for f in left_out(paper, state)],
        })  # fmt: skip
    return {"said": said, "state": as_on_page(state)}


def as_on_page(state: State) -> dict[str, Any]:
    """A state as the page names its parts."""
    since = state.tourniquet_since
    return {
        "begun": state.begun, "scanned": state.scanned, "confirmed": list(state.confirmed),
        "few": state.few, "mismatch": state.mismatch, "site": state.site, "side": state.side,
        "device": state.device, "gauge": state.gauge, "handedTo": state.handed_to,
        "ended": state.ended, "labelsPrinted": list(state.labels_printed),
        "collectors": list(state.collectors), "overridden": list(state.overridden),
        "mishaps": list(state.mishaps), "findings": [finding_to(f) for f in state.findings],
        "tourniquetSince": None if since is None else round(since.timestamp() * 1000),
        "tourniquetSpans": [span.total_seconds() for span in state.tourniquet_spans],
        "attempts": [
            {"code": a.code, "who": a.who, "site": a.site, "side": a.side, "device": a.device,
             "gauge": a.gauge, "obtained": a.obtained, "reason": a.reason}
            for a in state.attempts
        ],
        "drawn": [
            {"accession": d.accession, "position": d.position, "lot": d.lot, "who": d.who,
             "fill": d.fill, "estimate_ul": d.estimate_ul, "mixed": d.mixed,
             "labelled": d.labelled}
            for d in state.drawn
        ],
    }  # fmt: skip


def as_sent(step: dict[str, Any]) -> dict[str, Any]:
    """A step as it goes to the page."""
    return step if "scan" in step else {"event": event_to(step["event"])}


def test_the_page_and_the_core_say_the_same(desk: Callable[..., Page]) -> None:
    """Thousands of random scans and events: every sentence and the final state agree."""
    page = desk()
    page.goto("/sign-in/")
    papers = sheets()
    random = Random(20261125)
    stories = [made_story(random, n % len(papers)) for n in range(STORIES)]
    sent = [{**story, "steps": [as_sent(step) for step in story["steps"]]} for story in stories]
    on_page = page.evaluate(PLAY, [[sheet_to(paper) for paper in papers], sent])
    codes: set[str] = set()
    for story, found in zip(stories, on_page, strict=True):
        expected = by_the_core(papers[story["sheet"]], story["steps"])
        for step, ours, theirs in zip(story["steps"], expected["said"], found["said"], strict=True):
            assert ours == theirs, step
            for said in (*ours.get("against", ()), *ours.get("scan", {}).get("findings", ())):
                codes.add(said["code"])
        assert expected["state"] == found["state"]
    assert codes >= {
        "attempt-open", "attempts-used-up", "draw-ended", "identifier-not-asked", "identity-open",
        "identifiers-few", "identifiers-read", "identity-reason-unknown", "second-person-missing",
        "second-person-same", "identity-mismatch", "label-mismatch", "lot-recalled", "no-needle-in",
        "not-in-plan",
        "nothing-drawn", "order-too-early", "order-too-late", "other-patient", "scan-first",
        "tourniquet-long", "tourniquet-on", "tube-expired", "tube-left-out", "tube-not-drawn",
        "tube-unlabelled", "tube-used", "unknown-scan", "wrong-container",
    }  # fmt: skip
