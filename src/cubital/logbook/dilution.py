"""From stock to use strength: water parts, amounts, contact time, and when it is stale."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction

from cubital.catalogue import Catalogue
from cubital.catalogue.model_logbook import Disinfectant
from cubital.errors import InputError


@dataclass(frozen=True, slots=True)
class Dilution:
    """
    How to mix.

    Args:
        use: row of ``disinfectants.csv``.
        water_parts: parts of water for one part of stock.
        stock_ml, water_ml: for the volume asked for, to the millilitre, together that volume.
        strength_percent: of the mixture.
        ppm: of available chlorine (1 % = 10 000 ppm).
        stale_at: throw it away then.
    """

    use: Disinfectant
    water_parts: Fraction
    stock_ml: int
    water_ml: int
    strength_percent: float
    ppm: int
    stale_at: datetime

    @property
    def contact(self) -> tuple[timedelta, timedelta]:
        """How long it must stay, at least and at most named."""
        return (
            timedelta(minutes=self.use.contact_min),
            timedelta(minutes=self.use.contact_max_min),
        )


def dilute(
    catalogue: Catalogue, use: str, stock_percent: float, volume_ml: int, *, mixed_at: datetime
) -> Dilution:
    """
    Say how to mix a disinfectant: water parts = stock strength / use strength - 1.

    The stock is rounded up to the millilitre, so that the mixture is never weaker than wanted.

    Raises:
        InputError: no such use, a stock weaker than the use, or no volume.
    """
    row = next((r for r in catalogue.rows(Disinfectant) if r.use == use), None)
    if row is None:
        known = ", ".join(r.use for r in catalogue.rows(Disinfectant))
        raise InputError(f"There is no use {use!r}", mend=f"Choose one of {known}.")
    if not 0 < stock_percent <= 100:
        raise InputError(f"A stock of {stock_percent:g} % cannot be", mend="Read the bottle again.")
    if stock_percent < row.strength_percent:
        raise InputError(
            f"A stock of {stock_percent:g} % is weaker than the {row.strength_percent:g} % wanted",
            mend="Take a stronger stock.",
        )
    if not 0 < volume_ml <= 100_000:
        raise InputError(f"{volume_ml} mL cannot be mixed", mend="Write 1 to 100 000 mL.")
    stock = Fraction(str(stock_percent))
    wanted = Fraction(str(row.strength_percent))
    stock_ml = -(-volume_ml * wanted // stock)
    return Dilution(
        use=row,
        water_parts=stock / wanted - 1,
        stock_ml=int(stock_ml),
        water_ml=volume_ml - int(stock_ml),
        strength_percent=float(stock * stock_ml / volume_ml),
        ppm=round(float(wanted) * 10_000),
        stale_at=mixed_at + timedelta(hours=row.stale_after_h),
    )
