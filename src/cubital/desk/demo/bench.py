"""
The bench of the invented clinic: its centrifuges and shelves, and what stands there this morning.

The rotors are invented; no maker's plate says these numbers.
"""

from __future__ import annotations

from typing import Any

from cubital.catalogue import shipped
from cubital.catalogue.model_bench import StorageKind
from cubital.desk.record import selectors_bench
from cubital.desk.record.bench_place import centrifuge_add, shelf_add
from cubital.desk.record.models import Place

MACHINES: dict[str, tuple[dict[str, Any], ...]] = {
    "ostrel-valley": (
        {
            "code": "big", "name": "Valley swing-out, 24 places", "places": 24, "radius_mm": 170,
            "swing": True, "cooled": True, "lowest_rpm": 300, "highest_rpm": 4500, "step_rpm": 10,
            "run_up_s": 40, "brake_s": 60,
        },
        {
            "code": "small", "name": "Valley fixed-angle, 12 places", "places": 12,
            "radius_mm": 98, "swing": False, "lowest_rpm": 500, "highest_rpm": 6000,
            "step_rpm": 100, "run_up_s": 20, "brake_s": 30,
        },
    ),
    "ostrel-pass": (
        {
            "code": "pass-8", "name": "Pass post swing-out, 8 places", "places": 8,
            "radius_mm": 135, "swing": True, "lowest_rpm": 300, "highest_rpm": 4000,
            "step_rpm": 50, "run_up_s": 30, "brake_s": 45,
        },
    ),
}  # fmt: skip
SHELVES = {
    "ostrel-valley": (
        ("RK-1", "Rack 1, at the window", "rack"),
        ("FR-A", "Fridge, shelf A", "refrigerator"),
        ("FR-B", "Fridge, shelf B", "refrigerator"),
        ("FZ-1", "Freezer, drawer 1", "freezer"),
        ("DF-1", "Deep freezer, box 1", "deep_freezer"),
    ),
    "ostrel-pass": (("RK-P", "Rack at the pass", "rack"), ("FR-P", "Small fridge", "refrigerator")),
}


def bench_furnish(place: Place) -> None:
    """Put the place's centrifuges and shelves on its lists, where there are none."""
    if not selectors_bench.centrifuges(place).exists():
        for facts in MACHINES.get(place.code, ()):
            centrifuge_add(place=place, **facts)
    if not selectors_bench.shelves(place).exists():
        kinds = {row.code for row in shipped().rows(StorageKind)}
        for code, name, kind in SHELVES.get(place.code, ()):
            shelf_add(place=place, code=code, name=name, kind=kind, kinds=kinds)
