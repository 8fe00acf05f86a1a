"""Addresses of the catalogue."""

from __future__ import annotations

from django.urls import path

from cubital.desk.catalogue import views

urlpatterns = [
    path("", views.index, name="catalogue"),
    path("sources/", views.sources, name="sources"),
    path("<slug:code>/", views.entry, name="catalogue-entry"),
]
