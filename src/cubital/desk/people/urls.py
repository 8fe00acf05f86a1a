"""Addresses of sign-in and people."""

from __future__ import annotations

from django.urls import path

from cubital.desk.people import badge, staff, views

urlpatterns = [
    path("sign-in/", views.sign_in, name="sign-in"),
    path("here/", views.here, name="here"),
    path("sign-out/", views.sign_out, name="sign-out"),
    path("work-at/", views.choose_place, name="choose-place"),
    path("people/", staff.staff, name="people"),
    path("people/<int:pk>/", staff.person, name="person"),
    path("people/<int:pk>/badge/", badge.give, name="badge"),
    path("switch/", badge.switch, name="switch"),
    path("lock/", badge.lock, name="lock"),
    path("locked/", badge.locked, name="locked"),
    path("pin/", badge.pin, name="pin"),
]
