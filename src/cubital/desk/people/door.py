"""The door of the desk: a sign-in that slows down after wrong attempts, and begins a shift."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import wraps
from typing import Any

from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.shortcuts import render

from cubital.desk.people.knocking import doors, knock_at, know_device, right_at, wait_words
from cubital.desk.people.shift import begin_shift

View = Callable[..., HttpResponseBase]


def guarded(view: View) -> View:
    """Put patience before a sign-in view: count wrong attempts, begin a shift at a right one."""

    @wraps(view)
    def behind(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if request.method != "POST" or request.user.is_authenticated:
            return view(request, *args, **kwargs)
        who = f"person {request.POST.get('username', '').strip().casefold()}"
        tried = doors(request, who)
        wait = knock_at(tried)
        if wait:
            context = {"said": wait_words(wait)}
            slow = render(request, "people/slow_down.html", context, status=429)
            slow["Retry-After"] = str(math.ceil(wait.total_seconds()))
            return slow
        response = view(request, *args, **kwargs)
        if not request.user.is_authenticated:
            return response
        right_at(tried)
        badge = getattr(request.user, "badge", None)
        if badge is not None:
            right_at([f"badge {badge.code}", *doors(request, f"badge {badge.code}")])
        begin_shift(request)
        know_device(request, response)
        return response

    return behind
