"""The chair in a browser: a page with a scanner, and a count of what the collector does."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from playwright.sync_api import Locator, Page, expect

from cubital.desk.record.badges import badge_give, pin_set
from cubital.desk.record.models import Event, Person, Place, Requisition
from cubital.desk.record.people import person_add

PIN = "2580"


def second_collector() -> Person:
    """Another collector at the valley's laboratory; both have a badge and a PIN."""
    first = Person.objects.get(username="mira")
    person = Person.objects.filter(username="oskan").first() or person_add(
        username="oskan", password="a-long-enough-one", role="collector", given_name="Oskan",
        family_name="Weyl", place=first.place,
    )  # fmt: skip
    for number, each in enumerate((first, person), start=1):
        badge_give(person=each, code=f"BADGE-{number}")
        pin_set(person=each, pin=PIN, least=4)
    return person


def labels(when: str) -> None:
    """The place's policy of labels."""
    Place.objects.filter(code="ostrel-valley").update(label_when=when)


def only_one_requisition() -> None:
    """Nothing of Vesna Koralt's is asked for twice: her four tubes are a plain draw."""
    Requisition.objects.filter(number__endswith="D16").update(state="cancelled")


class Chair:
    """A chair's page, its scanner and its taps, counted."""

    def __init__(self, page: Page, *, ready: bool = True) -> None:
        self.page = page
        self.touches = 0
        self.typed = 0
        if not page.url.endswith("/chair/"):
            page.goto("/chair/")
        expect(page.locator("[data-step=round]")).to_be_visible(timeout=20_000)
        if ready:
            expect(page.get_by_text("All sent")).to_be_visible()

    def scan(self, text: str) -> None:
        """Scan: quick keys and Enter, wherever the focus is."""
        self.touches += 1
        self.page.keyboard.type(text)
        self.page.keyboard.press("Enter")

    def tap(self, words: str | Locator, *, exact: bool = True) -> None:
        """Tap a button."""
        self.touches += 1
        button = self.button(words, exact=exact) if isinstance(words, str) else words
        button.click()

    def button(self, words: str, *, exact: bool = True) -> Locator:
        """A button by its words."""
        return self.page.get_by_role("button", name=words, exact=exact)

    def at(self, step: str) -> None:
        """The page is at this step."""
        expect(self.page.locator("#main [data-step]")).to_have_attribute("data-step", step)

    def says(self, words: str) -> None:
        """The line under the head says so."""
        expect(self.page.locator("#message")).to_contain_text(words)

    def round(self) -> dict[str, Any]:
        """The round as the page has it."""
        return dict(self.page.evaluate("() => window.cubitalChair.app.round"))

    def draw(self, patient: str, at: int = 0) -> dict[str, Any]:
        """A draw of this patient in the round."""
        found = [d for d in self.round()["draws"] if d["patient"] == patient]
        return dict(found[at])

    def tubes(self, patient: str, at: int = 0) -> list[dict[str, Any]]:
        """The tubes of its sheet."""
        return list(self.draw(patient, at)["sheet"]["tubes"])

    def identify(self, requisition: str) -> None:
        """Scan the requisition, and let the patient say three identifiers."""
        self.scan(requisition)
        for number in range(3):
            expect(self.page.get_by_text(f"{number + 1} of 3")).to_be_visible()
            self.tap("Agrees")

    def until_needle(self) -> None:
        """Answer what is asked, until the needle may go in."""
        main = self.page.locator("#main [data-step]")
        for _ in range(20):
            self.settle()
            step = main.get_attribute("data-step")
            if step == "preparation":
                self.tap("Yes, it is so")
            elif step == "ask":
                self.tap("Seen, go on")
            else:
                break
        self.at("needle")

    def draw_all(self, tubes: list[dict[str, Any]]) -> None:
        """Tourniquet on and off, every tube in its order, the end."""
        self.tap("Tourniquet on")
        self.scan(tubes[0]["accession"])
        self.at("tubes")
        self.tap("Tourniquet off")
        for tube in tubes[1:]:
            self.scan(tube["accession"])
        self.at("finish")
        self.tap("Finish")
        self.at("ended")

    def settle(self) -> None:
        """Everything scanned and tapped so far is done and kept."""
        self.page.evaluate("() => window.cubitalChair.app.turn")

    def all_sent(self) -> None:
        """Everything is at the desk, and the page says so."""
        self.settle()
        outbox = "() => window.cubitalChair.app.store.count('outbox')"
        for _ in range(100):
            if self.page.evaluate(outbox) == 0:
                break
            self.page.wait_for_timeout(100)
        expect(self.page.locator("#sync")).to_contain_text("All sent", timeout=15_000)

    def sounds(self) -> list[str]:
        """What was played."""
        script = "async () => [...(await import('/static/chair/chair_sound.js')).played]"
        return list(self.page.evaluate(script))


def recorded(kind: str = "") -> list[Event]:
    """Events at the desk in the order in which they were recorded."""
    rows = Event.objects.order_by("position")
    return list(rows.filter(kind=kind) if kind else rows)


def payload(event: Event) -> dict[str, Any]:
    """What an event says."""
    return dict(json.loads(event.payload))


Desk = Callable[..., Page]
