"""How a specimen goes from one state to the next."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from cubital.custody.event import Event, time_from
from cubital.custody.items import BENCH, CHAIR, RECEPTION, WASTE, Specimen, State
from cubital.errors import EventRefused

S = State
SETTLED = (S.RECEIVED, S.ACCEPTED, S.REFUSED, S.SPUN, S.ALIQUOTED)
"""In a laboratory, and neither away, in a rotor, nor in a store."""


@dataclass(frozen=True, slots=True)
class Move:
    """
    What a kind of event does to a specimen.

    Args:
        start: states it may be in.
        to: state after, None: unchanged.
        cannot: the rest of "it cannot …" when it is in another.
    """

    start: tuple[State, ...]
    to: State | None
    cannot: str


ANYWHERE = tuple(State)
MOVES: dict[str, Move] = {
    "tube_filled": Move((S.PLANNED, S.EMPTY), None, "be filled"),
    "tube_mixed": Move((S.DRAWN, S.LABELLED), None, "be mixed at the chair"),
    "label_printed": Move(tuple(s for s in State if s is not S.DISCARDED), None, "get a label"),
    "label_matched": Move(
        (S.PLANNED, S.DRAWN, S.LABELLED, S.RECEIVED, S.ALIQUOTED), None, "be matched to a label"
    ),
    "specimen_boxed": Move(
        (S.LABELLED, S.RECEIVED, S.ACCEPTED, S.SPUN, S.ALIQUOTED), S.BOXED, "be boxed"
    ),
    "specimen_unboxed": Move((S.BOXED,), None, "be taken out of a box"),
    "box_sent": Move((S.BOXED,), S.IN_TRANSIT, "leave with a box"),
    "specimen_missing": Move((S.IN_TRANSIT,), S.MISSING, "be missing from a box"),
    "specimen_received": Move(
        (S.DRAWN, S.LABELLED, S.IN_TRANSIT, S.MISSING), S.RECEIVED, "be received"
    ),
    "specimen_accepted": Move((S.RECEIVED, S.REFUSED), S.ACCEPTED, "be accepted"),
    "specimen_refused": Move(
        (S.RECEIVED, S.ACCEPTED, S.SPUN, S.ALIQUOTED), S.REFUSED, "be refused"
    ),
    "spin_begun": Move((S.ACCEPTED, S.SPUN, S.ALIQUOTED), S.SPINNING, "be spun"),
    "spin_ended": Move((S.SPINNING,), None, "come out of a rotor"),
    "aliquot_made": Move((S.ACCEPTED, S.SPUN, S.ALIQUOTED), S.ALIQUOTED, "be divided"),
    "specimen_stored": Move((*SETTLED, S.STORED), S.STORED, "be stored"),
    "specimen_taken_out": Move((S.STORED,), None, "be taken out of a store"),
    "tests_done": Move((S.ACCEPTED, S.SPUN, S.ALIQUOTED, S.REFUSED, S.STORED), None, "be measured"),
    "specimen_discarded": Move(
        (S.PLANNED, S.EMPTY, S.DRAWN, S.LABELLED, *SETTLED, S.STORED), S.DISCARDED, "be discarded"
    ),
    "tests_added": Move(tuple(s for s in State if s is not S.DISCARDED), None, "serve more tests"),
    "override_given": Move(ANYWHERE, None, ""),
    "recollection_asked": Move(ANYWHERE, None, ""),
    "requester_told": Move(ANYWHERE, None, ""),
    "test_cancelled": Move(ANYWHERE, None, ""),
}
"""What each kind does to a specimen that there is; ``BEGINNINGS`` make one."""

NEXT: dict[State, str] = {
    S.PLANNED: "Fill it and say so at the chair first.",
    S.EMPTY: "Take another tube.",
    S.DRAWN: "Match its label, or scan it at the reception, first.",
    S.LABELLED: "Scan it into a box or at the reception first.",
    S.BOXED: "Take it out of that box first, or send the box.",
    S.IN_TRANSIT: "Scan it at the reception when the box has come.",
    S.MISSING: "Scan it at the reception if it is found.",
    S.RECEIVED: "Accept or refuse it at the reception first.",
    S.ACCEPTED: "It is at the bench: see on its page what is next.",
    S.REFUSED: "Accept it at the reception after all, or ask for a recollection.",
    S.SPINNING: "End its run first.",
    S.SPUN: "It is at the bench: see on its page what is next.",
    S.ALIQUOTED: "It is at the bench: see on its page what is next.",
    S.STORED: "Take it out of its store first.",
    S.DISCARDED: "It is gone: take another specimen, or ask for a recollection.",
}
"""What to do with a specimen of each state that refuses something."""


def specimen_after(item: Specimen | None, event: Event, code: str) -> Specimen:
    """
    Fold one event into a specimen.

    Raises:
        EventRefused: it cannot have happened to this specimen as it stands.
    """
    begin = BEGINNINGS.get(event.kind)
    if begin is not None and event.subject == f"specimen:{code}":
        if item is not None:
            raise EventRefused(
                f"Specimen {code} is already in the record ({_said(item)}); take another number."
            )
        return begin(event, code)
    if item is None:
        raise EventRefused(f"There is no specimen {code} in the record yet.")
    if event.site not in (item.site, item.bound_for) and not event.payload.get("unlisted"):
        raise EventRefused(
            f"Specimen {code} is held at {item.site}, not at {event.site};"
            f" let {item.site} send it in a box first."
        )
    move = MOVES[event.kind]
    if item.state not in move.start:
        raise EventRefused(
            f"Specimen {code} is {_said(item)}; it cannot {move.cannot}. {NEXT[item.state]}"
        )
    changes = CHANGES[event.kind](item, event) if event.kind in CHANGES else {}
    if move.to is not None:
        changes["state"] = move.to
    return replace(item, changed_at=event.happened_at, **changes)


def _said(item: Specimen) -> str:
    """State and place in words."""
    state = item.state.replace("_", " ")
    return f"{state}, {item.place.replace(':', ' ')}"


# ------------------------------------------------------------------ what makes a specimen


def _scanned(event: Event, code: str) -> Specimen:
    said = event.payload
    return Specimen(
        code=code,
        site=event.site,
        state=S.PLANNED,
        place=CHAIR,
        patient=str(said["patient"]),
        draw=str(said["draw"]),
        requisition=str(said.get("requisition") or ""),
        container=str(said["container"]),
        lot=str(said.get("lot") or ""),
        purpose=str(said.get("purpose") or ""),
        changed_at=event.happened_at,
    )


def _registered(event: Event, code: str) -> Specimen:
    said = event.payload
    collected = said.get("collected_at")
    return Specimen(
        code=code,
        site=event.site,
        state=S.RECEIVED,
        place=RECEPTION,
        patient=str(said["patient"]),
        requisition=str(said.get("requisition") or ""),
        container=str(said.get("container") or ""),
        material=str(said["material"]),
        volume_ul=_whole(said.get("volume_ul")),
        collected_at=time_from(collected, "collected_at") if collected else None,
        received_at=event.happened_at,
        changed_at=event.happened_at,
    )


def _portion(event: Event, code: str) -> Specimen:
    said = event.payload
    if said["parent"] == code:
        raise EventRefused(f"Specimen {code} cannot be a portion of itself.")
    return Specimen(
        code=code,
        site=event.site,
        state=S.ALIQUOTED,
        place=BENCH,
        patient=str(said["patient"]),
        parent=str(said["parent"]),
        container=str(said.get("container") or ""),
        material=str(said["material"]),
        volume_ul=_whole(said["volume_ul"]),
        changed_at=event.happened_at,
    )


BEGINNINGS: dict[str, Callable[[Event, str], Specimen]] = {
    "tube_scanned": _scanned,
    "specimen_registered": _registered,
    "aliquot_made": _portion,
}


def _whole(value: object) -> int | None:
    return value if isinstance(value, int) else None


# ------------------------------------------------------------------ what changes it


def _filled(item: Specimen, event: Event) -> dict[str, Any]:
    fill = str(event.payload["fill"])
    if fill == "none":
        return {"fill": fill, "state": S.EMPTY}
    return {
        "fill": fill,
        "volume_ul": _whole(event.payload.get("volume_ul")),
        "collected_at": event.happened_at,
        "state": S.LABELLED if item.label_matched else S.DRAWN,
    }


def _matched(item: Specimen, event: Event) -> dict[str, Any]:
    state = S.LABELLED if item.state is S.DRAWN else item.state
    return {"label_matched": True, "state": state}


def _boxed(item: Specimen, event: Event) -> dict[str, Any]:
    return {
        "place": f"box:{event.payload['box']}",
        "before": item.state,
        "before_place": item.place,
    }


def _unboxed(item: Specimen, event: Event) -> dict[str, Any]:
    box = f"box:{event.payload['box']}"
    if item.place != box:
        raise EventRefused(f"Specimen {item.code} is in {item.place}, not in {box}.")
    return _back(item)


def _sent(item: Specimen, event: Event) -> dict[str, Any]:
    if item.place != event.subject:
        raise EventRefused(f"Specimen {item.code} is in {item.place}, not in {event.subject}.")
    return {"bound_for": str(event.payload["to"])}


def _received(item: Specimen, event: Event) -> dict[str, Any]:
    return {
        "site": event.site,
        "bound_for": "",
        "place": RECEPTION,
        "before": "",
        "before_place": "",
        "received_at": event.happened_at,
    }


def _accepted(item: Specimen, event: Event) -> dict[str, Any]:
    if item.state is S.REFUSED and not event.payload.get("decided_by"):
        raise EventRefused(
            f"Specimen {item.code} is refused; it is accepted after all only when a named person"
            " decides (decided_by)."
        )
    return {"place": BENCH}


def _spinning(item: Specimen, event: Event) -> dict[str, Any]:
    return {
        "place": f"centrifuge:{event.payload['centrifuge']}",
        "before": item.state,
        "before_place": item.place,
    }


def _out_of_rotor(item: Specimen, event: Event) -> dict[str, Any]:
    if event.payload["outcome"] != "done":
        return _back(item)
    spun = S.ALIQUOTED if item.before == S.ALIQUOTED else S.SPUN
    return {**_back(item), "state": spun, "spins": item.spins + 1}


def _stored(item: Specimen, event: Event) -> dict[str, Any]:
    place = {"place": f"storage:{event.payload['storage']}"}
    if item.state is S.STORED:
        return place
    return {**place, "before": item.state, "before_place": item.place}


def _back(item: Specimen) -> dict[str, Any]:
    return {
        "state": State(item.before),
        "place": item.before_place,
        "before": "",
        "before_place": "",
    }


CHANGES: dict[str, Callable[[Specimen, Event], dict[str, Any]]] = {
    "tube_filled": _filled,
    "label_printed": lambda item, event: {"label_printed": True},
    "label_matched": _matched,
    "specimen_boxed": _boxed,
    "specimen_unboxed": _unboxed,
    "box_sent": _sent,
    "specimen_received": _received,
    "specimen_accepted": _accepted,
    "specimen_refused": lambda item, event: {"place": RECEPTION},
    "spin_begun": _spinning,
    "spin_ended": _out_of_rotor,
    "specimen_stored": _stored,
    "specimen_taken_out": lambda item, event: _back(item),
    "specimen_discarded": lambda item, event: {"place": WASTE, "before": "", "before_place": ""},
}
"""What else a kind changes besides the state."""
