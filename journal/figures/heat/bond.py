"""The range of body pours that bond to the detail without melting it.

A model's estimate. The stack, from the bottom up: bench, wall of the mould,
mat, detail, body, air. First the detail alone cools on its mat through the
rests and the chill; then the hot body lies on what it has become. Heat goes
straight up and down (see ``conduction`` for what is left out), so the figures
are those of the middle of the face. The edges of a bar are cooler: there the
cool end is hopeful, since an interface only just softens late, after some 20
to 30 minutes; the hot end is decided earlier.

Bonded is taken to mean: the face of the detail stood in its melting range for
a stated time. Lost is taken to mean: more than a quarter of the detail was
liquid at one time or another.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from msgspec import Struct
from msgspec.structs import asdict

from journal.errors import FigureError
from journal.figures.common.arrays import Array
from journal.figures.heat import bond_stack
from journal.figures.heat.bond_case import BondCase
from journal.figures.heat.bond_stack import BondModel, PourCourse
from journal.figures.heat.conduction import contact_temperature, effusivity
from journal.figures.heat.root_finder import rising_zeros

# More of the detail liquid than this, and the relief is taken to be lost. Common practice, no
# source.
REMELT_AT_MOST = 0.25
# Pours outside this are not tried: cooler is below any base's melting range, hotter is
# where bases scorch.
COOLEST_POUR_C = 30.0
HOTTEST_POUR_C = 100.0
# Brackets are narrowed to this, then a straight line is drawn: good to 0.1 K (test_bond.py).
WINDOW_TOLERANCE_C = 0.9
# A melting range nearer to the air than this is not tried: a detail would take hours to set.
LEAST_OVER_AIR_K = 3.0


class CurvePoint(Struct, frozen=True):
    """One pour temperature of the chart and the model's results for it, all properties nominal.

    ``peak_interface_c`` is the warmest that the interface gets, ``softened_min`` how long it
    stands in its melting range, ``remelted_share`` the share of the detail that melts again.
    """

    pour_c: float
    peak_interface_c: float
    softened_min: float  # FOLLOWED_MIN where it lasts longer
    remelted_share: float


class BondOutcome(CurvePoint, frozen=True):
    """All results for one body pour, properties nominal; ``contact_c`` is at the first instant."""

    detail_c: float  # mean over the detail's depth, as the body reaches it
    contact_c: float
    interface_c: tuple[tuple[float, float], ...]  # (minutes since the pour, degrees C)


class BondWindow(Struct, frozen=True):
    """The coolest body pour that bonds and the hottest that keeps the detail, with their bands.

    An end is None where there is none from ``COOLEST_POUR_C`` to ``HOTTEST_POUR_C``. ``why`` is
    the reason, or says that no pour does both; else it is empty. ``detail_c`` is the detail's
    mean temperature as the body reaches it.
    """

    low_c: float | None
    high_c: float | None
    low_band_c: tuple[float, float] | None
    high_band_c: tuple[float, float] | None
    detail_c: float
    why: str


class BondSolution(Struct, frozen=True):
    """The results for one case: its window, the planned pour, and the chart."""

    window: BondWindow
    planned: BondOutcome
    curve: tuple[CurvePoint, ...]


def solve_bond(case: BondCase, planned_c: float, chart_c: tuple[float, ...]) -> BondSolution:
    """Solve the bond model of one case: its window, the planned pour, and the chart.

    The cool end of the window is the coolest pour for which the interface stands in the
    detail's melting range for ``hold_min`` minutes, and never cooler than the body softens;
    the hot end the hottest for which no more than a quarter of the detail is ever liquid.
    Each is bracketed on a grid of pours and then narrowed; all pours and all values of the
    properties are solved together.

    For the band of an end, one property at a time is moved to its low and its high value; the
    mould may also have air under it, be at the detail's temperature, or both. The
    shifts to one side are added as the root of the sum of their squares, since the properties
    are not all at their worst together.

    Takes:  case       the two pours and what they lie on
            planned_c  body pour temperature of the recipe; degrees C; finite
            chart_c    those of the chart; degrees C; finite; any number
    Gives:  the window, the planned pour and the chart, the last two with every property at its
            nominal value
    Fails:  FigureError if a temperature is not finite, or the detail never sets where a stay
            waits for it
    Source: conduction by the enthalpy method (``conduction``); sum of squares as in the Guide to
            the Expression of Uncertainty in Measurement (JCGM 100:2008) 5.1.2; estimate
    Checked: tests/figures/heat/test_bond.py, against an independent sketch
    """
    model = BondModel(case, _settings(case))
    window, course = _window(model, (planned_c, *chart_c))
    curve = tuple(_point(course, column, at_c) for column, at_c in enumerate(chart_c, start=1))
    return BondSolution(window, _outcome(model, course, 0, planned_c), curve)


def _point(course: PourCourse, column: int, pour_c: float) -> CurvePoint:
    """The point of the chart for pour number ``column`` of a course."""
    return CurvePoint(
        pour_c,
        float(course.interface_c[:, column].max()),
        float(course.softened_min[column]),
        float(course.remelted[column]),
    )


def _outcome(model: BondModel, course: PourCourse, column: int, pour_c: float) -> BondOutcome:
    """The full results of pour number ``column``, made onto the model's first setting."""
    setting = model.settings[0]
    surface_c = float(model.detail_start_c[0, -1])
    history = course.interface_c[:, column].tolist()
    return BondOutcome(
        **asdict(_point(course, column, pour_c)),
        detail_c=float(model.detail_mean_c()[0]),
        contact_c=contact_temperature(
            effusivity(setting.body), pour_c, effusivity(setting.detail), surface_c
        ),
        interface_c=tuple(zip((course.time_s / 60.0).tolist(), history, strict=True)),
    )


def _settings(case: BondCase) -> tuple[bond_stack.BondSetting, ...]:
    """The nominal setting, then those with one property at one of its ends, where they differ."""
    nominal = bond_stack.setting_of(case)
    ends = [bond_stack.setting_of(case, what, end) for what in bond_stack.VARIED for end in (-1, 1)]
    return (nominal, *(setting for setting in ends if setting != nominal))


def _window(model: BondModel, leading_c: tuple[float, ...]) -> tuple[BondWindow, PourCourse]:
    """The window of a model whose first setting is the nominal one, and the course of some pours.

    The pours at ``leading_c`` onto the nominal setting are solved together with the first
    round of the search for the window. They come first in the course that is returned.
    """
    settings = model.settings
    courses: list[PourCourse] = []

    def evaluate(chosen: Sequence[int], pours: Array) -> tuple[Array, Array]:
        leading = () if courses else leading_c
        course = model.pour([*([0] * len(leading)), *chosen], [*leading, *pours.tolist()])
        if not courses:
            courses.append(course)
        return course.held_over_k[len(leading) :], course.remelted[len(leading) :] - REMELT_AT_MOST

    bond_ends, hot_ends = rising_zeros(
        evaluate, len(settings), (COOLEST_POUR_C, HOTTEST_POUR_C), WINDOW_TOLERANCE_C
    )
    cool_ends = tuple(
        None if end is None else max(end, setting.body.softens_c or end)
        for end, setting in zip(bond_ends, settings, strict=True)
    )
    if hot_ends[0] == COOLEST_POUR_C:
        hot_ends = (None,)
        why = "the detail is still so soft that any pour remelts more than a quarter of it"
    else:
        why = _reason(cool_ends[0], hot_ends[0])
    window = BondWindow(
        low_c=cool_ends[0],
        high_c=hot_ends[0],
        low_band_c=_band(cool_ends),
        high_band_c=_band(hot_ends),
        detail_c=float(model.detail_mean_c()[0]),
        why=why,
    )
    return window, courses[0]


def matching_softens(case: BondCase, coolest_c: tuple[float, ...]) -> tuple[float | None, ...]:
    """The softening points that would make the model agree with pours that bonded.

    With such a ``softens`` the cool end of the model's window lies at the given pour. The
    melting ranges of detail and body are moved as a whole, their widths kept.

    Takes:  case       the two pours and what they lie on
            coolest_c  coolest pours that bond, as the studio's pours say; degrees C; any number
    Gives:  one temperature for each, in degrees C; None where no ``softens`` between the room
            and that pour agrees
    Fails:  FigureError if a temperature is not finite
    Source: ``solve_bond`` turned round
    """
    import numpy as np

    for value in coolest_c:
        if not math.isfinite(value):
            raise FigureError(f"a pour temperature must be finite, not {value}")
    nominal = bond_stack.setting_of(case)
    softens_c = nominal.detail.softens_c or 0.0
    # The detail must still be able to set where it is waited for.
    airs_c = [case.room_c, *(stay.air_c for stay in case.stays if stay.minutes is None)]
    lowest_c = max(airs_c) + LEAST_OVER_AIR_K + max(softens_c - nominal.sets_c, 0.0)
    if not coolest_c or lowest_c >= max(coolest_c):
        return (None,) * len(coolest_c)

    def evaluate(chosen: Sequence[int], cooling: Array) -> tuple[Array]:
        # ``cooling`` is -softens, so that the signal rises with it.
        settings = tuple(bond_stack.shifted(nominal, -float(at) - softens_c) for at in cooling)
        pours = np.array([coolest_c[row] for row in chosen])
        course = BondModel(case, settings).pour(range(len(settings)), pours)
        body_softens = np.array([setting.body.softens_c for setting in settings])
        return (np.minimum(course.held_over_k, pours - body_softens),)

    roots = rising_zeros(
        evaluate, len(coolest_c), (-max(coolest_c), -lowest_c), WINDOW_TOLERANCE_C
    )[0]
    return tuple(None if at is None else -at for at in roots)


def _band(ends: Sequence[float | None]) -> tuple[float, float] | None:
    """The band about an end of the window, given for each setting; None if the first has none."""
    centre = ends[0]
    if centre is None:
        return None
    shifts = [(HOTTEST_POUR_C if end is None else end) - centre for end in ends[1:]]
    down = math.sqrt(math.fsum(shift * shift for shift in shifts if shift < 0))
    up = math.sqrt(math.fsum(shift * shift for shift in shifts if shift > 0))
    return centre - down, min(centre + up, HOTTEST_POUR_C)


def _reason(low_c: float | None, high_c: float | None) -> str:
    """The reason that an end of the window is missing, or that there is no window; else empty."""
    if low_c is None:
        return f"no pour up to {HOTTEST_POUR_C:.0f} C softens the detail's face for long enough"
    if high_c is None:
        return f"no pour up to {HOTTEST_POUR_C:.0f} C remelts a quarter of the detail"
    if low_c > high_c:
        return "a pour hot enough to bond remelts more than a quarter of the detail"
    return ""
