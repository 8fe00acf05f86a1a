"""Stores by scanner: put away, taken out, thrown away; what is due today and into which stream."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_GET, require_POST

from cubital.bench import ToDiscard, may_thaw, standing, thaws
from cubital.custody import State
from cubital.desk import words
from cubital.desk.bench.board import MAY_LOOK
from cubital.desk.bench.known import Held, Scene, hold, scene_at
from cubital.desk.bench.shelving import (
    due_today,
    put_away,
    shelf_named,
    shelves_shown,
    stream_words,
    wrongly_stored,
)
from cubital.desk.bench.shown import clock_words
from cubital.desk.draw.page import Said, said
from cubital.desk.logbook.waste import NO_PAINT, PAINT
from cubital.desk.people.request import DeskRequest
from cubital.desk.people.who import who_may
from cubital.desk.reception.scan import number_read
from cubital.desk.record import bench, selectors_bench
from cubital.desk.record.models import Role, Shelf
from cubital.errors import EventRefused, InputError

MODES = {"store": "Put away", "out": "Take out", "discard": "Throw away"}
AT_HAND = (State.ACCEPTED, State.SPUN, State.ALIQUOTED)
LONGEST = 64
MOST = 200


@dataclass(frozen=True, slots=True)
class Group:
    """What goes into one waste stream today, from one place."""

    name: str
    rgb: str
    stream: str
    place: str
    lines: tuple[tuple[ToDiscard, str], ...]

    @property
    def codes(self) -> str:
        """Their numbers, as a form sends them back."""
        return " ".join(each.code for each, _ in self.lines)


@require_GET
@who_may(*MAY_LOOK)
def storage(request: DeskRequest) -> HttpResponse:
    """Show the scan box, the shelves, and what is due."""
    scene = scene_at(request.place)
    return render(request, "bench/storage.html", storage_context(request, scene, request.GET))


def storage_context(request: DeskRequest, scene: Scene, data: Any) -> dict[str, Any]:
    """Everything the page reads."""
    held = hold(selectors_bench.stored_at(scene.place), scene)
    due, unsaid = due_today(held.values(), scene)
    mode = data.get("mode", "store")
    return {
        "may_write": request.user.role == Role.BENCH,
        "modes": MODES,
        "mode": mode if mode in MODES else "store",
        "shelf": data.get("shelf", ""),
        "shelves": shelves_shown(scene, held.values()),
        "due": groups(due, held, scene),
        "due_count": len(due),
        "unsaid": unsaid,
        "wrong": wrong_shown(list(held.values()), scene)[:MOST],
        "stored_count": len(held),
        "elsewhere": sum(each.shelf is None for each in held.values()),
        "scheme": words.waste_scheme(scene.place.waste_scheme),
    }


def groups(due: list[ToDiscard], held: dict[str, Held], scene: Scene) -> list[Group]:
    """What is due, by stream and by place."""
    found: dict[tuple[str, str], list[tuple[ToDiscard, str]]] = {}
    for each in due[:MOST]:
        since = clock_words(each.due_since, scene.now)
        found.setdefault((each.stream.stream, each.place), []).append((each, since))
    return [
        Group(
            name=stream_words(lines[0][0].stream),
            rgb=PAINT.get(lines[0][0].stream.colour, NO_PAINT),
            stream=stream,
            place=place,
            lines=tuple(lines),
        )
        for (stream, place), lines in found.items()
    ]


def wrong_shown(held: list[Held], scene: Scene) -> list[tuple[Held, tuple[Said, ...]]]:
    """What stands where a test that is still to be done must not be kept."""
    found = []
    for each in held:
        if not each.tests:
            continue
        try:
            stands = standing(each.stored(), scene.here.catalogue, scene.choices)
        except InputError:
            continue
        asks = [f for f in stands.findings if f.code == "stored-wrongly"]
        if asks:
            found.append((each, said(asks[:1], scene.here.catalogue)))
    return found


# ---------------------------------------------------------------- one scan


@dataclass(frozen=True, slots=True)
class Answer:
    """What the page says to a scan."""

    kind: str
    word: str
    code: str
    sentence: str = ""
    link: str = ""

    @property
    def shown(self) -> dict[str, str]:
        """As the template of a line reads it."""
        return {
            "kind": self.kind,
            "word": self.word,
            "code": self.code,
            "sentence": self.sentence,
            "link": self.link,
            "list": "look" if self.kind in ("ask", "stop") else "done",
        }


@require_POST
@who_may(Role.BENCH)
def scan(request: DeskRequest) -> HttpResponse:
    """Answer one scan: a shelf is chosen, a specimen put away, taken out or thrown away."""
    scene = scene_at(request.place)
    text = request.POST.get("text", "").strip()[:LONGEST]
    mode = request.POST.get("mode", "store")
    try:
        shelf = shelf_named(text, scene) if text else None
    except InputError:
        shelf = None
    if shelf is not None:
        return shelf_chosen(request, scene, shelf)
    answer = answer_of(text, mode, request, scene)
    if request.htmx:
        return HttpResponse(render_to_string("bench/scanned.html", answer.shown))
    tag = "good" if answer.shown["list"] == "done" else "wrong"
    messages.add_message(request, messages.INFO, f"{answer.code}: {answer.word}."
                         f" {answer.sentence}", extra_tags=tag)  # fmt: skip
    return back(mode, request.POST.get("shelf", ""))


def back(mode: str, shelf: str) -> HttpResponse:
    """To the page, with the same mode and shelf."""
    return redirect(f"{reverse('bench-storage')}?{urlencode({'mode': mode, 'shelf': shelf})}")


def shelf_chosen(request: DeskRequest, scene: Scene, shelf: Shelf) -> HttpResponse:
    """A shelf was scanned: what is scanned from now on is put there."""
    if not request.htmx:
        return back("store", shelf.code)
    context = {
        "may_write": True, "modes": MODES, "mode": "store", "shelf": shelf.code,
        "shelves": shelves_shown(scene), "chosen": shelf,
    }  # fmt: skip
    answer = Answer("note", "Shelf", shelf.code, f"{shelf.name}: scan what goes there.")
    inside = render_to_string("bench/storage_where.html", context, request)
    return HttpResponse(render_to_string("bench/scanned.html", answer.shown) + inside)


def answer_of(text: str, mode: str, request: DeskRequest, scene: Scene) -> Answer:
    """Answer the scan of a specimen, and store what follows from it."""
    if not text:
        return Answer("ask", "Nothing", "", "Nothing was scanned.")
    code, misread = number_read(text)
    found = selectors_bench.specimens_of([code])
    if not found:
        return Answer("stop", "Not known", text, misread or "The record knows no such specimen.")
    held = hold(found, scene)[code]
    link = reverse("bench-specimen", args=[code])
    if held.specimen.site != scene.place.code:
        return Answer("stop", "Not here", code, "Another place holds it.", link)
    try:
        if mode == "store":
            return stored(held, request, scene, link)
        if mode == "out":
            return taken_out(held, request, scene, link)
        if mode == "discard":
            return thrown_away(held, request, scene, link)
    except (InputError, EventRefused) as refused:
        return Answer("stop", "Not stored", code, str(refused), link)
    return Answer("stop", "Not stored", code, "Choose what is done with what is scanned.")


def stored(held: Held, request: DeskRequest, scene: Scene, link: str) -> Answer:
    """Put it on the chosen shelf, where nothing asks."""
    shelf = shelf_named(request.POST.get("shelf", ""), scene)
    if held.specimen.state is State.STORED and held.facts.shelf == shelf.code:
        return Answer("twice", "Stands there", held.code, f"On {shelf.name}.", link)
    asks = wrongly_stored(held, shelf, scene)
    if asks is not None:
        return Answer("ask", "Not there", held.code, asks.sentence, link)
    put_away(held, shelf, scene, request.user)
    return Answer("good", "Put away", held.code, f"On {shelf.name}.", link)


def taken_out(held: Held, request: DeskRequest, scene: Scene, link: str) -> Answer:
    """Take it out, where nothing asks."""
    if held.specimen.state is not State.STORED:
        return Answer("twice", "Not in a store", held.code, "", link)
    if held.bench.condition == "frozen":
        events = selectors_bench.events_by_subject([f"specimen:{held.code}"])
        times = thaws(events[f"specimen:{held.code}"], held.code)
        asks = may_thaw(times, held.code, scene.here.catalogue)
        if asks is not None:
            return Answer("ask", "Thawed before", held.code, asks.sentence, link)
    bench.specimen_take_out(code=held.code, place=scene.place, by=request.user,
                            now=timezone.now())  # fmt: skip
    return Answer("good", "Taken out", held.code, "", link)


def thrown_away(held: Held, request: DeskRequest, scene: Scene, link: str) -> Answer:
    """Throw it away when it is due; before, its own page asks why."""
    if held.specimen.state is State.DISCARDED:
        return Answer("twice", "Gone already", held.code, "", link)
    if held.specimen.state is not State.STORED:
        return Answer(
            "ask", "Not in a store", held.code, "Throw it away on its page, with a reason.", link
        )
    due, unsaid = due_today([held], scene)
    if unsaid:
        return Answer("stop", "Not stored", held.code, unsaid[0], link)
    if not due:
        until = standing(held.stored(), scene.here.catalogue, scene.choices).keep_until
        sentence = (
            f"It is kept until {clock_words(until, scene.now)}: before that, throw it away on its"
            " page with a reason."
        )
        return Answer("ask", "Not yet", held.code, sentence, link)
    bench.specimens_discard(streams=[(held.code, due[0].stream.stream)], place=scene.place,
                            by=request.user, now=timezone.now())  # fmt: skip
    return Answer("good", "Thrown away", held.code, f"Into the {stream_words(due[0].stream)}.",
                  link)  # fmt: skip


@require_POST
@who_may(Role.BENCH)
def discard_group(request: DeskRequest) -> HttpResponse:
    """Throw away a whole group that is due: all of it or nothing."""
    scene = scene_at(request.place)
    codes = [code[:LONGEST] for code in request.POST.get("codes", "").split()][:MOST]
    held = hold(selectors_bench.specimens_of(codes), scene)
    here = [h for h in held.values() if h.specimen.site == scene.place.code
            and h.specimen.state is State.STORED]  # fmt: skip
    due, _ = due_today(here, scene)
    try:
        if not codes:
            raise InputError("Nothing is named")
        missing = sorted(set(codes) - {each.code for each in due})
        if missing:
            raise InputError(
                f"{missing[0]} is not due any more", mend="Nothing was thrown away: look again."
            )
        bench.specimens_discard(streams=[(each.code, each.stream.stream) for each in due],
                                place=scene.place, by=request.user, now=timezone.now())  # fmt: skip
    except (InputError, EventRefused) as refused:
        messages.error(request, str(refused), extra_tags="wrong")
    else:
        said_ = f"{words.counted(len(due), 'specimen')} into the {stream_words(due[0].stream)}."
        messages.success(request, said_, extra_tags="good")
    return redirect("bench-storage")
