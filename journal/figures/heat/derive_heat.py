"""The figures of heat of a recipe: cooling pots, the bond of two pours, bleed, heat to melt."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from msgspec import Struct
from msgspec.structs import asdict

from journal.errors import FigureError, Position
from journal.figures.colour.bleed import HORIZONS_DAY, BleedGrowth, MeasuredWidth, bleed_growth
from journal.figures.common.as_json_numbers import number, numbers_or_none
from journal.figures.common.derive_context import RecipeContext
from journal.figures.common.memo import Memo
from journal.figures.common.result import FigureBuilder
from journal.figures.common.spec import FigureSpec, TableRow, TableSpec
from journal.figures.heat import cooling
from journal.figures.heat.bond import BondSolution, BondWindow, matching_softens, solve_bond
from journal.figures.heat.bond_case import BondCase, DetailStay
from journal.figures.heat.cooling import TemperatureWindow, WindowTimes
from journal.figures.heat.pauses import fit_runs
from journal.figures.heat.pot_rates import PotRate, RateLine, forecast_rate
from journal.figures.recipe import base_properties
from journal.figures.recipe.base_properties import BaseProperties
from journal.figures.recipe.derive_fill import face_area
from journal.figures.recipe.derive_layers import (
    RecipeMasses,
    adding_window,
    layer_bases,
    recipe_masses,
)
from journal.quantities.units import f_to_c
from journal.records.models.readings import mark_of
from journal.records.models.settings import Settings
from journal.records.models.shelf import Base, Shelf
from journal.records.models.then import read_steps
from journal.records.models.write_up import Bar, Design, Layer, Pour, Reading

# Where the settings name no room or chiller. Common practice, no source.
USUAL_ROOM_C = 21.0
USUAL_CHILL_C = 4.0
# Pour temperatures of the chart: every 2 F from 104 to 194 F.
CHART_POURS_C = tuple(f_to_c(float(f)) for f in range(104, 196, 2))


class CoolingRun(Struct, frozen=True):
    """One run of readings of one pot, its fit, and when it was in each window of the recipe."""

    pour: str
    pot: str
    run: cooling.CoolingReadings
    fit: cooling.CoolingFit
    windows: tuple[tuple[str, TemperatureWindow, WindowTimes | None], ...]
    mass_g: float | None
    mass_written: bool  # False: what the recipe melts
    at: Position


class PotRun(PotRate, frozen=True):
    """A run's mass and cooling rate with its pour and pot; ``room_c`` was read or fitted."""

    pour: str
    pot: str
    room_c: float


class ForecastCase(Struct, frozen=True):
    """The recipe's last pot: its mass, and the temperatures between which it is to cool."""

    pot: str
    mass_g: float
    room_c: float
    start_c: float
    target_c: float


class PotForecast(ForecastCase, frozen=True):
    """The minutes that a pot would take to cool, with their 95 % interval if there is one."""

    minutes: float
    interval_min: tuple[float, float] | None


class PouredBars(Struct, frozen=True):
    """Bars of a pour and body temperature, by whether their detail held or lifted (``lost``)."""

    pour: str
    body_c: float
    held: int
    lost: int
    unrecorded: int


class BondFigures(BondSolution, frozen=True, kw_only=True):
    """The bond model's results for a recipe, beside the studio's own bars.

    ``planned`` is at the middle of the recipe's pour window. ``agrees_at_c`` is the
    ``softens`` for which the model's cool end would lie at the coolest pour that
    held; None unless that pour is cooler than the model allows.
    """

    case: BondCase
    body_layer: str
    poured_bars: tuple[PouredBars, ...]
    agrees_at_c: float | None
    assumed: tuple[str, ...]  # properties that came from the table, not from the shelf

    @property
    def contradicted(self) -> bool:
        """Whether pours of the studio disagree with the model by more than its band.

        Bars held cooler than the low end's band or hotter than the high end's, or they lost
        their detail where the whole of both bands says that it holds.
        """
        low, high = self.window.low_band_c, self.window.high_band_c
        held = [one.body_c for one in self.poured_bars if one.held and not one.lost]
        lost = [one.body_c for one in self.poured_bars if one.lost]
        return (
            (low is not None and any(at_c < low[0] for at_c in held))
            or (high is not None and any(at_c > high[1] for at_c in held))
            or (
                low is not None
                and high is not None
                and any(low[1] <= at_c <= high[0] for at_c in lost)
            )
        )


class PotHeat(Struct, frozen=True):
    """The heat needed to bring a pot from the room to the hot end of its pour window."""

    pot: str
    mass_g: float
    start_c: float
    end_c: float
    heat_kj: float

    @property
    def heat_wh(self) -> float:
        """The heat in watt-hours, as an electric hob counts it."""
        return self.heat_kj / 3.6


class BarBleed(Struct, frozen=True):
    """The growth of one bar's bleed, as measured by ruler or in photos."""

    bar: str
    variant: str
    growth: BleedGrowth


def usual_room(settings: Settings) -> float:
    """Room temperature of the settings, or the usual one, in degrees C."""
    return USUAL_ROOM_C if settings.room is None else settings.room


def pot_windows(
    shelf: Shelf, design: Design, pot: str
) -> tuple[tuple[str, TemperatureWindow], ...]:
    """The temperature windows of a recipe for a pot: "fragrance" and "pour".

    An oil of which only the hottest is known goes in down to the coolest pour.
    """
    layers = [layer for layer in design.recipe.layers if layer.pot_name == pot]
    windows: list[tuple[str, TemperatureWindow]] = []
    # A pot poured twice is followed to its last pour.
    pours = [layer.pour for layer in layers if layer.pour is not None]
    adds = (adding_window(shelf, oil) for layer in layers for oil in layer.fragrance)
    for low_c, high_c in adds:
        if low_c is None and pours:
            low_c = pours[-1][0]
        if low_c is not None and high_c is not None and low_c <= high_c:
            windows.append(("fragrance", TemperatureWindow(low_c, high_c)))
            break
    if pours:
        windows.append(("pour", TemperatureWindow(*pours[-1])))
    return tuple(windows)


def derive_cooling(context: RecipeContext, builder: FigureBuilder) -> tuple[CoolingRun, ...] | None:
    """Fit every run of readings of every pot and pour; without any, note the missing input."""
    runs: list[CoolingRun] = []
    melts = {pot.name: pot.melt_g for pot in recipe_masses(context).pots}
    for pour in context.design.pours:
        room_c, room_from = pour.room_c, "pour"
        if room_c is None:
            room_c, room_from = context.settings.room, "settings"
        for pot in dict.fromkeys(reading.pot for reading in pour.readings):
            of_pot = [reading for reading in pour.readings if reading.pot == pot]
            readings = [
                cooling.PotReading(one.minutes, one.temperature_c, mark_of(one)) for one in of_pot
            ]
            mass_g = pour.melted_g.get(pot, melts.get(pot))
            for run, fit in fit_runs(readings, room_c, room_from):
                windows = tuple(
                    (name, window, _times(fit, window, run.pause))
                    for name, window in pot_windows(context.shelf, context.design, pot)
                )
                written, at = pot in pour.melted_g, of_pot[run.place].at
                runs.append(CoolingRun(pour.label, pot, run, fit, windows, mass_g, written, at))
    if not runs:
        builder.lacks("readings of a pot")
        return None
    builder.used("readings", str(sum(run.fit.readings for run in runs)))
    return tuple(runs)


def _times(
    fit: cooling.CoolingFit, window: TemperatureWindow, pause: cooling.CoolingPause | None
) -> WindowTimes | None:
    """The times of a window by a run's curve; None without a curve."""
    return None if fit.curve is None else cooling.window_times(fit.curve, window, pause)


def studio_rates(runs: Iterable[CoolingRun]) -> tuple[PotRun, ...]:
    """The rates to forecast from: of runs of three readings or more, with a mass and a fit."""
    return tuple(
        PotRun(run.mass_g, run.fit.curve.rate_per_min, run.pour, run.pot, run.fit.curve.room_c)
        for run in runs
        if run.mass_g  # a pot of 0 g was not weighed
        and run.fit.curve is not None
        and run.fit.curve.rate_per_min > 0
        and len(run.run.readings) > 2
    )


def forecast_case(context: RecipeContext, masses: RecipeMasses) -> ForecastCase | None:
    """The cooling of the last pot from scenting to pouring; None unless both windows allow it."""
    layer = context.recipe.layers[-1]
    windows = dict(pot_windows(context.shelf, context.design, layer.pot_name))
    if "pour" not in windows or "fragrance" not in windows:
        return None
    room_c = usual_room(context.settings)
    start_c, target_c = windows["fragrance"].high_c, windows["pour"].high_c
    pot = next(pot for pot in masses.pots if pot.name == layer.pot_name)
    if not room_c < target_c < start_c:
        return None
    return ForecastCase(pot.name, pot.melt_g, room_c, start_c, target_c)


def forecast_pot(case: ForecastCase, rates: RateLine) -> PotForecast | None:
    """Forecast how long the pot takes to cool; None while no run of a pot is on record."""
    rate = forecast_rate(rates, case.mass_g)
    if rate is None:
        return None

    def minutes(rate_per_min: float) -> float:
        return cooling.time_to_cool(case.start_c, case.room_c, rate_per_min, case.target_c)

    ends = rate.interval_per_min
    interval = None if ends is None else (minutes(ends[1]), minutes(ends[0]))
    return PotForecast(**asdict(case), minutes=minutes(rate.rate_per_min), interval_min=interval)


def properties_of(shelf: Shelf, shares: Iterable[tuple[str, float]]) -> BaseProperties:
    """Thermal properties of a blend of (base, share), from the shelf or else the usual ranges."""
    parts = tuple((share, _properties(shelf.bases[base])) for base, share in shares)
    return parts[0][1] if len(parts) == 1 else base_properties.blend(parts)


def _properties(base: Base) -> BaseProperties:
    """Thermal properties of one base."""
    return base_properties.base_properties(
        density_g_ml=base.density,
        heat_capacity_j_kgk=base.heat_capacity,
        thermal_conductivity_w_mk=base.thermal_conductivity,
        latent_heat_kj_kg=base.latent_heat,
        softens_c=base.softens,
        sets_c=base.sets,
        melts_c=base.melts,
    )


def derive_bond(context: RecipeContext, builder: FigureBuilder) -> BondFigures | None:
    """Solve the bond model for the second layer; where it cannot, None, and the reason is noted."""
    model = bond_case(context, recipe_masses(context), builder)
    if model is None:
        return None
    body = context.recipe.layers[1]
    assert body.pour is not None
    planned_c = sum(body.pour) / 2
    try:
        answers = context.memo(solve_bond, model, planned_c, CHART_POURS_C)
    except FigureError as error:
        builder.lacks(str(error))
        return None
    observed = poured_bars(context.design, body.name)
    agrees_at_c = _agreeing_softens(context.memo, model, answers.window, observed)
    assumed = tuple(dict.fromkeys((*model.detail.assumed, *model.body.assumed)))
    builder.used("detail", f"{model.detail_mm:.3g} mm thick")
    builder.used("body", f"{model.body_mm:.3g} mm thick")
    builder.used("mat below the detail", f"{model.mat_mm:.3g} mm thick")
    for name in assumed:
        builder.used(f"{name} of the base", "not on the shelf: the usual range")
    return BondFigures(
        **asdict(answers),
        case=model,
        body_layer=body.name,
        poured_bars=observed,
        agrees_at_c=agrees_at_c,
        assumed=assumed,
    )


def bond_case(
    context: RecipeContext,
    masses: RecipeMasses,
    builder: FigureBuilder,
    room_c: float | None = None,
) -> BondCase | None:
    """The recipe's stack for the bond model; if an input is missing, None, and it is noted.

    Without a ``room_c`` in degrees C it is in the usual room.
    """
    layers = context.recipe.layers
    mat = context.shelf.mats.get(context.recipe.mat or "")
    mould = context.shelf.moulds.get(context.recipe.mould or "")
    if mat is None or len(layers) < 2:
        builder.lacks("a mat and two layers")
        return None
    detail, body = layers[0], layers[1]
    for layer in (detail, body):
        if layer.pour is None:
            builder.lacks(f"layers/{layer.name}: pour")
        if not layer_bases(context, layer):
            builder.lacks(f"layers/{layer.name}: base of the leftover")
    if mat.thickness is None:
        builder.lacks(f"mats/{context.recipe.mat}: thickness")
    detail_mm = mat.relief
    if detail_mm is None and mat.motif is not None:
        width, height = mat.motif.size
        detail_mm = 1000 * masses.layer(detail.name).volume_ml_per_bar / (width * height)
    if detail_mm is None:
        builder.lacks(f"mats/{context.recipe.mat}: relief")
    face_mm2 = face_area(mould) if mould is not None else None
    if face_mm2 is None:
        builder.lacks(f"moulds/{context.recipe.mould}: face" if mould is not None else "mould")
    if builder.missing:
        return None
    assert detail.pour is not None
    assert detail_mm is not None
    assert mat.thickness is not None
    assert face_mm2 is not None
    if room_c is None:
        room_c = usual_room(context.settings)
        if context.settings.room is None:
            builder.used("room", f"not in the settings: {room_c:g} °C")
    body_ml = masses.layer(body.name).volume_ml_per_bar
    return BondCase(
        detail=properties_of(context.shelf, layer_bases(context, detail)),
        body=properties_of(context.shelf, layer_bases(context, body)),
        detail_mm=detail_mm,
        body_mm=1000 * body_ml / face_mm2,
        mat_mm=max(0.0, mat.thickness - (mat.relief or 0.0)),
        room_c=room_c,
        detail_pour_c=sum(detail.pour) / 2,
        stays=stays_of(context.settings, detail, room_c),
    )


def stays_of(settings: Settings, layer: Layer, room_c: float) -> tuple[DetailStay, ...]:
    """The waits after a layer's pour; if none has minutes, one rest until it has set."""
    chill_c = settings.chill_at if settings.chill_at is not None else USUAL_CHILL_C
    usual_c = {"rest": room_c, "chill": chill_c, "unmould": room_c}
    stays = tuple(
        DetailStay(
            step.minutes, usual_c[step.kind] if step.temperature_c is None else step.temperature_c
        )
        for step in read_steps(layer.then)
        if step.kind in usual_c and step.minutes is not None and step.minutes > 0
    )
    return stays or (DetailStay(None, room_c),)


def body_temperature(design: Design, pour: Pour, bar: Bar, layer: str) -> float | None:
    """The temperature in degrees C at which a layer of a bar was poured; None if not known.

    It is the one noted for the bar, else for the pour, else that of ``poured_reading``.
    """
    noted = bar.poured_c.get(layer, pour.poured_c.get(layer))
    if noted is not None:
        return noted
    marked = poured_reading(design, pour, layer)
    return None if marked is None else marked.temperature_c


def poured_reading(design: Design, pour: Pour, layer: str) -> Reading | None:
    """The reading of a layer's pot that is marked as its pour; None if there is none.

    Where several layers come from one pot, its marks go in the order of the layers.
    """
    layers = design.recipe.layers
    pot = next((entry.pot_name for entry in layers if entry.name == layer), None)
    sharing = [entry.name for entry in layers if entry.pot_name == pot]
    marked = [one for one in pour.readings if one.pot == pot and mark_of(one) == "poured"]
    # A pot marked once, at its last pour, has no reading of an earlier one.
    place = sharing.index(layer) - len(sharing) if layer in sharing else 0
    return marked[place] if layer in sharing and -place <= len(marked) else None


def poured_bars(design: Design, layer: str) -> tuple[PouredBars, ...]:
    """Count the bars by pour and temperature of ``layer``; those without one are left out."""
    bars_at: dict[tuple[str, float], list[Bar]] = {}
    for pour in design.pours:
        for bar in pour.bars:
            temperature_c = body_temperature(design, pour, bar, layer)
            if temperature_c is not None:
                bars_at.setdefault((pour.label, temperature_c), []).append(bar)
    rows = []
    for (label, temperature_c), bars in bars_at.items():
        lifted = [bar.measures.get("lifted") for bar in bars]
        lost = sum(value is True for value in lifted)
        held = sum(value is False for value in lifted)
        rows.append(PouredBars(label, temperature_c, held, lost, len(bars) - held - lost))
    return tuple(rows)


def _agreeing_softens(
    memo: Memo, model: BondCase, window: BondWindow, observed: tuple[PouredBars, ...]
) -> float | None:
    """The ``softens`` at which the coolest pour that held would just bond; None if it bonds now."""
    bonded_at_c = [entry.body_c for entry in observed if entry.held and not entry.lost]
    if not bonded_at_c or window.low_c is None or min(bonded_at_c) >= window.low_c:
        return None
    return memo(matching_softens, model, (min(bonded_at_c),))[0]


def derive_bleed(context: RecipeContext, builder: FigureBuilder) -> tuple[BarBleed, ...] | None:
    """The growth of each bar's bleed, by ruler or photo; without any, note the missing input."""
    growths: list[BarBleed] = []
    for pour in context.design.pours:
        for bar in pour.bars:
            widths = [
                MeasuredWidth(float(later.day), width, "ruler")
                for later in pour.later
                if later.bar == bar.bar and isinstance(width := later.measures.get("bleed"), float)
            ]
            widths += [
                MeasuredWidth(day, mm, "photo") for day, mm in context.photo_widths.get(bar.bar, ())
            ]
            if widths:
                growths.extend(BarBleed(bar.bar, bar.variant, one) for one in bleed_growth(widths))
    if not growths:
        builder.lacks("follow-ups with bleed, or photos of later days with a measured edge")
        return None
    return tuple(growths)


def derive_melting(context: RecipeContext, builder: FigureBuilder) -> tuple[PotHeat, ...]:
    """The heat to melt each pot; one whose bases or pour are missing is left out, and noted."""
    masses = recipe_masses(context)
    start_c = usual_room(context.settings)
    builder.used("room", f"{start_c:g} °C")
    pots = []
    for pot in masses.pots:
        layers = [layer for layer in masses.layers if layer.pot == pot.name]
        of_bases = [(base, mass_g) for layer in layers for base, mass_g in layer.bases]
        pours_c = [layer.pour_c[1] for layer in layers if layer.pour_c is not None]
        for layer in layers:
            if layer.pour_c is None:
                builder.lacks(f"layers/{layer.name}: pour")
            if not layer.bases:
                builder.lacks(f"layers/{layer.name}: base of the leftover")
        if len(pours_c) < len(layers) or not all(layer.bases for layer in layers):
            continue
        total_g = sum(mass_g for _, mass_g in of_bases)
        base = properties_of(context.shelf, [(name, one / total_g) for name, one in of_bases])
        heat_kj = base_properties.heat_to_melt(
            pot.melt_g, base.heat_capacity_j_kgk.nominal, base.latent_heat_kj_kg.nominal, start_c,
            max(pours_c),
        )  # fmt: skip
        pots.append(PotHeat(pot.name, pot.melt_g, start_c, max(pours_c), heat_kj))
    return tuple(pots)


# How each is explained and given out ------------------------------------------------


def _bond_json(bond: BondFigures) -> dict[str, Any]:
    """The bond model at the middle of the recipe's window, and its own window."""
    window = bond.window
    block: dict[str, Any] = {
        "contact_c": number(bond.planned.contact_c),
        "peak_interface_c": number(bond.planned.peak_interface_c),
        "softened_min": number(bond.planned.softened_min),
        "remelted_share": number(bond.planned.remelted_share),
        "detail_c": number(bond.planned.detail_c),
        "window_c": [number(window.low_c), number(window.high_c)],
        "window_band_c": [numbers_or_none(window.low_band_c), numbers_or_none(window.high_band_c)],
    }
    if bond.agrees_at_c is not None:  # the model disagrees with what the studio saw
        block["softens_that_agrees_c"] = number(bond.agrees_at_c)
    return block


def _bond_rows(bond: BondFigures) -> Iterator[TableRow]:
    """The one row of the table ``bond``."""
    planned, window = bond.planned, bond.window
    yield (
        bond.body_layer, planned.contact_c, planned.peak_interface_c, planned.softened_min,
        planned.remelted_share, planned.detail_c, window.low_c, window.high_c,
        *(window.low_band_c or (None, None)), *(window.high_band_c or (None, None)),
    )  # fmt: skip


def _bond_null_reasons(bond: BondFigures) -> Iterator[str]:
    if None in (bond.window.low_c, bond.window.high_c):
        yield bond.window.why


def cooling_json(run: CoolingRun) -> dict[str, Any]:
    """One run of readings; times count from its first reading."""
    curve = run.fit.curve
    return {
        "pour": run.pour,
        "pot": run.pot,
        "run": run.run.number,
        "room_c": None if curve is None else number(curve.room_c),
        "room_from": run.fit.room_from or None,
        "start_c": None if curve is None else number(curve.start_c),
        "rate_per_min": None if curve is None else number(curve.rate_per_min),
        "half_time_min": None if curve is None else number(curve.half_time_min),
        "rms_c": number(run.fit.rms_c),
        "readings": run.fit.readings,
        "windows": {
            name: {
                "enters_min": number(times.enters_min),
                "leaves_min": number(times.leaves_min),
                "enters_interval_min": numbers_or_none(times.enters_interval_min),
                "leaves_interval_min": numbers_or_none(times.leaves_interval_min),
                "enters_beyond": times.enters_beyond,
                "leaves_beyond": times.leaves_beyond,
            }
            for name, _, times in run.windows
            if times is not None
        },
    }


def _cooling_rows(runs: tuple[CoolingRun, ...]) -> Iterator[TableRow]:
    """One row for each window of each run; a run without windows has one row."""
    for run in runs:
        curve = run.fit.curve
        of_curve: TableRow = (None,) * 4
        if curve is not None:
            of_curve = (curve.start_c, curve.rate_per_min, curve.half_time_min, run.fit.rms_c)
        windows: list[tuple[str | None, WindowTimes | None]] = [
            (name, times) for name, _, times in run.windows if times is not None
        ]
        for name, times in windows or [(None, None)]:
            of_window: TableRow = (None,) * 6
            if times is not None:
                of_window = (
                    times.enters_min, *(times.enters_interval_min or (None, None)),
                    times.leaves_min, *(times.leaves_interval_min or (None, None)),
                )  # fmt: skip
            yield (
                run.pour, run.pot, run.run.number, name, run.fit.readings,
                None if curve is None else curve.room_c, run.fit.room_from or None,
                *of_curve, *of_window,
            )  # fmt: skip


def _cooling_null_reasons(runs: tuple[CoolingRun, ...]) -> Iterator[str]:
    """The reasons for numbers of the runs that are null, one sentence each."""
    for run in runs:
        reasons = [run.fit.why, *(times.why for _, _, times in run.windows if times is not None)]
        for why in filter(None, reasons):
            yield f"pour {run.pour}, {run.pot}, run {run.run.number}: {why}"


def _bleed_json(entry: BarBleed) -> dict[str, Any]:
    """Growth of one bar's bleed, by one way of measuring."""
    growth = entry.growth
    block: dict[str, Any] = {
        "bar": entry.bar,
        "by": growth.by,
        "start_mm": number(growth.start_mm),
        "a_mm_per_sqrt_day": number(growth.a_mm_per_sqrt_day),
    }
    at = {forecast.day: forecast for forecast in growth.forecasts}
    for day in map(int, HORIZONS_DAY):
        forecast = at.get(float(day))
        block[f"day_{day}_mm"] = None if forecast is None else number(forecast.width_mm)
        block[f"day_{day}_interval_mm"] = (
            None if forecast is None else numbers_or_none(forecast.interval_mm)
        )
    return block


def _bleed_rows(entries: tuple[BarBleed, ...]) -> Iterator[TableRow]:
    """One row for each forecast."""
    for entry in entries:
        growth = entry.growth
        for one in growth.forecasts:
            yield (
                entry.bar, entry.variant, growth.by, growth.observations, growth.start_mm,
                growth.a_mm_per_sqrt_day, one.day, one.width_mm,
                *(one.interval_mm or (None, None)),
            )  # fmt: skip


def _bleed_null_reasons(entries: tuple[BarBleed, ...]) -> Iterator[str]:
    for entry in entries:
        if entry.growth.why:
            yield f"bar {entry.bar}, by {entry.growth.by}: {entry.growth.why}"


BOND = FigureSpec(
    name="bond", kind="estimate", derive=derive_bond,
    blocks={"bond": _bond_json},
    tables=(
        TableSpec("bond",
                "layer contact_c peak_interface_c softened_min remelted_share detail_c "
                "window_low_c window_high_c window_low_from_c window_low_to_c window_high_from_c "
                "window_high_to_c", _bond_rows),
    ),
    null_reasons=_bond_null_reasons,
)  # fmt: skip

COOLING = FigureSpec(
    name="cooling", kind="measured", derive=derive_cooling,
    blocks={"cooling": lambda runs: [cooling_json(run) for run in runs]},
    empty=[],
    tables=(
        TableSpec("cooling",
                "pour pot run window readings room_c room_from start_c rate_per_min half_time_min "
                "rms_c enters_min enters_low_min enters_high_min leaves_min leaves_low_min "
                "leaves_high_min", _cooling_rows, by_variant=False),
    ),
    null_reasons=_cooling_null_reasons,
)  # fmt: skip

BLEED = FigureSpec(
    name="bleed", kind="computed", derive=derive_bleed,
    blocks={"bleed": lambda entries: [_bleed_json(entry) for entry in entries]},
    empty=[],
    tables=(
        TableSpec("bleed",
                "bar variant by looks start_mm a_mm_per_sqrt_day day width_mm width_low_mm "
                "width_high_mm", _bleed_rows, by_variant=False),
    ),
    null_reasons=_bleed_null_reasons,
)  # fmt: skip

MELTING = FigureSpec(
    name="melting", kind="computed", derive=derive_melting,
    blocks={"melting": lambda pots: {
        one.pot: {"mass_g": number(one.mass_g), "start_c": number(one.start_c),
                  "end_c": number(one.end_c), "heat_kj": number(one.heat_kj),
                  "heat_wh": number(one.heat_wh)}
        for one in pots
    }},
    empty={},
    tables=(
        TableSpec("melting", "pot mass_g start_c end_c heat_kj heat_wh", lambda pots: (
            (one.pot, one.mass_g, one.start_c, one.end_c, one.heat_kj, one.heat_wh)
            for one in pots
        )),
    ),
)  # fmt: skip
