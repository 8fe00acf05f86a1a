"""Addresses of requisitions and patients."""

from __future__ import annotations

from django.urls import path

from cubital.desk.requisition import day, new, one, patients, pieces

urlpatterns = [
    path("", day.day, name="day"),
    path("find/", day.find, name="find"),
    path("new/", new.new, name="requisition-new"),
    path("new/search/", pieces.search, name="requisition-new-search"),
    path("new/patients/", pieces.patients, name="requisition-new-patients"),
    path("new/patient/", pieces.patient, name="requisition-new-patient"),
    path("new/condition/", pieces.condition, name="requisition-new-condition"),
    path("new/tests/", pieces.tests, name="requisition-new-tests"),
    path("new/take/", pieces.take, name="requisition-new-take"),
    path("new/asks/", pieces.asked, name="requisition-new-asks"),
    path("from-file/", one.from_file, name="requisition-file"),
    path("requisitions/<path:number>/cancel/", one.cancel, name="requisition-cancel"),
    path("patients/", patients.search, name="patients"),
    path("patients/<path:number>/change/", patients.change, name="patient-change"),
    path("patients/<path:number>/", patients.patient, name="patient"),
]
