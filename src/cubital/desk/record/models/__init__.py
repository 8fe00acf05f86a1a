"""The models, one file a subject, gathered here."""

from __future__ import annotations

from cubital.desk.record.models.patients import Patient, PatientCondition, PatientDraw
from cubital.desk.record.models.people import Person, Role
from cubital.desk.record.models.places import Place
from cubital.desk.record.models.requisitions import (
    Accession,
    Counter,
    Requisition,
    RequisitionState,
    RequisitionTest,
)
from cubital.desk.record.models.stock import StockLot

__all__ = [
    "Accession",
    "Counter",
    "Patient",
    "PatientCondition",
    "PatientDraw",
    "Person",
    "Place",
    "Requisition",
    "RequisitionState",
    "RequisitionTest",
    "Role",
    "StockLot",
]
