"""Thermal properties of a base, and the usual ones where the shelf has none.

Every value is a range: a low end, the nominal value, a high end. The ends
determine the band of a bond window, so that a guess is not shown as certain.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from msgspec import Struct

from journal.errors import FigureError

if TYPE_CHECKING:
    from collections.abc import Callable


class PropertyRange(Struct, frozen=True):
    """A property with its range: low end, nominal value, high end."""

    low: float
    nominal: float
    high: float

    def __post_init__(self) -> None:
        if not all(map(math.isfinite, (self.low, self.nominal, self.high))):
            raise FigureError(f"a property must be finite, not {self}")
        if not self.low <= self.nominal <= self.high:
            raise FigureError(f"the ends of a property are out of order: {self}")


# --- How does a melt-and-pour base conduct, hold and give off heat? ---------------------------
# No published measurement of a melt-and-pour base was found. Density, heat capacity and
# conductivity are bounded by the mixture rules below with soap, glycerol, propylene glycol,
# sorbitol solution and water (tests/reference/04-mixture.csv recomputes them).
DENSITY_KG_M3 = PropertyRange(1010.0, 1060.0, 1120.0)
HEAT_CAPACITY_J_KGK = PropertyRange(2300.0, 2800.0, 3200.0)
THERMAL_CONDUCTIVITY_W_MK = PropertyRange(0.22, 0.30, 0.42)
# A gel-to-liquid step of 30-45 % soap: far below the 200 kJ/kg of the fatty acids themselves
# (Thermochim. Acta 369 (2001) 39). An estimate.
LATENT_HEAT_KJ_KG = PropertyRange(15.0, 50.0, 90.0)
# The melting range. Bounded by practice (no source): a base is still poured at 50 C, so it is
# mostly liquid there, and a set bar keeps its shape in a warm room at 40 C.
SOFTENS_C = PropertyRange(42.0, 46.0, 52.0)
MELTS_C = PropertyRange(50.0, 55.0, 63.0)


class SolidMaterial(Struct, frozen=True):
    """A material of the stack that does not melt."""

    density_kg_m3: float
    heat_capacity_j_kgk: float
    thermal_conductivity_w_mk: PropertyRange


# --- What are the mat, the mould and the bench made of? ----------------------------------------
# Silicone rubber. Conductivity 0.224-0.249 at 26 C by guarded heat-flow meter (ASTM E1530) and
# 0.27 at 240-300 K (Baudot, Mazuer & Odin, Cryogenics 38 (1998) 227), wider with fillers; density
# and heat capacity of mould grades from data sheets and the Polymer Data Handbook, from memory.
SILICONE = SolidMaterial(1150.0, 1300.0, PropertyRange(0.15, 0.25, 0.40))
# A wooden bench. Conductivity and heat capacity: OpenStax College Physics 2e Tables 14.3 and
# 14.1; density of pine, from memory.
WOOD = SolidMaterial(500.0, 1700.0, PropertyRange(0.08, 0.12, 0.16))
BENCH_MM = 20.0
# The wall under the cavity: thin tray to stout silicone; common practice, no source.
MOULD_WALL_MM = PropertyRange(0.5, 2.0, 3.0)
# A mould that stands on ribs, a tray's rim or a rack has air under it: about a millimetre of still
# air, of 0.026 W/mK, comes to this. Common practice, no source.
MOULD_GAP_M2K_W = 0.05
# --- How well does still air take heat from a warm face? ---------------------------------------
# Natural convection 3-8 and radiation 4 x 0.9 x sigma x T^3 = 5-7 W/m2K near 320 K together
# (Stefan-Boltzmann law; convection as in Incropera Table 1.1, from memory).
AIR_FILM_W_M2K = PropertyRange(7.0, 10.0, 15.0)


class BaseProperties(Struct, frozen=True):
    """Thermal properties of a base; ``assumed`` names those that the shelf does not state."""

    density_kg_m3: PropertyRange
    heat_capacity_j_kgk: PropertyRange
    thermal_conductivity_w_mk: PropertyRange
    latent_heat_kj_kg: PropertyRange
    softens_c: PropertyRange
    melts_c: PropertyRange
    sets_c: PropertyRange
    assumed: tuple[str, ...] = ()


def base_properties(
    *,
    density_g_ml: tuple[float, float] | None = None,
    heat_capacity_j_kgk: tuple[float, float] | None = None,
    thermal_conductivity_w_mk: tuple[float, float] | None = None,
    latent_heat_kj_kg: tuple[float, float] | None = None,
    softens_c: tuple[float, float] | None = None,
    sets_c: tuple[float, float] | None = None,
    melts_c: tuple[float, float] | None = None,
) -> BaseProperties:
    """The properties that a base's shelf record states, and the usual ones for the rest.

    A stated range has its middle as the nominal value. Of
    ``softens``, ``sets`` and ``melts`` one may stand in for another: a base is
    assumed to soften where it sets, and a missing end of the melting range lies
    the table's width away from the stated one.

    Takes:  each    (low, high) as stated, or None; g/mL, J/kgK, W/mK, kJ/kg, degrees C; scalars
    Gives:  BaseProperties; ``assumed`` lists what came from the table
    Fails:  FigureError if a range is out of order, not finite or not positive, or if the base
            would melt before it softens
    Source: the table above; the stand-ins are definitions
    """
    stated = {
        "density": density_g_ml,
        "heat_capacity": heat_capacity_j_kgk,
        "thermal_conductivity": thermal_conductivity_w_mk,
        "latent_heat": latent_heat_kj_kg,
        "softens": softens_c,
        "melts": melts_c,
    }
    softens, melts = _melting_range(softens_c or sets_c, melts_c)
    return BaseProperties(
        density_kg_m3=_stated_or_usual("density", density_g_ml, DENSITY_KG_M3, 1000.0),
        heat_capacity_j_kgk=_stated_or_usual(
            "heat capacity", heat_capacity_j_kgk, HEAT_CAPACITY_J_KGK
        ),
        thermal_conductivity_w_mk=_stated_or_usual(
            "thermal conductivity", thermal_conductivity_w_mk, THERMAL_CONDUCTIVITY_W_MK
        ),
        latent_heat_kj_kg=_stated_or_usual("latent heat", latent_heat_kj_kg, LATENT_HEAT_KJ_KG),
        softens_c=softens,
        melts_c=melts,
        sets_c=softens if sets_c is None else _range_about_middle(sets_c),
        assumed=tuple(
            name
            for name, value in stated.items()
            if value is None and not (name == "softens" and sets_c is not None)
        ),
    )


def blend(parts: tuple[tuple[float, BaseProperties], ...]) -> BaseProperties:
    """The properties of several bases that are melted together.

    Heat capacity, latent heat and the melting range are means by mass; volumes
    add up; conductivity is the geometric mean by mass, which lies between the
    series and the parallel mean.

    Takes:  parts  (share by mass, base); at least one; shares > 0, taken relative to their sum
    Gives:  BaseProperties
    Fails:  FigureError if there is no part or a share is not positive
    Source: mixture rules; the geometric mean for conductivity is common practice, no source
    Checked: tests/reference/04-mixture.csv
    """
    if not parts:
        raise FigureError("a blend needs at least one base")
    for share, _ in parts:
        if not (math.isfinite(share) and share > 0):
            raise FigureError(f"the share of a base must be above 0, not {share}")
    total = math.fsum(share for share, _ in parts)
    shares = tuple((share / total, base) for share, base in parts)

    def mean(of: Callable[[BaseProperties], PropertyRange]) -> PropertyRange:
        return _for_each_end(lambda end: math.fsum(x * end(of(base)) for x, base in shares))

    return BaseProperties(
        density_kg_m3=_for_each_end(
            lambda end: 1 / math.fsum(x / end(base.density_kg_m3) for x, base in shares)
        ),
        heat_capacity_j_kgk=mean(lambda base: base.heat_capacity_j_kgk),
        thermal_conductivity_w_mk=_for_each_end(
            lambda end: math.exp(
                math.fsum(x * math.log(end(base.thermal_conductivity_w_mk)) for x, base in shares)
            )
        ),
        latent_heat_kj_kg=mean(lambda base: base.latent_heat_kj_kg),
        softens_c=mean(lambda base: base.softens_c),
        melts_c=mean(lambda base: base.melts_c),
        sets_c=mean(lambda base: base.sets_c),
        assumed=tuple(dict.fromkeys(name for _, base in parts for name in base.assumed)),
    )


def heat_to_melt(
    mass_g: float,
    heat_capacity_j_kgk: float,
    latent_heat_kj_kg: float,
    start_c: float,
    end_c: float,
) -> float:
    """The heat needed to warm something and to melt all of it on the way.

    heat = mass x (heat capacity x warming + latent heat)

    Takes:  mass_g               >= 0
            heat_capacity_j_kgk  the same solid and molten; > 0
            latent_heat_kj_kg    >= 0
            start_c, end_c       degrees C; end_c not below start_c
    Gives:  kJ; what the pot itself and the air take is not in it
    Fails:  FigureError if an input lies outside its range
    Source: OpenStax College Physics 2e sec. 14.2 and 14.3
    Checked: 0.250 kg of water warmed by 60 K takes 62.8 kJ
    """
    values = (mass_g, heat_capacity_j_kgk, latent_heat_kj_kg, start_c, end_c)
    if not all(map(math.isfinite, values)) or min(mass_g, latent_heat_kj_kg) < 0:
        raise FigureError(f"no heat comes of {values}")
    if heat_capacity_j_kgk <= 0 or end_c < start_c:
        raise FigureError(f"nothing is warmed from {start_c:g} to {end_c:g} °C")
    return mass_g / 1000 * (heat_capacity_j_kgk / 1000 * (end_c - start_c) + latent_heat_kj_kg)


def _for_each_end(value: Callable[[Callable[[PropertyRange], float]], float]) -> PropertyRange:
    """Compute a range: ``value`` is called once for the low ends, nominal values, high ends.

    It gets a function that picks that end from any range.
    """
    low, nominal, high = (
        value(lambda span: span.low),
        value(lambda span: span.nominal),
        value(lambda span: span.high),
    )
    # Rounding may carry equal ends past one another by a unit in the last place.
    return PropertyRange(min(low, nominal), nominal, max(nominal, high))


def _range_about_middle(ends: tuple[float, float], factor: float = 1.0) -> PropertyRange:
    """A range from stated ends, each times ``factor``; the nominal value is its middle."""
    low, high = ends[0] * factor, ends[1] * factor
    return PropertyRange(low, (low + high) / 2, high)


def _stated_or_usual(
    what: str, ends: tuple[float, float] | None, default: PropertyRange, factor: float = 1.0
) -> PropertyRange:
    """A property as stated on the shelf, times ``factor``; its usual range if it is not stated.

    ``what`` names it in the message of the FigureError for a value not above 0.
    """
    if ends is None:
        return default
    if not ends[0] > 0:
        raise FigureError(f"the {what} of a base must be above 0, not {ends[0]}")
    return _range_about_middle(ends, factor)


def _melting_range(
    softens_c: tuple[float, float] | None, melts_c: tuple[float, float] | None
) -> tuple[PropertyRange, PropertyRange]:
    """Where a base softens and melts; a missing end lies the usual width from the other."""
    width = _for_each_end(lambda end: end(MELTS_C) - end(SOFTENS_C))
    if melts_c is None:
        softens = SOFTENS_C if softens_c is None else _range_about_middle(softens_c)
        return softens, _for_each_end(lambda end: end(softens) + end(width))
    melts = _range_about_middle(melts_c)
    if softens_c is None:
        narrow, usual, wide = width.low, width.nominal, width.high
        return PropertyRange(melts.low - wide, melts.nominal - usual, melts.high - narrow), melts
    softens = _range_about_middle(softens_c)
    if not (
        softens.low < melts.low and softens.nominal < melts.nominal and softens.high < melts.high
    ):
        raise FigureError(
            f"a base that softens at {softens.nominal} C cannot melt at {melts.nominal} C"
        )
    return softens, melts
