"""A place whose own tables are broken gets one page that says so, whatever was asked for."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from cubital.errors import CatalogueError


class BrokenTablesMiddleware:
    """Turns a :class:`CatalogueError` of any view into a page with status 503."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass on."""
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        """Say what is wrong with the tables; leave every other error alone."""
        if not isinstance(error, CatalogueError):
            return None
        return render(request, "place/broken_tables.html", {"refused": str(error)}, status=503)
