"""The dew point of a room, and when a cold thing is out of its reach, by the Magnus formula.

Saturation over water is taken at every temperature; over ice, below 0 degrees C, it is less.
"""

from __future__ import annotations

import math

from journal.errors import FigureError

# Sonntag, Z. Meteorol. 70 (1990) 340; recommended by the WMO, Guide to Meteorological
# Instruments (WMO-No. 8), for -45 to 60 C.
MAGNUS_HPA = 6.112
MAGNUS_SLOPE = 17.62
MAGNUS_C = 243.12


def saturation_pressure(temperature_c: float) -> float:
    """The vapour pressure in hPa at which air over water is saturated.

    Takes:  temperature_c  degrees C; above -243.12, meant for -45 to 60; scalar
    Fails:  FigureError if the temperature is not finite or outside that
    Source: Magnus formula, Sonntag 1990
    Checked: the table of the CRC Handbook (tests/reference/14-vapour-pressure.csv)
    """
    if not (math.isfinite(temperature_c) and temperature_c > -MAGNUS_C):
        raise FigureError(f"no vapour pressure is known for {temperature_c} C")
    return MAGNUS_HPA * math.exp(MAGNUS_SLOPE * temperature_c / (MAGNUS_C + temperature_c))


def saturated_at(pressure_hpa: float) -> float:
    """The temperature in degrees C at which a vapour pressure saturates the air.

    The inverse of ``saturation_pressure``.

    Takes:  pressure_hpa  hPa; > 0; scalar
    Fails:  FigureError if the pressure is not above 0, or is above any that the formula has
    """
    if not pressure_hpa > 0:
        raise FigureError(f"a vapour pressure must be above 0 hPa, not {pressure_hpa}")
    log = math.log(pressure_hpa / MAGNUS_HPA)
    if log >= MAGNUS_SLOPE:
        raise FigureError(f"no air is saturated at {pressure_hpa} hPa")
    return MAGNUS_C * log / (MAGNUS_SLOPE - log)


def dew_point(room_c: float, humidity: float) -> float:
    """The temperature in degrees C at and below which the room's air leaves water on a thing.

    Takes:  room_c    degrees C; scalar
            humidity  relative, a share above 0, up to 1; scalar
    Fails:  FigureError if the humidity lies outside that
    Source: Magnus formula
    Checked: a published table of dew points (tests/reference/14-dew-point.csv), to 0.2 K
    """
    if not 0 < humidity <= 1:
        raise FigureError(f"a relative humidity is above 0 and at most 1, not {humidity}")
    return saturated_at(humidity * saturation_pressure(room_c))


def wet_above(room_c: float, surface_c: float) -> float:
    """The relative humidity of the room, a share, from which on water settles on a surface.

    It is 1 for a surface as warm as the room or warmer, on which none ever does.

    Takes:  room_c, surface_c  degrees C; scalars
    Source: Magnus formula; the inverse of ``dew_point``
    """
    if surface_c >= room_c:
        return 1.0
    return saturation_pressure(surface_c) / saturation_pressure(room_c)
