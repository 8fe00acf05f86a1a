"""Addresses of the draw plan."""

from __future__ import annotations

from django.urls import path

from cubital.desk.draw import views

urlpatterns = [
    path("requisitions/<path:number>/labels.pdf", views.labels, name="labels"),
    path("requisitions/<path:number>/short/", views.short, name="short"),
    path("requisitions/<path:number>/add-on/", views.add, name="add-on"),
    path("requisitions/<path:number>/answer/", views.answer, name="answer"),
    path("requisitions/<path:number>/answers/", views.answers, name="answers"),
    path("requisitions/<path:number>/sheet/", views.sheet, name="sheet"),
    path("requisitions/<path:number>/", views.plan, name="plan"),
]
