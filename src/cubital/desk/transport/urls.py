"""Addresses of transport."""

from __future__ import annotations

from django.urls import path

from cubital.desk.transport import boxes, log, opening, packing

urlpatterns = [
    path("transport/", boxes.overview, name="transport"),
    path("transport/open/", boxes.find, name="transport-open"),
    path("transport/logs/<int:pk>/", log.page, name="transport-log"),
    path("transport/boxes/<str:code>/", boxes.page, name="transport-box"),
    path("transport/boxes/<str:code>/pack/", packing.pack, name="transport-pack"),
    path("transport/boxes/<str:code>/plan/", packing.plan, name="transport-plan"),
    path("transport/boxes/<str:code>/send/", packing.send, name="transport-send"),
    path("transport/boxes/<str:code>/open/", opening.open_box, name="transport-open-box"),
    path("transport/boxes/<str:code>/found/", opening.found, name="transport-found"),
    path("transport/boxes/<str:code>/missing/", opening.nothing_more, name="transport-missing"),
    path("transport/boxes/<str:code>/log/", log.upload, name="transport-upload"),
]
