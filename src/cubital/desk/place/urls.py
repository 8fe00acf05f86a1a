"""Addresses of a place and its stock."""

from __future__ import annotations

from django.urls import path

from cubital.desk.place import views

urlpatterns = [
    path("place/", views.policy, name="place"),
    path("place/new/", views.new_place, name="place-new"),
    path("stock/", views.lots, name="stock"),
    path("stock/<int:pk>/", views.lot_change, name="stock-change"),
]
