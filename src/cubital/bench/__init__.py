"""From accepted specimens to portions on their shelves: clocks, centrifuge runs, aliquots."""

from __future__ import annotations

from cubital.bench.aliquots import Division, LeftOut, Portion, divide, expected_yield_ul
from cubital.bench.balance import can_balance, fits, is_even, seats
from cubital.bench.clocks import (
    SPUN_EARLY,
    STILL_CLOTTING,
    Clocks,
    all_clocks,
    clocks_of,
    still_clotting,
)
from cubital.bench.family import Kin, may_thaw, of_patient, thaws, tree_of, way_up
from cubital.bench.hand import add_from_hand, on_hand
from cubital.bench.programmes import (
    Beside,
    OnRotor,
    Spin,
    beside,
    on_rotor,
    programme_of,
    spin_of,
)
from cubital.bench.rcf import rcf_of, speed_of
from cubital.bench.runs import plan_runs, replan
from cubital.bench.storage import Standing, Stored, ToDiscard, discard_today, standing
from cubital.bench.values import (
    BenchSpecimen,
    Clock,
    Early,
    Machine,
    NotPlanned,
    PlannedRun,
    RunPlan,
    Seat,
)
from cubital.bench.worklist import Bar, Line, Segment, picture, worklist

__all__ = [
    "SPUN_EARLY",
    "STILL_CLOTTING",
    "Bar",
    "BenchSpecimen",
    "Beside",
    "Clock",
    "Clocks",
    "Division",
    "Early",
    "Kin",
    "LeftOut",
    "Line",
    "Machine",
    "NotPlanned",
    "OnRotor",
    "PlannedRun",
    "Portion",
    "RunPlan",
    "Seat",
    "Segment",
    "Spin",
    "Standing",
    "Stored",
    "ToDiscard",
    "add_from_hand",
    "all_clocks",
    "beside",
    "can_balance",
    "clocks_of",
    "discard_today",
    "divide",
    "expected_yield_ul",
    "fits",
    "is_even",
    "may_thaw",
    "of_patient",
    "on_hand",
    "on_rotor",
    "picture",
    "plan_runs",
    "programme_of",
    "rcf_of",
    "replan",
    "seats",
    "speed_of",
    "spin_of",
    "standing",
    "still_clotting",
    "thaws",
    "tree_of",
    "way_up",
    "worklist",
]
