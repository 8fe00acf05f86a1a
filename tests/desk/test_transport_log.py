"""A logger's file: read, asked about or refused; kept, drawn, and what it means for each test."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from cubital.desk.record.models import BoxLog, LogFlight, LogReading
from cubital.desk.transport.plot import HEIGHT, MOST_POINTS, WIDTH, plot, thinned
from cubital.transport import Reading, TemperatureLog, excursions
from tests.desk.test_reception import scan, state
from tests.desk.test_safety import INLINE
from tests.desk.way import PASS, boxed, drawn, requisition

HTMX = {"HX-Request": "true"}
GEL = ("gel-3.5", ["sodium", "crp"])


@pytest.fixture
def bench(signed_in: Callable[[str], Client]) -> Client:
    """Somebody at the bench of the valley's laboratory."""
    return signed_in("bench")


@pytest.fixture
def box(bench: Client) -> list[str]:
    """A box from the pass, three hours on its way without cooling, open here."""
    codes = drawn(requisition(15), GEL, ("edta-3", ["fbc"]), site=PASS, ago=timedelta(hours=4))
    boxed("B-7", codes, ago=timedelta(hours=3))
    bench.post("/transport/boxes/B-7/open/")
    return codes


def csv(celsius: list[float], *, head: str = "time,temperature (°C)", minutes: int = 10) -> str:
    """A logger's file that ends now."""
    begin = datetime.now(UTC) - timedelta(minutes=minutes * (len(celsius) - 1))
    lines = [
        f"{begin + timedelta(minutes=minutes * n):%Y-%m-%d %H:%M:%S}+00:00,{value}"
        for n, value in enumerate(celsius)
    ]
    return "\n".join([head, *lines])


def upload(client: Client, text: str | bytes, *, htmx: bool = True, **said: str):
    """Send a file as the page does."""
    data = text.encode() if isinstance(text, str) else text
    file = SimpleUploadedFile("logger.csv", data)
    return client.post(
        "/transport/boxes/B-7/log/", {"file": file, "condition": "room", **said},
        headers=HTMX if htmx else {},
    )  # fmt: skip


WARM = [20.0] * 6 + [33.0] * 7 + [20.0] * 6


def test_a_log_is_read_kept_drawn_and_judged(bench: Client, box: list[str]) -> None:
    """Readings in a table of their own, a plot, the excursion with its worth, the flights."""
    answer = upload(bench, csv(WARM))
    row = BoxLog.objects.get()
    assert answer["HX-Redirect"] == f"/transport/logs/{row.pk}/"
    assert LogReading.objects.filter(log=row).count() == len(WARM)
    assert {f.test for f in LogFlight.objects.filter(log=row)} == {"sodium", "crp", "fbc"}
    page = bench.get(f"/transport/logs/{row.pk}/")
    said = page.content.decode()
    (out,) = page.context["excursions"]
    assert (out["worst"], out["word"]) == ("33.0", "too warm")
    assert "made for medicines in store" in said
    assert '<polygon class="out"' in said
    assert "allowed: 15 to 25 °C" in said
    assert not INLINE.search(said)
    assert row.name in bench.get("/transport/boxes/B-7/").content.decode()


def test_the_reception_counts_what_the_way_used_up(bench: Client, box: list[str]) -> None:
    """Fifteen hours too warm: what the log says decides at the scan, not the clock alone."""
    upload(bench, csv([24.0] * 100, minutes=60))
    kind, _, said = scan(bench, box[0])
    assert kind == "good"  # drawn four hours ago: only what lies after the draw counts
    LogFlight.objects.filter(specimen=box[1], test="fbc").update(used_percent=130)
    kind, _, said = scan(bench, box[1])
    assert kind == "stop"
    assert "130 % of what it keeps is used up" in said
    assert state(box[1]) == "received"
    page = bench.get(f"/reception/specimens/{box[1]}/").content.decode()
    assert "used up on the way" in page


def test_frozen_blood_is_spoilt_on_the_page(bench: Client, box: list[str]) -> None:
    """Unseparated blood that froze: every test of it is marked, in a word and a drawing."""
    upload(bench, csv([4.0, -3.0, -3.0, 4.0]))
    page = bench.get(f"/transport/logs/{BoxLog.objects.get().pk}/")
    assert {each["word"] for each in page.context["flights"]} == {"spoilt"}
    assert "unseparated blood froze" in page.content.decode()


def test_unclear_columns_are_asked_about_and_never_guessed(bench: Client, box: list[str]) -> None:
    """Two temperatures: the page asks; the same file with the answer is read."""
    text = csv([20.0] * 5, head="when,probe").replace(",20.0", ",20.0,21.0")
    text = text.replace("when,probe", "when,probe 1,probe 2")
    answer = upload(bench, text)
    assert answer.status_code == 200
    assert answer.context["columns"] == ("when", "probe 1", "probe 2")
    assert "Nothing is guessed" in answer.content.decode()
    assert not BoxLog.objects.exists()
    half = upload(bench, text, time="when", temperature="probe 2")
    assert not BoxLog.objects.exists()
    assert "do not say which column" in half.content.decode()
    upload(bench, text, time="when", temperature="probe 2", unit="C")
    row = BoxLog.objects.get()
    assert row.columns == {"time": "when", "temperature": "probe 2", "unit": "C"}
    assert LogReading.objects.filter(celsius=21.0).count() == 5


def test_without_the_pages_script_it_asks_too(bench: Client, box: list[str]) -> None:
    """A plain form gets the whole page with the question on it."""
    answer = upload(bench, csv([20.0] * 5, head="a,b"), htmx=False)
    assert answer.status_code == 422
    assert "The time is in" in answer.content.decode()
    assert upload(bench, csv(WARM), htmx=False).status_code == 302


BACK = "time,temperature (C)\n2026-11-25 08:00,5\n2026-11-25 09:00,5\n2026-11-25 08:30,5"


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("", "fewer than two readings"),
        ("time,temperature (C)\n2026-11-25 08:00,warm\n2026-11-25 08:10,5\n", "no temperature"),
        (BACK, "Times go back"),
        ("time,temperature (C)\n2026-11-25 08:00,900\n2026-11-25 08:10,5\n", "cannot be"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\n1", "Export it as CSV"),
    ],
)
def test_a_file_that_cannot_be_read_is_one_sentence(
    bench: Client, box: list[str], text: str | bytes, part: str
) -> None:
    """Refused with the place and the mend; nothing is kept."""
    answer = upload(bench, text)
    assert answer.status_code == 200
    assert part in answer.content.decode()
    assert not BoxLog.objects.exists()


def test_fahrenheit_and_a_decimal_comma_are_understood(bench: Client, box: list[str]) -> None:
    """68,0 °F is 20 °C."""
    text = csv([68.0] * 4, head="Time;Temperature (°F)").replace(",", ";").replace("68.0", "68,0")
    upload(bench, text)
    assert {round(r.celsius, 1) for r in LogReading.objects.all()} == {20.0}


def test_the_same_file_twice_is_told(bench: Client, box: list[str]) -> None:
    """Kept once for a journey."""
    text = csv(WARM)
    upload(bench, text)
    answer = upload(bench, text)
    assert "read for this journey already" in answer.content.decode()
    assert BoxLog.objects.count() == 1


def test_a_log_needs_a_file_and_a_journey(bench: Client) -> None:
    """Neither is made up."""
    answer = bench.post("/transport/boxes/B-7/log/", {"condition": "room"}, headers=HTMX)
    assert "No file was sent" in answer.content.decode()
    assert "has not travelled" in upload(bench, csv(WARM)).content.decode()
    assert bench.get("/transport/logs/99/").status_code == 404


# ---------------------------------------------------------------- the drawing

BEGIN = datetime(2026, 11, 25, 6, 0, tzinfo=UTC)
ZONE = ZoneInfo("Asia/Kathmandu")


def readings(*celsius: float, minutes: int = 10) -> tuple[Reading, ...]:
    """Readings at equal steps."""
    return tuple(
        Reading(BEGIN + timedelta(minutes=minutes * n), value) for n, value in enumerate(celsius)
    )


def drawing(line: tuple[Reading, ...], low: float = 2.0, high: float = 8.0):
    """The plot of a log against a band."""
    found = excursions(TemperatureLog("x", line), low, high)
    return plot(line, low, high, found, ZONE, gap_factor=3.0), found


@pytest.mark.parametrize(
    "celsius",
    [(5, 5), (5, 12, 5), (12, 12), (-80, 40), (5, 5.0001), (8, 8, 2), (9, 5, 1, 5, 9)],
)
def test_everything_lies_inside_the_drawing(celsius: tuple[float, ...]) -> None:
    """Lines, areas, numbers and ticks, whatever the log; one area an excursion."""
    made, found = drawing(readings(*map(float, celsius)))
    assert len(made.outside) == len(found)
    numbers = [float(n) for line in made.lines for n in re.split("[ ,]", line)]
    numbers += [float(n) for each in made.outside for n in re.split("[ ,]", each.points)]
    xs, ys = numbers[::2], numbers[1::2]
    assert min(xs) >= made.left
    assert max(xs) <= made.right
    assert min(ys) >= 0
    assert max(ys) <= made.bottom
    for each in made.outside:
        assert 0 < each.y < HEIGHT
        assert 0 < each.x < WIDTH
    assert 2 <= len(made.degrees) <= 9
    assert made.band_height > 0


def test_an_area_touches_the_edge_of_the_band_where_the_line_crosses() -> None:
    """From 8 °C up to 12 °C and back: the area begins and ends on the band's edge."""
    made, _ = drawing(readings(4.0, 12.0, 4.0))
    points = [tuple(map(float, p.split(","))) for p in made.outside[0].points.split()]
    assert points[0][1] == points[-1][1] == made.band_y
    assert min(y for _, y in points) < made.band_y


def test_a_pause_is_drawn_as_a_gap() -> None:
    """Two lines with a dashed stretch between them."""
    line = readings(5.0, 5.0, 5.0)
    late = tuple(Reading(r.at + timedelta(hours=3), r.celsius) for r in line)
    made, _ = drawing((*line, *late))
    assert len(made.lines) == 2
    assert len(made.gaps) == 1


def test_a_long_log_keeps_its_peaks() -> None:
    """A week of minutes has few points on screen, and the one warm minute is among them."""
    celsius = [5.0] * 10_000
    celsius[7_777] = 21.0
    kept = thinned(readings(*celsius, minutes=1))
    assert len(kept) <= MOST_POINTS + 2
    assert max(each.celsius for each in kept) == 21.0
    assert [r.at for r in kept] == sorted(r.at for r in kept)


def test_ticks_are_round_local_times() -> None:
    """Quarter hours of a zone that is 45 minutes off; the day where there are two."""
    made, _ = drawing(readings(*[5.0] * 10, minutes=10))
    assert [t.word for t in made.times][:2] == ["11:45", "12:00"]
    long, _ = drawing(readings(*[5.0] * 100, minutes=30))
    assert all(re.fullmatch(r"\d\d \w{3} \d\d:\d\d", t.word) for t in long.times)


@pytest.mark.parametrize("day", ["0001-01-01", "1970-01-01", "2025-01-01", "9999-12-31"])
def test_a_log_of_another_time_is_refused(bench: Client, box: list[str], day: str) -> None:
    """A logger whose clock was never set, or yesterday's file: one sentence, nothing is kept."""
    answer = upload(bench, f"time,temperature (C)\n{day} 08:00,5\n{day} 23:50,6\n")
    assert answer.status_code == 200
    assert "the box was on its way from" in answer.content.decode()
    assert not BoxLog.objects.exists()


def test_what_a_log_leaves_out_stands_on_its_page(bench: Client, box: list[str]) -> None:
    """Forty minutes of three hours."""
    upload(bench, csv([20.0] * 5))
    page = bench.get(f"/transport/logs/{BoxLog.objects.get().pk}/").content.decode()
    assert "min after the box left: of that time nothing is known" in page
