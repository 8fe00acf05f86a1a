"""The network is cut: the chair goes on, a reload brings it back, nothing is lost or doubled."""

from __future__ import annotations

import json
from collections.abc import Callable

from django.test import Client
from playwright.sync_api import Page, expect

from cubital.desk.record.models import DrawFinding, DrawNow, Person, Requisition, SpecimenNow
from cubital.desk.record.verify import verify
from tests.journeys.chair import PIN, Chair, Desk, only_one_requisition, recorded, second_collector

FIRST, SECOND, THIRD = "OV-10001", "OV-10005", "OV-10006"
MADE = """
async () => {
  const { app } = window.cubitalChair;
  const draws = await app.store.all("draws");
  return draws.flatMap((draw) => draw.events.map((event) => event.id)).sort();
}
"""


def kept_page(desk: Callable[..., Page]) -> Chair:
    """A chair whose page and round are kept on the device."""
    chair = Chair(desk("mira"))
    chair.page.evaluate("() => navigator.serviceWorker.ready")
    chair.page.wait_for_function("() => window.cubitalChair.app.kept === 'yes'")
    chair.page.wait_for_function(
        "async () => (await window.cubitalChair.app.store.count('short'))"
        " === window.cubitalChair.app.round.draws.filter((d) => d.sheet).length"
    )
    return chair


def cut(chair: Chair, off: bool = True) -> None:
    """Cut the network, or give it back."""
    chair.page.context.set_offline(off)


def draw_tubes(chair: Chair, tubes: list[dict]) -> None:
    """Tourniquet, tubes, finish."""
    chair.tap("Tourniquet on")
    for tube in tubes:
        chair.scan(tube["accession"])
        chair.settle()
    chair.tap("Tourniquet off")
    chair.tap("Finish")
    chair.at("ended")


def test_three_draws_with_the_network_cut_and_a_reload_lose_nothing(desk: Desk) -> None:
    """
    Cut in the middle of a draw, three draws finished, the page reloaded offline in the middle of
    the third, the network back: the desk holds every event once, in order, none twice.
    """
    only_one_requisition()
    chair = kept_page(desk)
    page = chair.page
    rounds = {number: chair.draw(number) for number in (FIRST, SECOND, THIRD)}
    tubes = {number: each["sheet"]["tubes"] for number, each in rounds.items()}

    chair.identify(rounds[FIRST]["requisition"])
    chair.until_needle()
    chair.tap("Tourniquet on")
    chair.scan(tubes[FIRST][0]["accession"])
    chair.all_sent()
    cut(chair)
    at_the_desk = len(recorded())
    chair.scan(tubes[FIRST][1]["accession"])
    expect(page.locator("#sync")).to_contain_text("Network cut: kept here")
    for tube in tubes[FIRST][2:]:
        chair.scan(tube["accession"])
        chair.settle()
    chair.tap("Tourniquet off")
    chair.tap("Finish")
    chair.at("ended")

    chair.scan(rounds[SECOND]["requisition"])
    for _ in range(3):
        chair.tap("Agrees")
        chair.settle()
    chair.until_needle()
    draw_tubes(chair, tubes[SECOND])
    chair.tap("Next patient")

    chair.identify(rounds[THIRD]["requisition"])
    chair.until_needle()
    chair.tap("Tourniquet on")
    chair.scan(tubes[THIRD][0]["accession"])
    chair.at("tubes")
    page.reload()
    chair.at("tubes")
    expect(page.locator(".band")).to_contain_text("Ferro-Vitte, Salme")
    expect(page.locator("#sync")).to_contain_text("Network cut: kept here")
    waiting = page.evaluate("() => window.cubitalChair.app.store.count('outbox')")
    expect(page.locator("#sync")).to_contain_text(f"{waiting} waiting")
    assert waiting > 30
    chair.scan(tubes[THIRD][1]["accession"])
    chair.tap("Tourniquet off")
    chair.tap("Finish")
    chair.at("ended")
    assert len(recorded()) == at_the_desk

    made = page.evaluate(MADE)
    cut(chair, off=False)
    chair.all_sent()
    held = [event.uuid for event in recorded()]
    assert held == made
    assert len(set(held)) == len(held)
    assert page.evaluate("() => window.cubitalChair.app.store.count('refused')") == 0
    assert DrawNow.objects.filter(state="finished").count() == 3
    assert {s.state for s in SpecimenNow.objects.all()} == {"labelled"}
    drawn = Requisition.objects.filter(number__in=[e["requisition"] for e in rounds.values()])
    assert {row.state for row in drawn} == {"drawn"}
    assert not DrawFinding.objects.exclude(code="tourniquet-long").exists()
    assert verify().holds

    page.reload()
    chair.at("ended")
    chair.all_sent()
    again_sent(held)
    assert [event.uuid for event in recorded()] == held


def again_sent(held: list[str]) -> None:
    """Somebody sends the same events once more: each is answered as already there."""
    client = Client()
    client.force_login(Person.objects.get(username="mira"))
    shapes = [
        {
            "id": e.uuid, "site": e.site, "kind": e.kind, "who": e.who, "device": e.device,
            "happened_at": e.happened_at.isoformat(), "subject": e.subject,
            "payload": json.loads(e.payload), "corrects": None,
        }
        for e in recorded()
    ]  # fmt: skip
    answer = client.post("/api/events", {"events": shapes}, content_type="application/json")
    assert {each["verdict"] for each in answer.json()["answers"]} == {"already"}
    assert [each["id"] for each in answer.json()["answers"]] == held


def test_a_short_draw_is_answered_from_the_table_while_offline(desk: Desk) -> None:
    """The same tubes as the desk would say, in steps, and it says where the answer is from."""
    only_one_requisition()
    chair = kept_page(desk)
    tubes = chair.tubes(FIRST)
    chair.identify(chair.draw(FIRST)["requisition"])
    chair.until_needle()
    cut(chair)
    chair.tap("Tourniquet on")
    chair.scan(tubes[0]["accession"])
    chair.tap("Tourniquet off")
    chair.tap("Not full")
    chair.tap("2 mL", exact=False)
    chair.tap("3 mL", exact=False)
    expect(chair.page.get_by_text("From the table kept on this device")).to_be_visible()
    expect(chair.page.locator(".fills")).to_contain_text("2. K2 EDTA tube 3 mL: 2.01 mL")
    chair.tap("Do it so")
    chair.scan(tubes[1]["accession"])
    chair.tap("Finish")
    chair.at("ended")
    cut(chair, off=False)
    chair.all_sent()
    assert DrawNow.objects.get().state == "finished"


def test_a_hand_over_offline_needs_a_known_badge_and_says_that_no_pin_was_asked(desk: Desk) -> None:
    """The network is cut: the badge of a collector of the round has to do, and that is kept."""
    second_collector()
    chair = kept_page(desk)
    tubes = chair.tubes(SECOND)
    chair.identify(chair.draw(SECOND)["requisition"])
    chair.until_needle()
    cut(chair)
    chair.tap("Hand over")
    chair.scan("BADGE-77")
    expect(chair.page.get_by_role("dialog")).to_contain_text("is not of a collector")
    chair.scan("BADGE-2")
    expect(chair.page.locator("#head")).to_contain_text("Oskan Weyl")
    draw_tubes(chair, tubes)
    cut(chair, off=False)
    chair.all_sent()
    handed = json.loads(recorded("draw_handed_over")[0].payload)
    assert handed["to"] == "oskan"
    assert "PIN was not asked" in handed["note"]
    assert (recorded("draw_finished")[0].who, recorded("draw_finished")[0].sent_by) == (
        "oskan", "mira",
    )  # fmt: skip


def test_signed_out_meanwhile_the_events_wait_for_a_sign_in(desk: Desk) -> None:
    """The session is gone: kept here, said so, and sent after signing in again."""
    chair = kept_page(desk)
    tubes = chair.tubes(SECOND)
    chair.identify(chair.draw(SECOND)["requisition"])
    chair.until_needle()
    chair.all_sent()
    before = len(recorded())
    cookies = chair.page.context.cookies()
    chair.page.context.clear_cookies(name="sessionid")
    draw_tubes(chair, tubes)
    expect(chair.page.locator("#sync")).to_contain_text("sign in to send", timeout=10_000)
    assert len(recorded()) == before
    chair.page.context.add_cookies(cookies)
    chair.page.evaluate("() => window.cubitalChair.app.sender.wake()")
    chair.all_sent()
    assert DrawNow.objects.get().state == "finished"


def test_an_idle_chair_locks_and_a_badge_opens_it(desk: Desk) -> None:
    """Nothing of the patient is seen; badge and PIN of another hand the draw over to them."""
    second_collector()
    chair = Chair(desk("mira"))
    page = chair.page
    chair.identify(chair.draw(SECOND)["requisition"])
    chair.until_needle()
    chair.all_sent()
    page.evaluate("() => { window.cubitalChair.app.lastSeen -= 301_000; }")
    expect(page.get_by_role("dialog", name="Locked")).to_be_visible()
    expect(page.locator(".band")).to_be_hidden()
    chair.scan("BADGE-2")
    for digit in PIN:
        chair.tap(digit)
    chair.tap("OK")
    expect(page.locator(".band")).to_be_visible()
    expect(page.locator("#head")).to_contain_text("Oskan Weyl")
    chair.at("needle")
    chair.all_sent()
    assert json.loads(recorded("draw_handed_over")[0].payload)["to"] == "oskan"
    assert page.request.get("/").ok
    with page.expect_response("**/lock/"):
        chair.tap("Lock")
    expect(page.get_by_role("dialog", name="Locked")).to_be_visible()
    assert "/locked/" in page.request.get("/").url
    chair.scan("BADGE-1")
    for digit in PIN:
        chair.tap(digit)
    chair.tap("OK")
    expect(page.locator("#head")).to_contain_text("Mira Tolvan")
    assert "/locked/" not in page.request.get("/").url


def test_a_needle_that_is_in_is_never_locked(desk: Desk) -> None:
    """However long nobody touches the tablet: the collector's hands are at the arm."""
    chair = Chair(desk("mira"))
    tubes = chair.tubes(SECOND)
    chair.identify(chair.draw(SECOND)["requisition"])
    chair.until_needle()
    chair.tap("Tourniquet on")
    chair.scan(tubes[0]["accession"])
    chair.at("tubes")
    chair.page.evaluate("() => { window.cubitalChair.app.lastSeen -= 3_000_000; }")
    chair.page.wait_for_timeout(600)
    expect(chair.page.get_by_role("dialog")).to_have_count(0)


def test_a_clock_that_is_wrong_is_said_and_refused_events_are_kept(desk: Desk) -> None:
    """Three minutes ahead: a warning; events from the future are refused, kept, and sent again."""
    chair = Chair(desk("mira"))
    page = chair.page
    page.evaluate("() => { const now = Date.now; Date.now = () => now() + 200_000; }")
    chair.tap("Load anew")
    expect(page.locator("#notices")).to_contain_text("ahead of the desk’s")
    chair.scan(chair.draw(SECOND)["requisition"])
    chair.at("identity")
    expect(page.locator("#notices")).to_contain_text("2 events refused by the desk; kept here.")
    assert not recorded()
    chair.tap("Look")
    expect(page.get_by_role("dialog")).to_contain_text("set the clock of the device")
    page.evaluate("() => { const now = Date.now; Date.now = () => now() - 200_000; }")
    kept = page.evaluate(
        "async () => (await window.cubitalChair.app.store.all('refused')).map((r) => r.id).sort()"
    )
    assert len(kept) == 2
    chair.tap("Send them again")
    expect(page.locator("#notices")).to_contain_text("2 events refused")


def test_a_locked_chair_opens_offline_by_a_known_badge_only(desk: Desk) -> None:
    """The network is cut: a stranger's badge opens nothing, a collector's of the round does."""
    second_collector()
    chair = kept_page(desk)
    cut(chair)
    chair.tap("Lock")
    dialog = chair.page.get_by_role("dialog", name="Locked")
    chair.scan("BADGE-77")
    expect(dialog.get_by_role("alert")).to_contain_text("is not of a collector of this round")
    expect(chair.page.locator("[data-step=round]")).to_be_hidden()
    chair.scan("BADGE-2")
    expect(dialog).to_have_count(0)
    expect(chair.page.locator("#head")).to_contain_text("Oskan Weyl")


def test_a_draw_begun_on_another_tablet_is_shown(desk: Desk) -> None:
    """The second tablet sees by whom and since when; its own draws it knows as its own."""
    first = Chair(desk("mira"))
    number = first.draw(SECOND)["requisition"]
    first.scan(number)
    first.at("identity")
    first.all_sent()
    other = Chair(desk("mira"))
    row = other.page.locator(".wait").filter(has_text="Haldis")
    expect(row).to_contain_text("by mira")
    first.page.reload()
    first.at("identity")
    expect(row.locator(".mark.ask")).to_have_count(1)
