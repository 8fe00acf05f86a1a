"""The models, one file a subject, gathered here."""

from __future__ import annotations

from cubital.desk.record.models.badges import Badge, Knock
from cubital.desk.record.models.bench import BoxExpected, Centrifuge, Shelf
from cubital.desk.record.models.chair import (
    ChairSheet,
    DrawEffect,
    DrawFinding,
    Habit,
    LotUse,
)
from cubital.desk.record.models.events import (
    AttemptNow,
    BoxNow,
    ChainHead,
    DrawNow,
    Event,
    IncidentNow,
    RefusedEvent,
    SpecimenNow,
    SpinNow,
    Touch,
)
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
from cubital.desk.record.models.waste import WasteNow
from cubital.desk.record.models.way import (
    BoxFound,
    BoxLog,
    BoxPlan,
    LogFlight,
    LogReading,
    Looked,
    Stranger,
)

__all__ = [
    "Accession",
    "AttemptNow",
    "Badge",
    "BoxExpected",
    "BoxFound",
    "BoxLog",
    "BoxNow",
    "BoxPlan",
    "Centrifuge",
    "ChainHead",
    "ChairSheet",
    "Counter",
    "DrawEffect",
    "DrawFinding",
    "DrawNow",
    "Event",
    "Habit",
    "IncidentNow",
    "Knock",
    "LogFlight",
    "LogReading",
    "Looked",
    "LotUse",
    "Patient",
    "PatientCondition",
    "PatientDraw",
    "Person",
    "Place",
    "RefusedEvent",
    "Requisition",
    "RequisitionState",
    "RequisitionTest",
    "Role",
    "Shelf",
    "SpecimenNow",
    "SpinNow",
    "StockLot",
    "Stranger",
    "Touch",
    "WasteNow",
]
