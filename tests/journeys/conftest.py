"""A real browser before the real desk: Debian's Chromium, driven."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime

import pytest
from django.urls import get_resolver
from playwright.sync_api import Browser, Page, ViewportSize, sync_playwright
from pytest_django.live_server_helper import LiveServer

from cubital.desk.demo.valley import PASSWORD
from tests.conftest import Clinic

CHROMIUM = "/usr/bin/chromium"
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
DESKTOP: ViewportSize = {"width": 1280, "height": 900}
TABLET: ViewportSize = {"width": 820, "height": 1180}


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One browser for all journeys."""
    with sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield opened
        opened.close()


@pytest.fixture
def open_clinic(transactional_db: None, settings: object, invented: Clinic) -> datetime:
    """The invented clinic, where another thread's server sees it."""
    settings.DEMO = True
    assert get_resolver().url_patterns  # imported here, so that no page waits for it
    return invented.put()


@pytest.fixture
def desk(
    open_clinic: datetime, live_server: LiveServer, browser: Browser
) -> Iterator[Callable[..., Page]]:
    """
    Open the desk in a window of its own, signed in as somebody of the demo, or nobody.

    A message of the page's own console that tells of a fault, such as a broken security policy,
    fails the test.
    """
    faults: list[str] = []
    contexts = []

    def window(name: str = "", viewport: ViewportSize = DESKTOP) -> Page:
        context = browser.new_context(viewport=viewport, base_url=live_server.url)
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda m: faults.append(m.text) if m.type == "error" else None)
        page.on("pageerror", lambda error: faults.append(str(error)))
        if name:
            page.goto("/sign-in/")
            page.get_by_label("Name").fill(name)
            page.get_by_label("Password").fill(PASSWORD)
            page.get_by_role("button", name="Sign in").click()
            page.wait_for_url("**/")
        return page

    yield window
    for context in contexts:
        context.close()
    # refused; the network cut on purpose; an errand called off by a later one
    expected = ("status of 4", "ERR_INTERNET_DISCONNECTED", "htmx:sendAbort", "htmx:afterRequest,")
    unexpected = [text for text in faults if not any(part in text for part in expected)]
    assert not unexpected, unexpected
