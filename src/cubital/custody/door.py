"""
Who may write what, when and where; and what must agree between the items that an event concerns.

Looked at once, when an event is offered.  An event that passes and that the fold takes is recorded.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from cubital.custody.event import Event
from cubital.custody.fold import Items
from cubital.custody.items import Draw, DrawState, Specimen, State
from cubital.custody.kinds import KINDS, check_event
from cubital.errors import EventRefused


@dataclass(frozen=True, slots=True)
class Ordered:
    """What the desk knows of a requisition: the place and the patient it is for."""

    site: str
    patient: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Door:
    """
    What is known about the desk when events are offered.

    Args:
        now: when they arrive.
        ahead: how far in the future a device's clock may put an event (setting
            ``event_ahead_s``).
        sites: codes of the places of this desk.
        roles: of everybody who may sign in, by sign-in name.
        requisitions: those that the events name, as far as they are known.
    """

    now: datetime
    ahead: timedelta
    sites: frozenset[str]
    roles: Mapping[str, str]
    requisitions: Mapping[str, Ordered] = field(default_factory=dict)

    def check(self, event: Event, sent_by: str) -> None:
        """
        Check what can be said of an event before the items are looked at.

        Raises:
            EventRefused: one sentence.
        """
        check_event(event)
        if event.site not in self.sites:
            raise EventRefused(f"There is no place {event.site} at this desk.")
        if event.happened_at > self.now + self.ahead:
            raise EventRefused(
                f"It is dated {event.happened_at:%Y-%m-%d %H:%M:%S} UTC, which is still to come;"
                " set the clock of the device."
            )
        self.check_role(event, KINDS[event.kind].roles, sent_by)
        if event.kind == "draw_begun":
            self.check_requisition(event)

    def check_role(self, event: Event, roles: frozenset[str], sent_by: str) -> None:
        """
        Check that both who did it and who sends it may write this kind.

        Raises:
            EventRefused: nobody of that name, or another role.
        """
        for name in dict.fromkeys((event.who, sent_by)):
            role = self.roles.get(name)
            if role is None:
                raise EventRefused(f"Nobody called {name!r} may sign in at this desk.")
            if role not in roles:
                raise EventRefused(
                    f"{event.kind} is written by {' or '.join(sorted(roles))}, and {name} is"
                    f" {role}."
                )

    def check_requisition(self, event: Event) -> None:
        """
        Check that a draw is for a requisition of its place, and for that patient.

        Raises:
            EventRefused: it is not.
        """
        number = event.payload["requisition"]
        ordered = self.requisitions.get(str(number))
        if ordered is None:
            raise EventRefused(f"There is no requisition {number} at this desk.")
        if ordered.site != event.site:
            raise EventRefused(
                f"Requisition {number} belongs to {ordered.site}, not to {event.site}."
            )
        if ordered.patient != event.payload["patient"]:
            raise EventRefused(f"Requisition {number} is not for this patient; scan again.")


def wanted(event: Event, items: Items) -> tuple[str, ...]:
    """
    Give the further subjects that :func:`check_between` looks at, found through ``items``.

    Args:
        event: that is offered.
        items: those that it touches.
    """
    if event.kind == "tube_filled":
        item = items.get(event.subject)
        return (f"draw:{item.draw}",) if isinstance(item, Specimen) and item.draw else ()
    if event.kind in ("draw_finished", "draw_not_obtained"):
        item = items.get(event.subject)
        if isinstance(item, Draw):
            return tuple(f"specimen:{code}" for code in item.specimens)
    return ()


def check_between(event: Event, items: Items) -> None:
    """
    Check what must agree between items.

    Args:
        event: that is offered.
        items: those that it touches, and those :func:`wanted` names.

    Raises:
        EventRefused: one sentence.
    """
    check_patient(event, items)
    if event.kind == "tube_filled":
        _check_fill(event, items)
    if event.kind in ("draw_finished", "draw_not_obtained"):
        _check_tubes(event, items)


def check_patient(event: Event, items: Items) -> None:
    """
    A container belongs to the patient of its draw, and a portion to that of its parent.

    Raises:
        EventRefused: it does not.
    """
    if event.kind == "tube_scanned":
        draw = items.get(f"draw:{event.payload['draw']}")
        if isinstance(draw, Draw) and draw.patient != event.payload["patient"]:
            raise EventRefused(f"Draw {draw.code} is for another patient; put this tube aside.")
    if event.kind == "aliquot_made":
        parent = items.get(f"specimen:{event.payload['parent']}")
        if isinstance(parent, Specimen) and parent.patient != event.payload["patient"]:
            raise EventRefused(f"Specimen {parent.code} is from another patient; scan it again.")


def _check_fill(event: Event, items: Items) -> None:
    """Blood comes into a container while its draw goes on, and after a needle went in."""
    item = items.get(event.subject)
    if not isinstance(item, Specimen):
        return
    draw = items.get(f"draw:{item.draw}")
    if not isinstance(draw, Draw):
        return
    if event.payload["fill"] == "none":
        return
    if draw.state is not DrawState.BEGUN:
        raise EventRefused(
            f"Draw {draw.code} is {draw.state.replace('_', ' ')}; nothing is filled."
        )
    if not draw.attempts:
        raise EventRefused(f"Draw {draw.code}: no attempt is on record; begin one first.")


def _check_tubes(event: Event, items: Items) -> None:
    """A draw ends when each of its containers is filled and labelled, or said to be empty."""
    draw = items.get(event.subject)
    if not isinstance(draw, Draw):
        return
    for code in draw.specimens:
        item = items.get(f"specimen:{code}")
        if not isinstance(item, Specimen):
            continue
        if item.state is State.PLANNED:
            raise EventRefused(
                f"Draw {draw.code}: nothing is said about how tube {code} filled; say it first."
            )
        if item.state is State.DRAWN:
            raise EventRefused(f"Draw {draw.code}: tube {code} has no matched label; scan it.")
