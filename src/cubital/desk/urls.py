"""Every address of the desk, room by room."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, include, path

from cubital.desk.api.main import urls as api_urls

urlpatterns: list[URLPattern | URLResolver] = [
    path("api/", api_urls),  # first: every scan comes here
    path("", include("cubital.desk.people.urls")),
    path("", include("cubital.desk.requisition.urls")),
    path("", include("cubital.desk.draw.urls")),
    path("", include("cubital.desk.chair.urls")),
    path("", include("cubital.desk.transport.urls")),
    path("", include("cubital.desk.reception.urls")),
    path("", include("cubital.desk.bench.urls")),
    path("", include("cubital.desk.place.urls")),
    path("", include("cubital.desk.logbook.urls")),
    path("", include("cubital.desk.indicators.urls")),
    path("catalogue/", include("cubital.desk.catalogue.urls")),
]

handler403 = "cubital.desk.people.views.forbidden"
handler404 = "cubital.desk.people.views.not_found"
handler500 = "cubital.desk.people.views.broken"
