"""A body poured over a detail: the input of the bond model."""

from __future__ import annotations

import math

from msgspec import Struct

from journal.errors import FigureError
from journal.figures.recipe import base_properties
from journal.figures.recipe.base_properties import BaseProperties, PropertyRange, SolidMaterial

# The interface must stand in its melting range this long for a bond. Common practice has no
# figure. Under a detail at room warmth or chilled anything from 0.1 to 5 min gives the same cool
# end to 0.1 K, because an interface that softens at all stays soft for long; on a detail that has
# only just set, half a minute and 5 min lie 3-4 K apart (test_bond.py).
HOLD_MIN = 1.0
# How long a bar is followed after its pour; a longer softening is given as this much.
FOLLOWED_MIN = 60.0


class DetailStay(Struct, frozen=True):
    """A wait of the detail in air of one temperature; without ``minutes`` until it has just set."""

    minutes: float | None
    air_c: float

    def __post_init__(self) -> None:
        if self.minutes is not None and not (math.isfinite(self.minutes) and self.minutes > 0):
            raise FigureError(f"a wait must be longer than 0 min, not {self.minutes}")
        if not math.isfinite(self.air_c):
            raise FigureError(f"an air temperature must be finite, not {self.air_c}")


class BondCase(Struct, frozen=True):
    """A body poured over a detail: everything that the bond model needs.

    ``detail_c`` is the detail's measured temperature as the body is poured; without
    it the model works it out from ``detail_pour_c`` and the waits in ``stays``, in
    their order. A thickness of 0 leaves the mat or the mould out.
    """

    detail: BaseProperties
    body: BaseProperties
    detail_mm: float
    body_mm: float
    mat_mm: float
    room_c: float
    detail_pour_c: float | None = None
    stays: tuple[DetailStay, ...] = ()
    detail_c: float | None = None
    mould_mm: PropertyRange = base_properties.MOULD_WALL_MM
    mat_material: SolidMaterial = base_properties.SILICONE
    mould_material: SolidMaterial = base_properties.SILICONE
    bench_material: SolidMaterial = base_properties.WOOD
    bench_mm: float = base_properties.BENCH_MM
    air_film_w_m2k: PropertyRange = base_properties.AIR_FILM_W_M2K
    hold_min: float = HOLD_MIN

    def __post_init__(self) -> None:
        for what in ("detail_mm", "body_mm", "bench_mm", "hold_min"):
            value = getattr(self, what)
            if not (math.isfinite(value) and value > 0):
                raise FigureError(f"{what} must be above 0, not {value}")
        if not (math.isfinite(self.mat_mm) and self.mat_mm >= 0):
            raise FigureError(f"mat_mm must be 0 or above, not {self.mat_mm}")
        if self.mould_mm.low < 0 or self.air_film_w_m2k.low <= 0:
            raise FigureError("the wall of the mould and the air film must be above 0")
        if self.hold_min >= FOLLOWED_MIN:
            raise FigureError(f"a bar is followed for {FOLLOWED_MIN} min, not {self.hold_min}")
        if self.detail_c is None and self.detail_pour_c is None:
            raise FigureError("the detail's temperature or its pour must be known")
        for what in ("room_c", "detail_pour_c", "detail_c"):
            value = getattr(self, what)
            if value is not None and not math.isfinite(value):
                raise FigureError(f"{what} must be finite, not {value}")
