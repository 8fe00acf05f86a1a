"""An invented year or two of the Ostrel valley as rows of the lake, the same for the same seed."""

from __future__ import annotations

import functools
import random
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from cubital.indicators.rows import iso_week
from cubital.indicators.say import add_months
from cubital.indicators.values import DrawRow, LakeRows, LakeSite, SpecimenRow

SITES = (
    LakeSite("valley", "Ostrel valley laboratory"),
    LakeSite("pass", "Ostrel pass post"),
    LakeSite("mill", "Mill bridge clinic"),
)
LAST = 202603


def specimen(code: str, at: datetime, **more: object) -> SpecimenRow:
    """A serum tube that was received half an hour later and accepted."""
    received = at + timedelta(minutes=30)
    row = SpecimenRow(
        specimen=code, requisition=f"R-{code}", draw=f"D-{code}", site="valley",
        month=at.year * 100 + at.month, week=iso_week(at), day=at.date(), hour=at.hour,
        ward="ward-1", collector="mira", age_group="adult", material="blood",
        container="gel-3.5", additive="serum_gel", device="straight", gauge=21, body_site="",
        attempt=1, tourniquet_s=40, order_breach=False, anticoagulated=False, chemistry=True,
        collected_at=at, received_at=received, spun_at=received + timedelta(minutes=40),
        transport_s=1800, spin_wait_s=2400, fill="full", volume_ul=3500, needed_ul=800,
        verdict="accepted", reasons="", found="", recollected="", haemolysis_mg_l=None,
        not_received=False, request_first=True, request_found="", late_s=1,
    )  # fmt: skip
    return replace(row, **more)  # type: ignore[arg-type]


def drawn(code: str, at: datetime, **more: object) -> DrawRow:
    """A draw with one tube by the first needle."""
    row = DrawRow(
        draw=code, requisition=f"R-{code}", site="valley", month=at.year * 100 + at.month,
        week=iso_week(at), day=at.date(), hour=at.hour, ward="ward-1", collector="mira",
        age_group="adult", device="straight", gauge=21, ended=True, obtained=True, reason="",
        attempts=1, tourniquet_s=40, coagulation=False, tubes=1, order_breaches=0,
        planned_ul=3500, drawn_ul=3500, needed_ul=800, drawn_known_ul=3500, begun_at=at,
        ended_at=at + timedelta(minutes=4), late_s=1,
    )  # fmt: skip
    return replace(row, **more)  # type: ignore[arg-type]


@functools.cache
def years(
    *,
    seed: int = 1,
    months: int = 12,
    sizes: tuple[tuple[str, int], ...] = (("valley", 220), ("pass", 90), ("mill", 60)),
    haemolysed: float = 0.03,
    worse_from: int = 202602,
    worse: float = 0.09,
) -> LakeRows:
    """
    Months up to March 2026; haemolysis is commoner from ``worse_from`` on, and with a thin needle.
    """
    rng = random.Random(seed)
    specimens, draws = [], []
    for back in range(months - 1, -1, -1):
        month = add_months(LAST, -back)
        for site, size in sizes:
            for n in range(size):
                code = f"{site}-{month}-{n}"
                at = datetime(month // 100, month % 100, 1, tzinfo=UTC) + timedelta(
                    minutes=rng.randrange(27 * 24 * 60)
                )
                gauge = rng.choice((21, 21, 21, 23))
                chance = (worse if month >= worse_from else haemolysed) * (2 if gauge == 23 else 1)
                bad = rng.random() < chance
                way = int(rng.gammavariate(4, 600)) + (3600 if site == "pass" else 0)
                row = _marked(specimen(code, at, site=site, gauge=gauge, transport_s=way), bad, rng)
                specimens.append(row)
                tries = 1 + (rng.random() < 0.1) + (rng.random() < 0.02)
                draws.append(
                    drawn(code, at, site=site, gauge=gauge, attempts=tries,
                          tourniquet_s=rng.randrange(20, 75), tubes=rng.choice((1, 2, 3)),
                          order_breaches=int(rng.random() < 0.01))
                )  # fmt: skip
    return LakeRows(tuple(specimens), tuple(draws))


def _marked(row: SpecimenRow, bad: bool, rng: random.Random) -> SpecimenRow:
    words = ["haemolysed"] if bad else []
    if rng.random() < 0.004:
        words.append("volume-short")
    text = f";{';'.join(words)};" if words else ""
    return replace(
        row,
        attempt=1 + (rng.random() < 0.1),
        tourniquet_s=rng.randrange(20, 75),
        reasons=text,
        found=text,
        request_found=text,
        verdict="refused" if words else "accepted",
    )
