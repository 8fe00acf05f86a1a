"""Addresses of the chair."""

from __future__ import annotations

from django.urls import path

from cubital.desk.chair import views

urlpatterns = [
    path("sw.js", views.worker, name="worker"),
    path("chair/", views.chair, name="chair"),
    path("chair/round/", views.load_round, name="chair-round"),
    path("chair/short/", views.short, name="chair-short"),
    path("chair/short/<slug:code>/", views.short_table, name="chair-short-table"),
    path("chair/labels/", views.labels, name="chair-labels"),
    path("chair/habits/", views.habits, name="chair-habits"),
]
