"""Addresses of the indicators."""

from __future__ import annotations

from django.urls import path

from cubital.desk.indicators import groups, making, month

urlpatterns = [
    path("indicators/", month.overview, name="indicators"),
    path("indicators/report/", month.report_page, name="indicators-report"),
    path("indicators/report.pdf", month.report_paper, name="indicators-pdf"),
    path("indicators/chart/<str:code>.svg", month.chart, name="indicators-chart"),
    path("indicators/haemolysis/", month.haemolysis, name="indicators-haemolysis"),
    path("indicators/by/", groups.by_group, name="indicators-by"),
    path("indicators/mine/", groups.mine, name="indicators-mine"),
    path("indicators/make/", making.make, name="indicators-make"),
    path("indicators/making/", making.progress, name="indicators-making"),
]
