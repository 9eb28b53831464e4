"""The amount of an oil, colour or additive to measure out for a dose."""

from __future__ import annotations

from typing import Literal

from msgspec import Struct

from journal.errors import FigureError

# A mica as it is spooned, most of it air: loose 0.3 to 0.5, packed up to 33.2 lb/ft3 (0.53), as
# two makers of ground mica publish it. A range for what a mica costs, not for what it weighs.
LOOSE_MICA_G_ML = (0.30, 0.53)


class MeasuredDose(Struct, frozen=True):
    """The amount to measure out: mL, g, or both where the density is known."""

    volume_ml: float | None
    mass_g: float | None


def measure_dose(
    kind: Literal["mass", "volume", "share"],
    value: float,
    per: Literal["base", "bar", "pot"],
    per_g: float | None,
    base_g: float,
    bars: int,
    batch_bars: int,
    density_g_ml: float | None,
) -> MeasuredDose:
    """Volume and mass of a dose for one batch.

    Per base the dose is scaled by the layer's share of the melt; per bar by the
    bars; per pot by the bars over those that the recipe was written for.

    Takes:  kind, value  the amount of the dose: g, mL, or a mass share of base (0 to 1)
            per, per_g   what it is dosed into: ``per_g`` grams of base, a bar, or the pot
            base_g       the layer's share of the melt; grams; > 0
            bars         of this batch; batch_bars those of the recipe; >= 1
            density_g_ml of the oil or colour as it is measured; g/mL; > 0, or None
    Gives:  mL and g; None where the density is not known
    Fails:  FigureError if one lies outside its range
    Source: definition; 5 mL per lb into 8 oz is 2.5 mL: common practice, no source
    """
    if not base_g > 0 or bars < 1 or batch_bars < 1 or not value >= 0:
        raise FigureError(f"a dose of {value} into {base_g} g for {bars} of {batch_bars} bars")
    if density_g_ml is not None and not density_g_ml > 0:
        raise FigureError(f"a density of {density_g_ml} g/mL")
    if kind == "share":
        amount = value * base_g
    elif per == "base":
        if per_g is None or not per_g > 0:
            raise FigureError(f"a dose per {per_g} g of base")
        amount = value / per_g * base_g
    elif per == "bar":
        amount = value * bars
    else:
        amount = value / batch_bars * bars
    if kind == "volume":
        return MeasuredDose(amount, None if density_g_ml is None else amount * density_g_ml)
    return MeasuredDose(None if density_g_ml is None else amount / density_g_ml, amount)


def dose_strength(
    kind: Literal["mass", "volume", "share"],
    value: float,
    per: Literal["base", "bar", "pot"],
    per_g: float | None,
    density_g_ml: tuple[float, float] | None,
) -> float | None:
    """How strong a dose is, to put doses of one colourant in order.

    Takes:  as ``measure_dose``, the density as the shelf has it, from … to
    Gives:  grams to a gram of base, mL where the density is not known; None for a dose that does
            not go by base
    Fails:  as ``measure_dose``
    Source: definition
    """
    if kind != "share" and per != "base":
        return None
    density = None if density_g_ml is None else sum(density_g_ml) / 2
    amount = measure_dose(kind, value, per, per_g, 1.0, 1, 1, density)
    return amount.volume_ml if amount.mass_g is None else amount.mass_g
