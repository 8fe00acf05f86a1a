"""
A tablet on the laboratory's network: ``cubital desk --lan`` as a real process, trusted or not.

The network is cut here by stopping the desk itself, and given back by starting it again.
"""

from __future__ import annotations

import base64
import os
import signal
import sqlite3
import ssl
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from hashlib import sha256
from http.client import HTTPSConnection
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import serialization
from django.conf import settings as django_settings
from playwright.sync_api import Browser, Page, expect
from pytest_django.live_server_helper import LiveServer

from cubital.desk.demo.valley import PASSWORD
from tests.journeys.chair import Chair
from tests.journeys.conftest import ARGUMENTS, CHROMIUM, TABLET
from tests.postgres import free_port

NAME = "valley-desk.test"
PATIENCE_S = 90
FILL = """
from datetime import UTC, datetime
from pathlib import Path
from cubital.cli.serve import set_up
set_up(Path("var"))
from cubital.desk.demo.badges import demo_badges
from cubital.desk.demo.fill import demo_fill
demo_fill(now=datetime.now(UTC))
demo_badges()
"""
CUBITAL = [sys.executable, "-c", "from cubital.cli import main; main()"]
PATIENT = "OV-10005"


def environment(folder: Path) -> dict[str, str]:
    """Nothing of another desk's settings; a database in the folder."""
    kept = {k: v for k, v in os.environ.items() if not k.startswith(("CUBITAL_", "DJANGO_"))}
    return {
        **kept, "CUBITAL_DEMO": "1", "CUBITAL_SECRET_KEY": "only-for-this-test-0123456789-abcdef",
        "CUBITAL_DATABASE": f"sqlite:///{folder / 'desk.sqlite3'}",
    }  # fmt: skip


class Lan:
    """A desk on a network: started, stopped, started again on the same ports."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.port, self.trust_port = free_port(), free_port()
        self.process: subprocess.Popen[bytes] | None = None
        subprocess.run(
            [sys.executable, "-c", FILL], cwd=folder, env=environment(folder), check=True
        )

    def start(self) -> None:
        """Open it, and wait until it answers with a certificate of its own authority."""
        with (self.folder / "printed.txt").open("wb") as out:
            self.process = subprocess.Popen(
                [*CUBITAL, "desk", "--lan", "--host", "127.0.0.1", "--port", str(self.port),
                 "--trust-port", str(self.trust_port), "--name", NAME],
                cwd=self.folder, env=environment(self.folder), stdin=subprocess.DEVNULL,
                stdout=out, stderr=out,
            )  # fmt: skip
        last = time.monotonic() + PATIENCE_S
        while not self.answers():
            assert self.process.poll() is None, self.printed()
            assert time.monotonic() < last, self.printed()
            time.sleep(0.2)

    def answers(self) -> bool:
        """Whether the sign-in page comes, over TLS that the authority vouches for."""
        authority = self.folder / "var" / "ca" / "authority.crt"
        if not authority.exists():
            return False
        context = ssl.create_default_context(cafile=str(authority))
        door = HTTPSConnection("127.0.0.1", self.port, timeout=5, context=context)
        try:
            door.request("GET", "/sign-in/")
            return door.getresponse().status == 200
        except OSError:
            return False
        finally:
            door.close()

    def stop(self) -> None:
        """Shut it."""
        if self.process is not None:
            self.process.send_signal(signal.SIGTERM)
            self.process.wait(PATIENCE_S)
            self.process = None

    def printed(self) -> str:
        """What it said."""
        return (self.folder / "printed.txt").read_text("utf-8")

    def pin(self) -> str:
        """The server's public key as Chromium's switch wants it: as good as a trusted authority."""
        certificate = x509.load_pem_x509_certificate(
            (self.folder / "var" / "ca" / "server.crt").read_bytes()
        )
        key = certificate.public_key().public_bytes(
            serialization.Encoding.DER, serialization.PublicFormat.SubjectPublicKeyInfo
        )
        return base64.b64encode(sha256(key).digest()).decode()

    def held(self) -> list[str]:
        """Ids of the events in its database, in the order in which they were recorded."""
        with sqlite3.connect(f"file:{self.folder / 'desk.sqlite3'}?mode=ro", uri=True) as database:
            rows = database.execute("SELECT uuid FROM record_event ORDER BY position").fetchall()
        database.close()
        return [uuid for (uuid,) in rows]


@pytest.fixture
def lan(tmp_path: Path) -> Iterator[Lan]:
    """A desk that is open on a network."""
    desk = Lan(tmp_path)
    try:
        desk.start()
        yield desk
    finally:
        desk.stop()


@contextmanager
def tablet(browser: Browser, *switches: str) -> Iterator[Page]:
    """A browser of its own that finds the desk under its name on the network."""
    opened = browser.browser_type.launch(
        executable_path=CHROMIUM,
        args=[*ARGUMENTS, f"--host-resolver-rules=MAP {NAME} 127.0.0.1", *switches],
    )
    try:
        yield opened.new_page(viewport=TABLET)
    finally:
        opened.close()


def sign_in(page: Page, base: str) -> None:
    """As the collector."""
    page.goto(f"{base}/sign-in/")
    page.get_by_label("Name").fill("mira")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"{base}/")


def test_over_trusted_https_the_page_is_kept_and_a_stopped_desk_loses_nothing(
    lan: Lan, browser: Browser
) -> None:
    """
    Addresses and the fingerprint are printed; cookies are secure; the desk is stopped in the middle
    of a draw, the page reloaded without it, the draw finished, and after its return every event is
    held once and in order.
    """
    base = f"https://{NAME}:{lan.port}"
    said = lan.printed()
    assert f"{base}/" in said
    assert f"http://{NAME}:{lan.trust_port}/" in said
    with tablet(browser, f"--ignore-certificate-errors-spki-list={lan.pin()}") as page:
        sign_in(page, base)
        cookies = {c["name"]: c for c in page.context.cookies()}
        assert cookies["sessionid"]["secure"]
        assert cookies["sessionid"]["httpOnly"]
        assert cookies["csrftoken"]["secure"]
        page.goto(f"{base}/chair/")
        chair = Chair(page)
        page.wait_for_function("() => window.cubitalChair.app.kept === 'yes'")
        expect(page.locator("#notices")).not_to_contain_text("HTTPS")
        tubes = chair.tubes(PATIENT)
        chair.identify(chair.draw(PATIENT)["requisition"])
        chair.until_needle()
        chair.tap("Tourniquet on")
        chair.scan(tubes[0]["accession"])
        chair.all_sent()
        lan.stop()
        chair.scan(tubes[1]["accession"])
        expect(page.locator("#sync")).to_contain_text("Network cut: kept here", timeout=15_000)
        page.reload()
        chair.at("tubes")
        chair.tap("Tourniquet off")
        chair.tap("Finish")
        chair.at("ended")
        made = page.evaluate(
            "async () => (await window.cubitalChair.app.store.all('draws'))"
            ".flatMap((draw) => draw.events.map((event) => event.id)).sort()"
        )
        assert len(lan.held()) < len(made)
        lan.start()
        page.evaluate("() => window.cubitalChair.app.sender.wake()")
        chair.all_sent()
        assert lan.held() == made


def test_an_untrusted_certificate_is_not_taken(lan: Lan, browser: Browser) -> None:
    """Without the authority on the tablet the browser itself refuses the page."""
    with tablet(browser) as page, pytest.raises(Exception, match="ERR_CERT_AUTHORITY_INVALID"):
        page.goto(f"https://{NAME}:{lan.port}/sign-in/")


def test_without_https_the_page_says_what_it_cannot_keep(
    open_clinic: object, live_server: LiveServer, browser: Browser
) -> None:
    """On a plain name of the network: it works, and says plainly that it keeps no page."""
    hosts, django_settings.ALLOWED_HOSTS = django_settings.ALLOWED_HOSTS, ["*"]
    try:
        with tablet(browser) as page:
            base = live_server.url.replace("localhost", NAME).replace("127.0.0.1", NAME)
            sign_in(page, base)
            page.goto(f"{base}/chair/")
            chair = Chair(page)
            assert page.evaluate("() => window.isSecureContext") is False
            expect(page.locator("#notices")).to_contain_text(
                "it keeps only what is typed while the page stays open"
            )
            chair.scan(PATIENT)
            chair.at("identity")
            chair.all_sent()
    finally:
        django_settings.ALLOWED_HOSTS = hosts
