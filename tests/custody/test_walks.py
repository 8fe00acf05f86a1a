"""Whatever is offered, in whatever order: the record stays whole."""

from __future__ import annotations

from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st

from cubital.custody import (
    Event,
    Specimen,
    State,
    Waste,
    WasteState,
    effective,
    fold,
    fold_one,
    verify_chain,
)
from cubital.custody.kinds import MENDING
from tests.custody.makers import Desk

WHERE = {
    State.PLANNED: "chair", State.EMPTY: "chair", State.DRAWN: "chair", State.BOXED: "box:",
    State.IN_TRANSIT: "box:", State.MISSING: "box:", State.RECEIVED: "reception",
    State.REFUSED: "reception", State.ACCEPTED: "bench", State.SPINNING: "centrifuge:",
    State.SPUN: "bench", State.STORED: "storage:", State.DISCARDED: "waste",
}  # fmt: skip
"""Where a specimen in a state must be; labelled and aliquoted ones may be in several places."""

TEMPLATES = (
    "draw_begun", "identity_confirmed", "identity_confirmed", "attempt_begun", "attempt_begun",
    "tube_scanned", "tube_scanned", "tube_filled", "tube_filled", "label_matched",
    "label_matched", "attempt_ended", "draw_finished", "draw_not_obtained", "identity_mismatch",
    "tourniquet_on", "tourniquet_off", "specimen_boxed", "specimen_unboxed", "box_sent",
    "box_opened", "specimen_received", "specimen_received", "specimen_accepted",
    "specimen_accepted", "specimen_refused", "specimen_missing", "spin_begun", "spin_ended",
    "aliquot_made", "specimen_stored", "specimen_taken_out", "specimen_discarded",
    "specimen_registered", "incident_recorded", "incident_followed_up", "event_withdrawn",
    "event_corrected",
)  # fmt: skip
WASTE = (
    "waste_opened", "waste_filled", "waste_filled", "waste_closed", "waste_weighed",
    "waste_handed_over", "event_withdrawn", "event_corrected",
)  # fmt: skip
BENCH = frozenset({
    "specimen_accepted", "specimen_refused", "spin_begun", "spin_ended", "aliquot_made",
    "specimen_stored", "specimen_taken_out",
})  # fmt: skip

walks = st.tuples(st.integers(0, 2**32), st.integers(5, 60))
"""A seed and a number of steps."""


def walked(seed: int, length: int, templates: tuple[str, ...] = TEMPLATES) -> Desk:
    """
    A desk after so many steps.

    At each step events are offered at random until one is taken, twelve at most: so there are
    many refusals, and yet the way is long.
    """
    random, desk = Random(seed), Desk()
    for _ in range(length):
        for _ in range(12):
            kind = random.choice(templates)
            event = made(
                desk, kind, random.randint(0, 3), random.randint(0, 3), random.randint(0, 99)
            )
            if desk.offer(event)[0].verdict == "stored":
                break
    return desk


def made(desk: Desk, kind: str, n: int, m: int, any_: int) -> Event:
    """An event of a small world: two draws, four specimens, two boxes, two runs."""
    site = "valley" if any_ % 8 else "pass"
    if kind == "identity_mismatch" and any_ % 10:
        kind = "tube_scanned"
    who = "ilan" if kind in BENCH else "mira"
    specimen, draw, box = f"S-{n}", f"D-{m}", f"B-{m % 2}"
    inside = [
        item.code
        for item in desk.items.values()
        if isinstance(item, Specimen) and item.place == f"box:{box}"
    ]
    rotor = [f"S-{n}"] if any_ % 2 else [f"S-{n}", f"S-{(n + 1) % 4}"]
    said: dict[str, tuple[str, dict[str, object]]] = {
        "draw_begun": (f"draw:{draw}", {"patient": "P-1", "requisition": "R-1"}),
        "identity_confirmed": (f"draw:{draw}", {"identifiers": ["name"]}),
        "identity_mismatch": (f"draw:{draw}", {"identifier": "name"}),
        "attempt_begun": (f"attempt:A-{n}", {"draw": draw}),
        "attempt_ended": (f"attempt:A-{n}", {"draw": draw, "success": True}),
        "tube_scanned": (
            f"specimen:{specimen}", {"draw": draw, "patient": "P-1", "container": "edta-30"}
        ),
        "tube_filled": (f"specimen:{specimen}", {"fill": "none" if any_ % 5 == 0 else "full"}),
        "draw_not_obtained": (f"draw:{draw}", {"reason": "fainted"}),
        "specimen_boxed": (f"specimen:{specimen}", {"box": box}),
        "specimen_unboxed": (f"specimen:{specimen}", {"box": box}),
        "box_sent": (f"box:{box}", {"to": "pass", "specimens": inside or ["S-0"]}),
        "box_opened": (f"box:{box}", {}),
        "specimen_refused": (f"specimen:{specimen}", {"reason": "RH"}),
        "spin_begun": (f"spin:C-{m}", {"centrifuge": "big", "specimens": rotor}),
        "spin_ended": (
            f"spin:C-{m}",
            {"specimens": list(getattr(desk.items.get(f"spin:C-{m}"), "specimens", rotor)),
             "outcome": "done" if any_ % 3 else "broken_off"},
        ),
        "aliquot_made": (
            f"specimen:{specimen}a",
            {"parent": specimen, "patient": "P-1", "material": "serum", "volume_ul": 300},
        ),
        "specimen_stored": (f"specimen:{specimen}", {"storage": "fridge"}),
        "specimen_registered": (
            f"specimen:{specimen}", {"material": "urine", "patient": "P-1"}
        ),
        "incident_recorded": (f"incident:I-{n}", {"what": "spill"}),
        "incident_followed_up": (f"incident:I-{n}", {"action": "Wiped."}),
        "waste_opened": (f"waste:W-{n}", {"scheme": "local", "stream": "sharps"}),
        "waste_filled": (f"waste:W-{n}", {"percent": any_}),
        "waste_closed": (f"waste:W-{n}", {}),
        "waste_weighed": (f"waste:W-{n}", {"weight_g": any_ + 1}),
        "waste_handed_over": (f"waste:W-{n}", {"to": "the plant"}),
    }  # fmt: skip
    if kind in MENDING:
        return mending(desk, kind, any_)
    plain = f"draw:{draw}" if kind.startswith(("tourniquet", "draw")) else f"specimen:{specimen}"
    subject, payload = said.get(kind, (plain, {}))
    return desk.event(kind, subject, site=site, who=who, **payload)


def mending(desk: Desk, kind: str, any_: int) -> Event:
    """A withdrawal or a correction of one of the latest events, or of nothing."""
    recent = [r.event for r in desk.records if r.event.kind not in MENDING][-6:]
    if not recent:
        return desk.event("tourniquet_off", "draw:D-0")
    event = recent[any_ % len(recent)]
    more: dict[str, object] = {"reason": "Looked again."}
    if kind == "event_corrected":
        payload = dict(event.payload)
        if "box" in payload:
            payload["box"] = f"B-{any_ % 2}"
        if "fill" in payload:
            payload["fill"] = "none" if any_ % 2 else "short"
        more["payload"] = payload
    return desk.event(kind, event.subject, site=event.site, who="vera" if any_ % 2 else event.who,
                      corrects=event.id, **more)  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(walks)
def test_the_record_stays_whole(walk: tuple[int, int]) -> None:
    """
    After any walk: the log folds again to the same items, as a whole and each alone; every
    specimen is in one state and in a place that belongs to it; and every chain holds.
    """
    desk = walked(*walk)
    stand = list(effective(desk.records))
    assert fold(stand) == desk.items
    for subject, item in desk.items.items():
        assert fold_one(subject, stand) == item
        if isinstance(item, Specimen) and item.state in WHERE:
            assert item.place.startswith(WHERE[item.state]), item
    for site in ("valley", "pass"):
        chain = [r for r in desk.records if r.event.site == site]
        assert verify_chain(site, chain, desk.heads.get(site)).holds


@settings(max_examples=20, deadline=None)
@given(walks)
def test_waste_stays_whole(walk: tuple[int, int]) -> None:
    """After any walk of bags and boxes the log folds again to the same ones, whole and alone."""
    desk = walked(*walk, templates=WASTE)
    stand = list(effective(desk.records))
    assert fold(stand) == desk.items
    for subject, item in desk.items.items():
        assert fold_one(subject, stand) == item
        assert isinstance(item, Waste)
        assert (item.closed_at is None) == (item.state is WasteState.OPEN)
        assert (item.handed_over_at is None) == (item.state is not WasteState.HANDED_OVER)


@settings(max_examples=20, deadline=None)
@given(walks)
def test_what_an_outbox_sends_again_changes_nothing(walk: tuple[int, int]) -> None:
    """Every stored event offered again in any order is answered "already", with its own place."""
    desk = walked(*walk)
    items, again = dict(desk.items), list(desk.records)
    Random(walk[0]).shuffle(again)
    for record in again:
        (answer,) = desk.offer(record.event)
        assert (answer.verdict, answer.sequence) == ("already", record.sequence)
    assert desk.items == items


def test_walks_reach_every_state_and_every_kind() -> None:
    """The walks above are worth something: sixty of them visit every state and store every kind."""
    seen: set[State] = set()
    kinds: set[str] = set()
    for seed in range(60):
        desk = walked(seed, 60)
        kinds |= {r.event.kind for r in desk.records}
        stand = list(effective(desk.records))
        for n in range(0, len(stand), 7):
            seen |= {i.state for i in fold(stand[:n]).values() if isinstance(i, Specimen)}
    assert seen == set(State)
    assert kinds == set(TEMPLATES)
    wasted = {r.event.kind for n in range(20) for r in walked(n, 40, WASTE).records}
    assert wasted == set(WASTE)
