"""Views that are loaded when somebody asks for them."""

from __future__ import annotations

import subprocess
import sys

import pytest
from django.urls import get_resolver, reverse

from cubital.desk.later import Later
from cubital.desk.people import views


def test_a_view_is_the_one_at_its_place() -> None:
    """It answers for who may open it as the view itself does, and knows nothing else."""
    later = Later("cubital.desk.people.views:sign_in")
    assert later.view() is views.sign_in
    assert later.who_may == views.sign_in.who_may
    with pytest.raises(AttributeError):
        _ = later.view_class


def test_every_late_view_is_there() -> None:
    """No address names a view that does not exist."""
    late = [
        pattern.callback
        for resolver in get_resolver().url_patterns
        for pattern in getattr(resolver, "url_patterns", ())
        if isinstance(getattr(pattern, "callback", None), Later)
    ]
    assert late
    assert all(callable(view.view()) and view.who_may for view in late)


def test_the_desk_opens_without_statistics() -> None:
    """Loading every address, and finding one by name, loads no data frames and no charts."""
    script = (
        "import sys, cubital.desk.wsgi;"
        "from django.urls import reverse; reverse('indicators');"
        "print([m for m in ('ibis', 'pandas', 'matplotlib', 'scipy') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert done.stdout.strip() == "[]", done.stderr
    assert reverse("indicators") == "/indicators/"
