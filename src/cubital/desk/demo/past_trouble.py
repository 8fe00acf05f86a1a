"""What went wrong in the invented clinic's past weeks, and its waste."""

from __future__ import annotations

from datetime import date, timedelta

from cubital.desk.demo.past_day import BENCH, VALLEY, Past

SUNDAY = 6
SCHEME = "local"
HAND_OVER = (1, 4)
"""The van comes on Tuesdays and Fridays."""
PLANT = "Ostrel treatment plant"

INCIDENTS: tuple[tuple[int, str, str, dict[str, object]], ...] = (
    (52, "spill", "mira", {"note": "An EDTA tube fell and broke at the reception."}),
    (44, "fainting", "tove", {"patient": "OV-20011", "note": "Lay down for ten minutes."}),
    (33, "needlestick", "mira", {"people": ["mira"], "note": "While the box was being closed."}),
    (26, "haematoma", "tove", {"patient": "OV-20023"}),
    (19, "refusal", "mira", {"patient": "OV-20007"}),
    (12, "spill", BENCH, {"note": "Serum on the bench, wiped with 1 % for 30 minutes."}),
    (9, "nerve_pain", "tove", {"patient": "OV-20031"}),
    (6, "splash", BENCH, {"people": [BENCH], "note": "Opened a tube without a shield."}),
    (2, "haematoma", "mira", {"patient": "OV-20018"}),
)
"""Days back, what, who wrote it, and more."""

DONE: tuple[tuple[int, int, str, str, dict[str, object]], ...] = (
    (44, 44, "mira", "tell-requester", {"closed": True}),
    (33, 33, "mira", "physician-now", {}),
    (33, 33, "mira", "hbv-check", {}),
    (33, 32, "sade", "hiv-last-hour", {}),
    (33, 32, "sade", "baseline", {}),
    (33, 30, "sade", "A second sharps box stands at the chair by the window.",
     {"note": "One box for two chairs was too far away."}),
    (26, 24, "tove", "look-again", {"closed": True}),
    (19, 19, "mira", "tell-requester", {"closed": True}),
    (12, 11, "sade", "Shown once more how tubes are uncapped.", {"closed": True}),
    (9, 8, "tove", "look-again", {"closed": True}),
    (6, 6, BENCH, "physician-now", {}),
    (6, 5, BENCH, "hbv-check", {}),
    (6, 5, "sade", "hiv-last-hour", {}),
)  # fmt: skip
"""Of which incident (days back), when (days back), by whom, what was done, and more."""


def trouble(past: Past, today: date, first: date) -> None:
    """
    Add what went wrong on a day, and its waste.

    Args:
        past: the day under way.
        today: of the demo.
        first: first day of the record; the van takes no bag from before.
    """
    for back, what, who, more in INCIDENTS:
        if working(today, back) == past.day and past.day >= first:
            past.add("incident_recorded", name(today, back), past.at(11, 20), who, VALLEY,
                     what=what, **more)  # fmt: skip
    for nth, (of, back, who, action, more) in enumerate(DONE):
        if working(today, back) == past.day and working(today, of) >= first:
            past.add("incident_followed_up", name(today, of), past.at(16, nth), who, VALLEY,
                     action=action, **more)  # fmt: skip
    waste(past, first)


def working(today: date, back: int) -> date:
    """The day so many days back, or the Saturday before where that is a Sunday."""
    day = today - timedelta(days=back)
    return day - timedelta(days=1) if day.weekday() == SUNDAY else day


def name(today: date, back: int) -> str:
    """The incident of so many days back."""
    return f"incident:IOL{working(today, back):%y%m%d}{back:02d}"


def bag(day: date, nth: int) -> str:
    """A bag of a day: 1 the soiled one, 2 the week's sharps box, 3 its plastic."""
    return f"waste:WOL{day:%y%m%d}{nth:03d}"


def waste(past: Past, first: date) -> None:
    """A bag for soiled cotton a day, a sharps box and a bag for plastic a week."""
    day, random = past.day, past.random
    monday = day - timedelta(days=day.weekday())
    if day.weekday() in HAND_OVER:
        hand_over(past, first)
    if day == monday:
        for nth, stream in ((2, "sharps"), (3, "plastic")):
            past.add("waste_opened", bag(day, nth), past.at(7, 5), "mira", VALLEY, scheme=SCHEME,
                     stream=stream)  # fmt: skip
    past.add("waste_opened", bag(day, 1), past.at(7, 6), "mira", VALLEY, scheme=SCHEME,
             stream="soiled")  # fmt: skip
    past.add("waste_filled", bag(day, 1), past.at(12), "mira", VALLEY, percent=50)
    past.add("waste_filled", bag(day, 1), past.at(16), "mira", VALLEY, percent=75)
    shut(past, bag(day, 1), random.randint(900, 2400), 30)
    if monday >= first:
        percent = 15 * (day.weekday() + 1)
        for nth, heaviest in ((2, 2600), (3, 4200)):
            past.add("waste_filled", bag(monday, nth), past.at(17), "mira", VALLEY,
                     percent=min(percent, 80))  # fmt: skip
            if day.weekday() == SUNDAY - 1:
                shut(past, bag(monday, nth), random.randint(1200, heaviest), 40)


def shut(past: Past, subject: str, weight_g: int, minute: int) -> None:
    """Closed and weighed."""
    past.add("waste_closed", subject, past.at(17, minute), "mira", VALLEY)
    past.add("waste_weighed", subject, past.at(17, minute + 5), "mira", VALLEY, weight_g=weight_g)


def hand_over(past: Past, first: date) -> None:
    """The van takes every bag that was closed since it was last here."""
    back = 1
    while True:
        day = past.day - timedelta(days=back)
        if day < first:
            return
        if day.weekday() != SUNDAY:
            taken = [bag(day, 1)]
            monday = day - timedelta(days=day.weekday())
            if day.weekday() == SUNDAY - 1 and monday >= first:
                taken += [bag(monday, 2), bag(monday, 3)]
            for each in taken:
                past.add("waste_handed_over", each, past.at(15, 10), "ilko", VALLEY, to=PLANT)
        if day.weekday() in HAND_OVER:
            return
        back += 1
