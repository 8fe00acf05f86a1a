"""Addresses of the indicators."""

from __future__ import annotations

from django.urls import path

from cubital.desk.later import Later

ROOM = "cubital.desk.indicators"

urlpatterns = [
    path("indicators/", Later(f"{ROOM}.month:overview"), name="indicators"),
    path("indicators/report/", Later(f"{ROOM}.month:report_page"), name="indicators-report"),
    path("indicators/report.pdf", Later(f"{ROOM}.month:report_paper"), name="indicators-pdf"),
    path("indicators/chart/<str:code>.svg", Later(f"{ROOM}.month:chart"), name="indicators-chart"),
    path("indicators/haemolysis/", Later(f"{ROOM}.month:haemolysis"), name="indicators-haemolysis"),
    path("indicators/by/", Later(f"{ROOM}.groups:by_group"), name="indicators-by"),
    path("indicators/mine/", Later(f"{ROOM}.groups:mine"), name="indicators-mine"),
    path("indicators/make/", Later(f"{ROOM}.making:make"), name="indicators-make"),
    path("indicators/making/", Later(f"{ROOM}.making:progress"), name="indicators-making"),
]
