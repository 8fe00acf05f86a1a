"""Waste bags and sharps boxes: what stands here, and the next step of each by its bar code."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import content_disposition_header, urlencode
from django.views.decorators.http import require_GET, require_POST

from cubital.catalogue import Catalogue
from cubital.catalogue.model_logbook import WasteStream
from cubital.desk.catalogue.load import catalogue_at
from cubital.desk.logbook.lines import span_words
from cubital.desk.logbook.waste_steps import steps_shown
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import EVERY_ROLE, who_may
from cubital.desk.record import selectors
from cubital.desk.record import selectors_quality as quality
from cubital.desk.record import waste as record
from cubital.desk.record.models import Role, WasteNow
from cubital.desk.words import plain, waste_scheme
from cubital.errors import EventRefused, InputError, LabelError
from cubital.labels.waste import WasteLabel, print_waste_labels
from cubital.logbook import kept_too_long

everybody = who_may(*EVERY_ROLE)
FILLS = (25, 50, 75, 100)
PAINT = {
    "black": "#2b2b2b", "blue": "#2f6fb7", "brown": "#7a5230", "green": "#3d8b4f",
    "red": "#c53a32", "white": "#ffffff", "yellow": "#f2c230",
}  # fmt: skip
"""How a colour that is named in words looks beside those words."""
NO_PAINT = "#d9dcde"
G_PER_KG = 1000


@dataclass(frozen=True, slots=True)
class Standing:
    """
    A bag or box on the page.

    Args:
        row: as it stands.
        stream: its row in the catalogue, None where the tables no longer have it.
        name: stream in words.
        full: it is at its limit and still open.
        since: how long it is open, or closed and waiting, in words.
        late: it stands here longer than it may.
    """

    row: WasteNow
    stream: WasteStream | None
    name: str
    full: bool
    since: str
    late: bool

    @property
    def look(self) -> str:
        """Colour and kind in words: ``yellow bag``."""
        return f"{self.stream.colour} {self.stream.container}" if self.stream else "bag"

    @property
    def rgb(self) -> str:
        """The colour beside the words."""
        return PAINT.get(self.stream.colour, NO_PAINT) if self.stream else NO_PAINT


def standing_of(rows: list[WasteNow], catalogue: Catalogue, now: datetime) -> list[Standing]:
    """Bags as the page shows them."""
    streams = {(row.scheme, row.stream): row for row in catalogue.rows(WasteStream)}
    limit_h = catalogue.number("waste_keep_h")
    late = {bag.code for bag in kept_too_long(map(record.bag_of, rows), now, limit_h)}
    found = []
    for row in rows:
        stream = streams.get((row.scheme, row.stream))
        limit = stream.close_at_percent if stream else 100
        found.append(
            Standing(
                row=row,
                stream=stream,
                name=plain(row.stream),
                full=row.closed_at is None and row.fill_percent >= limit,
                since=span_words(now - (row.closed_at or row.opened_at)),
                late=row.code in late,
            )
        )
    return found


def streams_here(request: DeskRequest, catalogue: Catalogue) -> list[tuple[WasteStream, str, str]]:
    """The streams of the place's scheme with their names and colours."""
    return [
        (row, plain(row.stream), PAINT.get(row.colour, NO_PAINT))
        for row in catalogue.rows(WasteStream)
        if row.scheme == request.place.waste_scheme
    ]


@require_GET
@everybody
def stands_here(request: DeskRequest) -> HttpResponse:
    """What stands at this place, and a form to open a new one."""
    return page(request)


def page(
    request: DeskRequest, *, said: str = "", code: str = "", status: int = 200
) -> HttpResponse:
    """The page of waste, with a sentence where something was refused."""
    catalogue = catalogue_at(request.place.catalogue_folder)
    rows = list(quality.waste_here(request.place))
    standing = standing_of(rows, catalogue, timezone.now())
    context = {
        "open": [each for each in standing if each.row.closed_at is None],
        "closed": [each for each in standing if each.row.closed_at is not None],
        "streams": streams_here(request, catalogue),
        "limit_h": catalogue.number("waste_keep_h"),
        "scheme": waste_scheme(request.place.waste_scheme),
        "code": code or request.GET.get("code", "")[: record.LONGEST_CODE],
        "said": said,
    }
    return render(request, "waste/here.html", context, status=status)


@require_GET
@everybody
def find(request: DeskRequest) -> HttpResponse:
    """Open the bag that was scanned; one that nobody knows can be opened as new."""
    code = request.GET.get("q", "").strip()
    if not code:
        messages.error(request, "Nothing was scanned. Scan the bag’s bar code.", extra_tags="wrong")
        return redirect("waste")
    if quality.waste_by_code(code) is not None:
        return redirect("waste-bag", code)
    messages.error(
        request,
        f"No bag has the bar code {code[:60]}. Scan it again, or choose below what goes in it.",
        extra_tags="ask",
    )
    return redirect(f"{reverse('waste')}?{urlencode({'code': code})}")


@require_POST
@everybody
def open_new(request: DeskRequest) -> HttpResponse:
    """Open a bag or box of one stream."""
    catalogue = catalogue_at(request.place.catalogue_folder)
    code, stream = request.POST.get("code", ""), request.POST.get("stream", "")
    if not stream:
        return page(request, said="Choose what goes in.", code=code, status=422)
    try:
        number = record.waste_open(
            place=request.place,
            by=request.user,
            now=timezone.now(),
            catalogue=catalogue,
            stream=stream,
            code=code,
        )
    except (InputError, EventRefused) as refused:
        return page(request, said=str(refused), code=code, status=422)
    messages.success(request, f"{number} is open.", extra_tags="good")
    return redirect("waste-bag", number)


def bag_or_404(code: str) -> WasteNow:
    """The bag of that bar code."""
    row = quality.waste_by_code(code)
    if row is None:
        raise Http404
    return row


@require_GET
@everybody
def bag(request: DeskRequest, code: str) -> HttpResponse:
    """One bag: how it stands, and what comes next."""
    return bag_page(request, bag_or_404(code))


def bag_page(
    request: DeskRequest, row: WasteNow, *, said: str = "", status: int = 200
) -> HttpResponse:
    """The page of a bag, with a sentence where a step was refused."""
    place = selectors.place_at(row.site)
    catalogue = catalogue_at(place.catalogue_folder if place else "")
    (standing,) = standing_of([row], catalogue, timezone.now())
    names = quality.names_known()
    context = {
        "bag": standing,
        "row": row,
        "here_too": row.site == request.place.code,
        "site_name": place.name if place else row.site,
        "opened_by": names.get(row.opened_by, row.opened_by),
        "fills": FILLS,
        "steps": steps_shown(row.code),
        "may_correct": request.user.role == Role.QUALITY,
        "streams": [
            (each.stream, f"{plain(each.stream)}, {each.colour} {each.container}")
            for each in catalogue.rows(WasteStream)
            if each.scheme == row.scheme
        ],
        "typed": request.POST,
        "said": said,
    }
    return render(request, "waste/bag.html", context, status=status)


@require_POST
@everybody
def step(request: DeskRequest, code: str) -> HttpResponse:
    """The next step of a bag: how full, closed, weighed, handed over, or taken back."""
    row = bag_or_404(code)
    act = STEPS.get(request.POST.get("step", ""))
    if act is None:
        return bag_page(request, row, said="Choose what to do with it.", status=422)
    if row.site != request.place.code:
        said = f"{code} stands at another place; go there first."
        return bag_page(request, row, said=said, status=422)
    try:
        what = act(request, row)
    except (InputError, EventRefused) as refused:
        return bag_page(request, row, said=str(refused), status=422)
    messages.success(request, what, extra_tags="good")
    return redirect("waste-bag", code) if quality.waste_by_code(code) else redirect("waste")


def _fill(request: DeskRequest, row: WasteNow) -> str:
    catalogue = catalogue_at(request.place.catalogue_folder)
    percent = whole(request.POST.get("percent", ""), "how full", "Write a percentage, 0 to 100.")
    findings = record.waste_fill(
        row=row, by=request.user, now=timezone.now(), catalogue=catalogue, percent=percent
    )
    return findings[0].sentence if findings else f"{row.code} is {percent} % full."


def _close(request: DeskRequest, row: WasteNow) -> str:
    record.waste_close(row=row, by=request.user, now=timezone.now())
    return f"{row.code} is closed. Weigh it."


def _weigh(request: DeskRequest, row: WasteNow) -> str:
    text = request.POST.get("weight_kg", "")
    grams = grams_of(text)
    record.waste_weigh(row=row, by=request.user, now=timezone.now(), weight_g=grams)
    return f"{row.code} weighs {grams / G_PER_KG:g} kg."


def _hand_over(request: DeskRequest, row: WasteNow) -> str:
    to = request.POST.get("to", "")
    record.waste_hand_over(rows=[row], by=request.user, now=timezone.now(), to=to)
    return f"{row.code} went with {to.strip()}."


def _take_back(request: DeskRequest, row: WasteNow) -> str:
    why = request.POST.get("why", "")
    record.waste_take_back(row=row, by=request.user, now=timezone.now(), why=why)
    return f"{row.code} was never opened."


STEPS: dict[str, Callable[[DeskRequest, WasteNow], str]] = {
    "fill": _fill,
    "close": _close,
    "weigh": _weigh,
    "hand_over": _hand_over,
    "take_back": _take_back,
}


def whole(text: str, where: str, mend: str) -> int:
    """
    A whole number as typed.

    Raises:
        InputError: it is none.
    """
    try:
        return int(text.strip())
    except ValueError:
        raise InputError(f"{text[:20]!r} is no whole number", where, mend) from None


def grams_of(text: str) -> int:
    """
    Kilograms as typed, in grams; a decimal comma will do.

    Raises:
        InputError: no number, or none that a bag can weigh.
    """
    try:
        kilograms = float(text.strip().replace(",", "."))
        return round(kilograms * G_PER_KG)
    except (ValueError, OverflowError):
        raise InputError(
            f"{text[:20]!r} is no weight", "weight", "Write kilograms, for example 2.4."
        ) from None


@require_POST
@everybody
def hand_over(request: DeskRequest) -> HttpResponse:
    """Hand several closed bags over together."""
    chosen = set(request.POST.getlist("code"))
    rows = [row for row in quality.waste_here(request.place) if row.code in chosen]
    to = request.POST.get("to", "")
    if len(rows) < len(chosen):
        return page(request, said="One of these bags is gone already: look again.", status=422)
    try:
        record.waste_hand_over(rows=rows, by=request.user, now=timezone.now(), to=to)
    except (InputError, EventRefused) as refused:
        return page(request, said=str(refused), status=422)
    codes = ", ".join(row.code for row in rows)
    messages.success(request, f"{codes} went with {to.strip()}.", extra_tags="good")
    return redirect("waste")


@require_GET
@everybody
def label(request: DeskRequest, code: str) -> HttpResponse:
    """The label of a bag, on the place's label paper."""
    row = bag_or_404(code)
    place = selectors.place_at(row.site)
    catalogue = catalogue_at(place.catalogue_folder)
    (standing,) = standing_of([row], catalogue, timezone.now())
    limit = f", close at {standing.stream.close_at_percent} %" if standing.stream else ""
    opened = timezone.localtime(row.opened_at)
    made = WasteLabel(
        row.code,
        standing.name,
        (f"{standing.look}{limit}", place.name, f"opened {opened:%Y-%m-%d %H:%M}"),
    )
    try:
        pdf = print_waste_labels([made], catalogue.label_sizes[place.label_size])
    except LabelError as refused:
        return bag_page(request, row, said=str(refused), status=422)
    response = HttpResponse(pdf, content_type="application/pdf")
    named = content_disposition_header(False, f"{row.code}.pdf")
    response["Content-Disposition"] = named or "inline"
    return response
