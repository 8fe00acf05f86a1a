"""Views whose modules take seconds to load, loaded when the first person asks for one."""

from __future__ import annotations

from importlib import import_module
from typing import Any

from django.http import HttpRequest, HttpResponse

KNOWN = ("who_may", "csrf_exempt")
"""What others ask of a view besides calling it."""


class Later:
    """
    A view by its place, ``module:name``.

    The desk opens without it: statistics and charts are a heavy load for a page that few open.
    """

    def __init__(self, place: str) -> None:
        self.module, _, self.__name__ = place.partition(":")
        self.__qualname__ = self.__name__
        self.__module__ = self.module

    def view(self) -> Any:
        """Load the view."""
        return getattr(import_module(self.module), self.__name__)

    def __call__(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """Load and call it."""
        response: HttpResponse = self.view()(request, *args, **kwargs)
        return response

    def __getattr__(self, name: str) -> Any:
        if name not in KNOWN:
            raise AttributeError(name)
        return getattr(self.view(), name)
