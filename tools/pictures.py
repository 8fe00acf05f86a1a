"""
Take the pictures of the documentation anew, from the demo in a folder of its own.

Run from the project's root: ``.venv/bin/python tools/pictures.py``.
"""

from __future__ import annotations

import re
import signal
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from pathlib import Path

from PIL import Image
from playwright.sync_api import Page, sync_playwright

PORT = 8799
BASE = f"http://127.0.0.1:{PORT}"
PICTURES = Path(__file__).resolve().parent.parent / "docs" / "pictures"
CUBITAL = [sys.executable, "-c", "from cubital.cli import main; main()"]
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]
DESKTOP = {"width": 1280, "height": 900}
PATIENCE_S = 60


def wait_for_door() -> None:
    """Until the demo answers."""
    last = time.monotonic() + PATIENCE_S
    while time.monotonic() < last:
        try:
            urllib.request.urlopen(f"{BASE}/sign-in/")  # noqa: S310 - our own address
            return
        except (urllib.error.URLError, ConnectionError):
            time.sleep(0.2)
    raise SystemExit("The demo did not open.")


def keep(page: Page, name: str, height: int = 0) -> None:
    """Store what the window shows, or the page's first so many pixels."""
    page.mouse.move(0, 0)
    page.evaluate("document.activeElement.blur()")
    path = str(PICTURES / f"{name}.png")
    if height:
        width = page.viewport_size["width"]
        clip = {"x": 0, "y": 0, "width": width, "height": height}
        page.screenshot(path=path, full_page=True, clip=clip)
    else:
        page.screenshot(path=path)


def bottom(page: Page, selector: str) -> int:
    """Where something ends, in pixels from the top of the page."""
    box = page.locator(selector).bounding_box()
    return round(box["y"] + box["height"])


def sign_in(page: Page, name: str) -> None:
    """As somebody of the demo."""
    page.goto(f"{BASE}/sign-in/")
    page.get_by_label("Name").fill(name)
    page.get_by_label("Password").fill("ostrel-valley")
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"{BASE}/")


def scan(page: Page, text: str) -> None:
    """As a scanner does: quick keys and Enter."""
    page.keyboard.type(text)
    page.keyboard.press("Enter")


def at_the_chair(page: Page) -> None:
    """Identity, then the rack with the needle in, of one draw of the demo's round."""
    page.goto(f"{BASE}/chair/")
    page.locator("[data-step=round]").wait_for()
    draws = page.evaluate("() => window.cubitalChair.app.round.draws")
    draw = max(draws, key=lambda each: (len(each["sheet"]["tubes"]) == 4, each["requisition"]))
    scan(page, draw["requisition"])
    page.get_by_text("1 of 3").wait_for()
    keep(page, "chair-identity")
    for number in (1, 2, 3):
        page.get_by_text(f"{number} of 3").wait_for()
        page.get_by_role("button", name="Agrees", exact=True).click()
    main = page.locator("#main [data-step]")
    for _ in range(20):
        page.evaluate("() => window.cubitalChair.app.turn")
        step = main.get_attribute("data-step")
        if step not in ("preparation", "ask"):
            break
        said = "Yes, it is so" if step == "preparation" else "Seen, go on"
        page.get_by_role("button", name=said, exact=True).click()
    page.get_by_role("button", name="Tourniquet on", exact=True).click()
    scan(page, draw["sheet"]["tubes"][0]["accession"])
    page.locator("#main [data-step=tubes]").wait_for()
    keep(page, "chair-tubes")


def behind_the_counter(page: Page) -> None:
    """The tray, the bench's clocks, and the month as the quality officer sees it."""
    sign_in(page, "joren")
    page.goto(f"{BASE}/reception/")
    keep(page, "reception", 1100)
    page.goto(f"{BASE}/bench/")
    keep(page, "bench", 1180)
    page.context.clear_cookies()
    sign_in(page, "sade")
    page.goto(f"{BASE}/indicators/")
    page.locator("main table, main svg").first.wait_for(timeout=PATIENCE_S * 1000)
    keep(page, "indicators", 1180)


def pictures(page: Page) -> None:
    """One after another, as a first hour goes."""
    page.goto(f"{BASE}/sign-in/")
    keep(page, "sign-in")
    sign_in(page, "mira")
    keep(page, "day", 1180)
    page.get_by_role("link", name=re.compile("Drumlin")).click()
    page.wait_for_load_state()
    keep(page, "draw-plan", bottom(page, ".plan:not(.even)"))
    page.get_by_label("Blood in the syringe, mL").fill("3.4")
    page.keyboard.press("Enter")
    page.get_by_text("Fill in this order").wait_for()
    page.locator("section[aria-labelledby=short]").screenshot(
        path=str(PICTURES / "short-sample.png")
    )
    page.get_by_role("link", name="A4 sheet").click()
    page.wait_for_load_state()
    page.locator(".paper").screenshot(path=str(PICTURES / "a4-sheet.png"))
    page.goto(f"{BASE}/new/?patient=OV-10005")
    for said in ("renal", "fbc", "glucose"):
        page.keyboard.type(said)
        page.keyboard.press("Enter")
        page.locator(f"input[name=test][value={said}]").wait_for(state="attached")
    page.wait_for_timeout(400)
    keep(page, "new-requisition", 1100)
    page.goto(f"{BASE}/catalogue/potassium/")
    keep(page, "catalogue-test", 1000)
    at_the_chair(page)
    page.context.clear_cookies()
    behind_the_counter(page)


def make_small() -> None:
    """Few colours are enough for pages of text: a third of the bytes."""
    for path in PICTURES.glob("*.png"):
        Image.open(path).convert("RGB").quantize(128).save(path, optimize=True)


def main() -> None:
    """Open the demo, take every picture, close it."""
    PICTURES.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        demo = subprocess.Popen([*CUBITAL, "demo", "--port", str(PORT)], cwd=folder)
        try:
            wait_for_door()
            with sync_playwright() as driver:
                browser = driver.chromium.launch(
                    executable_path="/usr/bin/chromium", args=ARGUMENTS
                )
                pictures(browser.new_page(viewport=DESKTOP, locale="en-GB"))
                browser.close()
            make_small()
        finally:
            demo.send_signal(signal.SIGTERM)
            demo.wait(PATIENCE_S)


if __name__ == "__main__":
    main()
