"""Addresses of the logbook and of waste."""

from __future__ import annotations

from django.urls import path

from cubital.desk.logbook import (
    dilution,
    due,
    entry,
    incident,
    log,
    waste,
    waste_mend,
    waste_tables,
)

urlpatterns = [
    path("logbook/", log.log, name="logbook"),
    path("logbook/day/", log.day_sheet, name="day-sheet"),
    path("logbook/needle-sticks/", log.sticks, name="stick-log"),
    path("logbook/follow-ups/", due.follow_ups, name="follow-ups"),
    path("logbook/follow-ups/done/", due.done, name="follow-up-done"),
    path("logbook/new/", incident.new, name="incident-new"),
    path("logbook/recorded/<str:code>/", incident.recorded, name="incident-recorded"),
    path("logbook/entry/<str:code>/", entry.page, name="log-entry"),
    path("logbook/entry/<str:code>/action/", entry.act, name="log-entry-action"),
    path("logbook/entry/<str:code>/form/", entry.form, name="incident-form"),
    path("waste/", waste.stands_here, name="waste"),
    path("waste/find/", waste.find, name="waste-find"),
    path("waste/open/", waste.open_new, name="waste-open"),
    path("waste/hand-over/", waste.hand_over, name="waste-hand-over"),
    path("waste/tables/", waste_tables.tables, name="waste-tables"),
    path("waste/disinfectant/", dilution.calculator, name="dilution"),
    path("waste/bag/<str:code>/", waste.bag, name="waste-bag"),
    path("waste/bag/<str:code>/step/", waste.step, name="waste-step"),
    path("waste/bag/<str:code>/correct/", waste_mend.correct, name="waste-correct"),
    path("waste/bag/<str:code>/label.pdf", waste.label, name="waste-label"),
]
