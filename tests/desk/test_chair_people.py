"""A shared tablet: opened once a shift, switched by badge and PIN, locked when idle or tried."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from unittest.mock import patch

import pytest
from django.conf import settings
from django.test import Client, override_settings
from django.utils import timezone

from cubital.desk.demo.valley import PASSWORD
from cubital.desk.record.badges import badge_give, easily_guessed, pin_of, pin_set
from cubital.desk.record.knocks import Patience
from cubital.desk.record.models import Badge, Knock, Person
from cubital.desk.record.people import person_add
from cubital.errors import InputError

PIN = "2580"
ARGON2 = ["django.contrib.auth.hashers.Argon2PasswordHasher"]


@pytest.fixture
def second(clinic: datetime) -> Person:
    """Another collector with a badge and a PIN, beside the clinic's own, who has them too."""
    first = Person.objects.get(username="mira")
    person = person_add(
        username="oskan", password="a-long-enough-one", role="collector", given_name="Oskan",
        family_name="Weyl", place=first.place,
    )  # fmt: skip
    for number, each in enumerate((first, person), start=1):
        badge_give(person=each, code=f"BADGE-{number}")
        pin_set(person=each, pin=PIN, least=4)
    return person


@pytest.fixture
def tablet(second: Person) -> Client:
    """A tablet opened by the first collector's password."""
    client = Client()
    answer = client.post("/sign-in/", {"username": "mira", "password": PASSWORD})
    assert answer.status_code == 302
    return client


def switch(client: Client, badge: str = "BADGE-2", pin: str = PIN, **more: str):
    """Scan a badge and give a PIN."""
    return client.post("/switch/", {"badge": badge, "pin": pin, **more})


def later(seconds: float):
    """The clock of the desk moved on."""
    moved = timezone.now() + timedelta(seconds=seconds)
    return patch("django.utils.timezone.now", return_value=moved)


def who(client: Client) -> str:
    """Who is signed in."""
    pk = client.session["_auth_user_id"]
    return Person.objects.get(pk=pk).username


def test_badge_and_pin_switch_the_person_and_keep_place_and_shift(tablet: Client) -> None:
    """The place chosen and the beginning of the shift stay with the tablet."""
    tablet.post("/work-at/", {"place": "ostrel-pass"})
    began = tablet.session["shift_began"]
    answer = switch(tablet)
    assert answer.status_code == 200
    assert answer.json()["username"] == "oskan"
    assert who(tablet) == "oskan"
    assert (tablet.session["place"], tablet.session["shift_began"]) == ("ostrel-pass", began)


def test_a_session_known_from_before_a_switch_opens_nothing(tablet: Client) -> None:
    """Whoever kept the key of the first person's session does not become the second with it."""
    kept = tablet.session.session_key
    token = tablet.cookies["csrftoken"].value
    assert switch(tablet).status_code == 200
    assert tablet.session.session_key != kept
    assert tablet.cookies["csrftoken"].value != token
    other = Client()
    other.cookies["sessionid"] = kept
    assert other.get("/")["Location"] == "/sign-in/"


def test_a_tablet_that_nobody_opened_is_not_switched(second: Person) -> None:
    """Badge and PIN alone open nothing: a password must have come first."""
    client = Client()
    answer = switch(client)
    assert (answer.status_code, answer["Location"]) == (302, "/sign-in/")
    assert "_auth_user_id" not in client.session


def test_a_hand_over_goes_to_the_role_that_is_asked_for(tablet: Client) -> None:
    """A bench person's badge does not take a draw over, and the first stays signed in."""
    bench = Person.objects.get(role="bench")
    badge_give(person=bench, code="BADGE-B")
    pin_set(person=bench, pin=PIN, least=4)
    answer = switch(tablet, "BADGE-B", role="collector")
    assert answer.status_code == 403
    assert "is bench" in answer.json()["sentence"]
    assert who(tablet) == "mira"


def test_wrong_pins_slow_down_and_lock_the_badge(tablet: Client) -> None:
    """Three are free, the fourth waits, the fifth locks; the right PIN does not help then."""
    for _ in range(3):
        assert switch(tablet, pin="0000").status_code == 403
    slow = switch(tablet)
    assert slow.status_code == 429
    assert 0 < slow.json()["wait_s"] <= 1
    with later(2):
        assert switch(tablet, pin="0000").status_code == 403
    with later(10):
        assert switch(tablet, pin="0000").status_code == 403
    with later(60):
        locked = switch(tablet)
        assert locked.status_code == 429
        assert "locked for another" in locked.json()["sentence"]
    with later(60 + 15 * 60):
        assert switch(tablet).status_code == 200


def test_an_attempt_is_counted_before_anybody_looks_whether_it_is_right(tablet: Client) -> None:
    """Many guesses at once are no way round: each is on the count before the PIN is checked."""
    counted: list[int] = []

    def looking(**given: str) -> None:
        counted.append(max(Knock.objects.values_list("wrong", flat=True)))

    with patch("cubital.desk.record.badges.pin_of", looking):
        for _ in range(3):
            switch(tablet)
    assert counted == [1, 2, 3]
    with later(5):
        assert switch(tablet).status_code == 200
    assert not Knock.objects.exists()


def test_a_right_password_opens_a_locked_badge(tablet: Client) -> None:
    """The person who forgot the PIN signs in; then the badge may be tried again."""
    for seconds in (0, 0, 0, 5, 30):
        with later(seconds):
            switch(tablet, "BADGE-1", "0000")
    with later(60):
        assert switch(tablet, "BADGE-1").status_code == 429
        tablet.post("/sign-out/")
        tablet.post("/sign-in/", {"username": "mira", "password": PASSWORD})
        assert switch(tablet, "BADGE-1").status_code == 200


def test_a_stranger_elsewhere_locks_nobody_out_of_a_known_tablet(tablet: Client) -> None:
    """Wrong passwords from an unknown device count there; the tablet signs in as ever."""
    stranger = Client(REMOTE_ADDR="10.9.9.9")
    for n in range(10):
        with later(n * 70):
            stranger.post("/sign-in/", {"username": "mira", "password": "wrong-wrong"})
    with later(9 * 70 + 120):
        refused = stranger.post("/sign-in/", {"username": "mira", "password": PASSWORD})
        assert refused.status_code == 429
        assert int(refused["Retry-After"]) >= 1
        assert "wait" in refused.content.decode() or "locked" in refused.content.decode()
        tablet.post("/sign-out/")
        answer = tablet.post("/sign-in/", {"username": "mira", "password": PASSWORD})
        assert answer.status_code == 302


def test_many_names_from_one_address_are_slowed_too(second: Person) -> None:
    """Whoever tries one password on every name is counted by address."""
    stranger = Client(REMOTE_ADDR="10.9.9.8")
    for name in ("mira", "oskan", "joren"):
        stranger.post("/sign-in/", {"username": name, "password": "ostrel"})
    assert stranger.post("/sign-in/", {"username": "sade", "password": "x"}).status_code == 429


def test_somebody_signed_in_clears_nobody_elses_count(tablet: Client) -> None:
    """A form sent while signed in is no attempt: it neither counts nor forgets."""
    Knock.objects.create(door="person ilko", wrong=7, last_at=timezone.now())
    tablet.post("/sign-in/", {"username": "ilko", "password": "x"})
    assert Knock.objects.get(door="person ilko").wrong == 7


def test_an_idle_screen_locks_and_opens_by_badge_and_pin(tablet: Client) -> None:
    """Pages lead to the lock, the page's own questions get 423, and the way back is kept."""
    with later(299):
        assert tablet.get("/").status_code == 200
    with later(299 + 301):
        answer = tablet.get("/patients/?q=x")
        assert answer["Location"] == "/locked/?next=%2Fpatients%2F%3Fq%3Dx"
        asked = tablet.get("/", headers={"Accept": "application/json"})
        assert (asked.status_code, asked.json()["locked"]) == (423, True)
        assert tablet.get("/locked/").status_code == 200
        wrong = tablet.post("/locked/", {"badge": "BADGE-1", "pin": "1111", "next": "/patients/"})
        assert wrong.status_code == 403
        right = tablet.post("/locked/", {"badge": "BADGE-1", "pin": PIN, "next": "/patients/"})
        assert right["Location"] == "/patients/"
        assert tablet.get("/patients/").status_code == 200


def test_a_locked_screen_opens_by_password_and_never_leads_elsewhere(tablet: Client) -> None:
    """Without a badge the own password serves; an address of another site is not followed."""
    tablet.post("/lock/")
    assert tablet.get("/")["Location"].startswith("/locked/")
    wrong = tablet.post("/locked/", {"password": "no"})
    assert wrong.status_code == 403
    answer = tablet.post("/locked/", {"password": PASSWORD, "next": "https://elsewhere.example/"})
    assert answer["Location"] == "/"


def test_a_missing_pin_is_no_attempt(tablet: Client) -> None:
    """A scanner's Enter sends the badge alone: nothing is counted."""
    for _ in range(6):
        assert switch(tablet, pin="").status_code == 422
    assert switch(tablet).status_code == 200


def test_a_locked_screen_still_lets_the_outbox_go(tablet: Client) -> None:
    """Events reach the desk: the answer is about the event, not about the lock."""
    tablet.post("/lock/")
    answer = tablet.post("/api/events", {"events": [{}]}, content_type="application/json")
    assert answer.status_code == 200
    assert answer.json()["answers"][0]["verdict"] == "refused"


def test_a_shift_ends(tablet: Client) -> None:
    """After twelve hours a password is asked for again, however busy the tablet was."""
    for hours in range(1, 13):
        for part in range(12):
            with later(hours * 3600 + part * 300 - 3600):
                tablet.get("/")
    with later(12 * 3600 + 5):
        assert tablet.get("/")["Location"].startswith("/sign-in/")


def test_a_manager_gives_badges_and_the_person_chooses_the_pin(
    clinic: datetime, signed_in: Callable[[str], Client]
) -> None:
    """A badge without a PIN opens nothing; a PIN needs the person's own password."""
    mira = Person.objects.get(username="mira")
    manager, collector = signed_in("manager"), signed_in("collector")
    assert "a manager gives you one" in collector.get("/pin/").content.decode()
    assert collector.get(f"/people/{mira.pk}/badge/").status_code == 403
    given = manager.post(f"/people/{mira.pk}/badge/", {"code": " B-7 "})
    assert given.status_code == 302
    assert Badge.objects.get(person=mira).code == "B-7"
    assert pin_of(code="B-7", pin="") is None
    form = {"password": PASSWORD, "pin": "739104", "again": "739104"}
    assert collector.post("/pin/", {**form, "password": "x"}).status_code == 403
    assert collector.post("/pin/", {**form, "again": "739105"}).status_code == 422
    assert collector.post("/pin/", form).status_code == 302
    assert pin_of(code="B-7", pin="739104") == mira
    manager.post(f"/people/{mira.pk}/badge/", {"take": "1"})
    assert pin_of(code="B-7", pin="739104") is None


def test_a_badge_has_one_owner(second: Person) -> None:
    """The same bar code is not given twice, and the sentence says whose it is."""
    with pytest.raises(InputError, match="belongs to Mira Tolvan"):
        badge_give(person=second, code="BADGE-1")
    with pytest.raises(InputError, match="1 to 64 characters"):
        badge_give(person=second, code=" ")


@pytest.mark.parametrize("pin", ["123", "12a4", "1111", "3456", "9876", "", "٣٤١٩", "1" * 13])
def test_a_pin_that_everybody_tries_is_refused(second: Person, pin: str) -> None:
    """Too short, no digits, all equal, counting."""
    with pytest.raises(InputError):
        pin_set(person=second, pin=pin, least=4)


def test_counting_and_repeating_is_seen() -> None:
    """Only steps that are all the same and small count as a guess."""
    assert easily_guessed("0000")
    assert not easily_guessed("2580")


@override_settings(PASSWORD_HASHERS=ARGON2)
def test_pins_are_kept_as_argon2_hashes(second: Person) -> None:
    """What lies in the database is no PIN."""
    pin_set(person=second, pin="739104", least=4)
    kept = Badge.objects.get(person=second).pin
    assert kept.startswith("argon2$argon2id$")
    assert "739104" not in kept
    assert pin_of(code="BADGE-2", pin="739104") == second


def test_the_desk_hashes_with_argon2() -> None:
    """The setting of the desk itself, which the tests replace by a cheap one."""
    from cubital.desk import settings as own

    assert own.PASSWORD_HASHERS == ARGON2
    assert settings.PASSWORD_HASHERS != ARGON2


def test_patience_doubles_and_never_passes_the_lock() -> None:
    """Nothing, then 1, 2, 4 … seconds, then the lock."""
    policy = Patience(free=3, lock_after=10, lock=timedelta(seconds=20))
    waits = [policy.wait(n).total_seconds() for n in range(12)]
    assert waits == [0, 0, 0, 1, 2, 4, 8, 16, 20, 20, 20, 20]
