"""The rows that the bench reads: centrifuges, spin programmes, aliquots, storage, waste."""

from __future__ import annotations

from dataclasses import dataclass

from cubital.catalogue.row import Row


@dataclass(frozen=True, slots=True, kw_only=True)
class Centrifuge(Row):
    """
    A laboratory's own machine with its rotor; the shipped table is empty.

    ``radius_mm`` is the largest: from the axis to the bottom of a tube, buckets swung out.  The
    places are taken to stand evenly on one circle.
    """

    FILE = "centrifuges.csv"
    KEY = ("code",)
    code: str
    name: str
    places: int
    radius_mm: int
    swing: bool  # the buckets swing out; "no" is a fixed-angle rotor
    cooled: bool = False  # holds the cold band
    warmed: bool = False  # holds the warm band
    lowest_rpm: int = 0
    highest_rpm: int
    step_rpm: int = 1  # the speed is set in such steps
    run_up_s: int = 0
    brake_s: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class SpinProgramme(Row):
    """
    How a kind of specimen is spun: in g, or as a speed alone, which says nothing without a rotor.

    Programmes of one ``family`` may share a run; others never do.
    """

    FILE = "spin_programmes.csv"
    KEY = ("code", "choice")
    code: str
    choice: str = ""
    name: str
    family: str
    rcf_g: int = 0  # 0: given as a speed alone
    speed_rpm: int = 0  # 0: given in g
    minutes: int
    fixed_angle_minutes: int = 0  # in a fixed-angle rotor; 0: the same
    temperature: str  # room, cold, warm
    swing_only: bool = False
    stand_min: int = 0  # how long it stands first
    spin_within_min: int = 0  # of the draw, spun by then; 0: only the test's own limit
    sentence: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SpinUse(Row):
    """
    Which programme a blood specimen gets.

    By its additive, or more narrowly by a handling need or the bench of a test in it; the
    narrowest row holds.  ``never`` is no programme: it is not spun.
    """

    FILE = "spin_uses.csv"
    KEY = ("additive", "need", "bench")
    additive: str
    need: str = ""
    bench: str = ""
    programme: str  # code, or never
    gel: bool = False  # a barrier that must not be spun a second time


@dataclass(frozen=True, slots=True, kw_only=True)
class AliquotRank(Row):
    """Which tests get their portion first when there is not enough for all."""

    FILE = "aliquot_ranks.csv"
    KEY = ("code",)
    code: str  # labile, must, rest
    rank: int
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StorageKind(Row):
    """A kind of place where specimens stand."""

    FILE = "storage_kinds.csv"
    KEY = ("code",)
    code: str  # rack, refrigerator, freezer, deep_freezer
    name: str
    condition: str  # of stability.csv: room, fridge, frozen
    low_c: float
    high_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Retention(Row):
    """How long a specimen is kept after its last test, where, and where it goes then."""

    FILE = "retentions.csv"
    KEY = ("material", "matrix")
    material: str  # of materials.csv
    matrix: str = ""  # serum, plasma, whole_blood, broth, or "" for any
    days: int
    storage: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Discard(Row):
    """Which stream of a waste scheme takes specimens of a material with their containers."""

    FILE = "discards.csv"
    KEY = ("scheme", "material", "matrix")
    scheme: str  # of waste_streams.csv
    material: str  # of materials.csv
    matrix: str = ""  # serum, plasma, whole_blood, broth, or "" for any
    stream: str  # of the scheme


BENCH_ROWS: tuple[type[Row], ...] = (
    Centrifuge, SpinProgramme, SpinUse, AliquotRank, StorageKind, Retention, Discard,
)  # fmt: skip

LABORATORY_OWN: tuple[type[Row], ...] = (Centrifuge,)
"""Tables that only a laboratory fills: the shipped file holds a header alone."""
