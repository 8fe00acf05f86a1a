"""A tube that still clots, loaded all the same: a named person decides, and it stays beside it."""

from __future__ import annotations

import json
import re
from collections.abc import Callable

import pytest
from django.test import Client

from cubital.desk.record.models import Event, SpecimenNow
from tests.desk.bench import accepted, minutes, noon
from tests.desk.test_bench_board import HX, text
from tests.desk.test_bench_runs import begin, load
from tests.desk.way import requisition

WHY = "The theatre waits for the potassium."


@pytest.fixture
def bench(signed_in: Callable[[str], Client]) -> Client:
    """Somebody at the bench of the valley's laboratory."""
    noon()
    return signed_in("bench")


@pytest.fixture
def clots(bench: Client) -> str:
    """A serum tube, drawn twelve minutes ago."""
    (code,) = accepted(requisition(2), ("gel-5", ["potassium"]), ago=minutes(12))
    return code


def decide(client: Client, *codes: str, **more: str) -> object:
    """Let these be spun now."""
    said = {"tubes": " ".join(codes), "decided_by": "sade", "why": WHY, **more}
    return client.post("/bench/load/big/early/", said)


def test_a_clotting_tube_is_asked_about_and_not_loaded(bench: Client, clots: str) -> None:
    """The page says until when it stands and offers a decision; the run cannot begin yet."""
    page = load(bench, clots)
    assert page.context["run"] is None
    assert re.search(r"must stand until \d\d:\d\d to clot", text(page))
    assert "Who decides" in text(page)
    refused = begin(bench, clots)
    assert refused.status_code == 422
    assert SpecimenNow.objects.get(code=clots).state == "accepted"


def test_a_scan_of_it_stands_out_with_the_way_to_decide(bench: Client, clots: str) -> None:
    """It is not on the run, and the line leads to the page where somebody decides."""
    answer = bench.post("/bench/load/big/scan/", {"tubes": "", "text": clots}, headers=HX)
    said = answer.content.decode()
    assert 'data-kind="ask"' in said
    assert 'data-list="look"' in said
    assert f'href="/bench/load/big/?tubes={clots}"' in said
    assert "Decide" in said
    plain = bench.post("/bench/load/big/scan/", {"tubes": "", "text": clots})
    assert plain.url == f"/bench/load/big/?tubes={clots}"


def test_a_named_person_decides_and_it_runs(bench: Client, clots: str) -> None:
    """Who, and why, are an event; the run begins at once; the tube keeps the finding."""
    assert decide(bench, clots).url == f"/bench/load/big/?tubes={clots}"
    event = Event.objects.get(kind="override_given", subject=f"specimen:{clots}")
    said = {"finding": "still-clotting", "reason": WHY, "decided_by": "sade"}
    assert json.loads(event.payload) == said
    assert event.who == "joren"
    page = load(bench, clots)
    assert page.context["run"] is not None
    assert "Sade Ellun decided at" in text(page)
    assert begin(bench, clots).url == "/bench/runs/"
    assert SpecimenNow.objects.get(code=clots).state == "spinning"
    own = text(bench.get(f"/bench/specimens/{clots}/"))
    assert WHY in own
    assert "before it had clotted" in own
    assert "decided by Sade Ellun" in own


def test_the_plan_takes_the_decision_up(bench: Client, clots: str) -> None:
    """Planned for later before, for now afterwards."""
    (before,) = bench.get("/bench/runs/").context["runs"]
    assert before.left != "now"
    decide(bench, clots)
    (after,) = bench.get("/bench/runs/").context["runs"]
    assert after.left == "now"


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({"why": " "}, "Why are they spun before they have clotted"),
        ({"decided_by": "nobody"}, "Nobody of that name may decide here"),
    ],
)
def test_nobody_decides_without_a_name_and_a_reason(
    bench: Client, clots: str, said: dict[str, str], sentence: str
) -> None:
    """Nothing is stored, what was typed stays."""
    refused = decide(bench, clots, **said)
    assert refused.status_code == 422
    assert sentence in text(refused)
    if "why" not in said:
        assert WHY in refused.content.decode()
    assert not Event.objects.filter(kind="override_given").exists()


def test_a_decision_sent_twice_is_one(bench: Client, clots: str) -> None:
    """The second time nothing clots any more, and the page says so."""
    decide(bench, clots)
    again = decide(bench, clots)
    assert again.status_code == 422
    assert "None of these clots any more" in text(again)
    assert Event.objects.filter(kind="override_given").count() == 1


def test_only_the_bench_decides(signed_in: Callable[[str], Client], clots: str) -> None:
    """Somebody who only looks sees no form, and is refused."""
    quality = signed_in("quality")
    assert "Who decides" not in text(load(quality, clots))
    assert decide(quality, clots).status_code == 403
