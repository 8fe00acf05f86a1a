"""How boxes, centrifuge runs and incidents go on."""

from __future__ import annotations

from dataclasses import replace

from cubital.custody.event import Event
from cubital.custody.items import Box, BoxState, Incident, Spin, SpinState
from cubital.errors import EventRefused


def box_after(item: Box | None, event: Event, code: str) -> Box:
    """
    Fold one event into a box; the first specimen scanned in begins it, also after it was opened.

    Raises:
        EventRefused: it cannot have happened to this box as it stands.
    """
    if event.kind == "specimen_boxed":
        return _boxed(item, event, code)
    if item is None:
        raise EventRefused(f"There is no box {code} in the record yet.")
    if event.site != item.site and not (event.site == item.to and event.kind == "box_opened"):
        raise EventRefused(f"Box {code} is at {item.site}, not at {event.site}.")
    if event.kind == "specimen_unboxed":
        specimen = event.subject.partition(":")[2]
        _packing(item)
        return replace(item, specimens=tuple(each for each in item.specimens if each != specimen))
    if event.kind == "box_sent":
        return _sent(item, event)
    if event.kind == "box_opened":
        if item.state is not BoxState.SENT:
            raise EventRefused(f"Box {code} is not on its way; there is nothing to open.")
        return replace(item, state=BoxState.OPENED, site=event.site, opened_at=event.happened_at)
    return item


def _boxed(item: Box | None, event: Event, code: str) -> Box:
    specimen = event.subject.partition(":")[2]
    if item is None or item.state is BoxState.OPENED:
        return Box(code=code, site=event.site, state=BoxState.PACKING, specimens=(specimen,))
    if item.site != event.site:
        raise EventRefused(f"Box {code} is at {item.site}, not at {event.site}.")
    _packing(item)
    return replace(item, specimens=(*item.specimens, specimen))


def _packing(item: Box) -> None:
    if item.state is not BoxState.PACKING:
        raise EventRefused(f"Box {item.code} has already left; take another box.")


def _sent(item: Box, event: Event) -> Box:
    _packing(item)
    to = str(event.payload["to"])
    if to == item.site:
        raise EventRefused(f"Box {item.code} is already at {to}; name the site it goes to.")
    listed = _codes(event)
    if listed != set(item.specimens):
        odd = min(listed ^ set(item.specimens))
        where = "is not in it" if odd in listed else "is in it but not listed"
        raise EventRefused(f"Box {item.code}: specimen {odd} {where}; scan the box again.")
    return replace(
        item,
        state=BoxState.SENT,
        to=to,
        cooling=str(event.payload.get("cooling") or ""),
        sent_at=event.happened_at,
    )


def spin_after(item: Spin | None, event: Event, code: str) -> Spin:
    """
    Fold one event into a centrifuge run.

    Raises:
        EventRefused: it cannot have happened to this run as it stands.
    """
    if event.kind == "spin_begun":
        if item is not None:
            raise EventRefused(f"Run {code} has already begun.")
        return Spin(
            code=code,
            site=event.site,
            state=SpinState.RUNNING,
            centrifuge=str(event.payload["centrifuge"]),
            programme=str(event.payload.get("programme") or ""),
            specimens=_listed(event),
            begun_at=event.happened_at,
        )
    if item is None:
        raise EventRefused(f"There is no run {code} in the record yet.")
    if item.site != event.site:
        raise EventRefused(f"Run {code} is at {item.site}, not at {event.site}.")
    if event.kind != "spin_ended":
        return item
    if item.state is not SpinState.RUNNING:
        raise EventRefused(f"Run {code} has already ended.")
    if _codes(event) != set(item.specimens):
        odd = min(_codes(event) ^ set(item.specimens))
        raise EventRefused(f"Run {code}: specimen {odd} does not agree with what went in.")
    state = SpinState.DONE if event.payload["outcome"] == "done" else SpinState.BROKEN_OFF
    return replace(item, state=state, ended_at=event.happened_at)


def incident_after(item: Incident | None, event: Event, code: str) -> Incident:
    """
    Fold one event into an incident.

    Raises:
        EventRefused: it is recorded twice, or followed up before it is recorded.
    """
    said = event.payload
    if event.kind == "incident_recorded":
        if item is not None:
            raise EventRefused(f"Incident {code} is already recorded.")
        return Incident(
            code=code,
            site=event.site,
            what=str(said["what"]),
            who=event.who,
            happened_at=event.happened_at,
            draw=str(said.get("draw") or ""),
            patient=str(said.get("patient") or ""),
            specimen=str(said.get("specimen") or ""),
        )
    if item is None:
        raise EventRefused(f"There is no incident {code} in the record yet.")
    if item.site != event.site:
        raise EventRefused(f"Incident {code} belongs to {item.site}, not to {event.site}.")
    if event.kind != "incident_followed_up":
        return item
    return replace(
        item,
        due_on=str(said.get("due_on") or ""),
        closed=bool(said.get("closed", item.closed)),
    )


def _listed(event: Event) -> tuple[str, ...]:
    specimens = event.payload["specimens"]
    assert isinstance(specimens, list | tuple)
    return tuple(str(each) for each in specimens)


def _codes(event: Event) -> set[str]:
    return set(_listed(event))
