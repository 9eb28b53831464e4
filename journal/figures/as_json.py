"""The figures as JSON: stable names, numbers of 12 significant digits, null for what is missing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from typing import Any

from journal.figures.cost import CostSheet
from journal.figures.derive import DesignFigures, RecipeFigures
from journal.figures.derive_heat import BarBleed, BondFigures, CoolingRun
from journal.figures.derive_layers import LayerFigures
from journal.figures.derive_leftovers import PotLeft, PourLeft
from journal.figures.derive_shop import LabelFigures, NetWeightFigures
from journal.figures.result import Missing
from journal.quantities.show import significant
from journal.records.write_up import Design

FORMAT = "soap-design-journal/1"


def design_json(design: Design, figures: DesignFigures, currency: str) -> dict[str, Any]:
    """The figures of one design."""
    blocks = recipe_json(figures.recipe, currency)
    variants: dict[str, Any] = {}
    for variant in design.variants:
        own = figures.variants[variant.name]
        differing = {
            name: block
            for name, block in recipe_json(own, currency).items()
            if block != blocks[name]
        }
        variants[variant.name] = differing
    return {
        "title": design.title,
        "state": design.state,
        "bars": figures.recipe.bars,
        **blocks,
        "cooling": [cooling_json(run) for run in figures.cooling.value or ()],
        "bleed": [bleed_json(entry) for entry in figures.bleed.value or ()],
        "left_of_pours": [pour_left_json(left) for left in figures.left],
        "variants": variants,
        "missing": [missing_json(entry) for entry in missing_of(figures)],
    }


def missing_of(figures: DesignFigures) -> tuple[Missing, ...]:
    """Everything that the figures of a design lack, each told once."""
    recipes = (figures.recipe, *figures.variants.values())
    lacks = (entry for recipe in recipes for entry in recipe.missing)
    return tuple(dict.fromkeys((*lacks, *reasons(figures))))


def reasons(figures: DesignFigures) -> Iterator[Missing]:
    """Why parts of what was measured are null, beside what the figures lacked as a whole."""
    yield from figures.cooling.missing
    for run in figures.cooling.value or ():
        told = [run.fit.why, *(times.why for _, _, times in run.windows if times is not None)]
        for why in filter(None, told):
            yield Missing("cooling", f"pour {run.pour}, {run.pot}, run {run.run.number}: {why}")
    for recipe in (figures.recipe, *figures.variants.values()):
        bond = recipe.bond.value
        if bond is not None and None in (bond.window.low_c, bond.window.high_c):
            yield Missing("bond", bond.window.why)
    yield from figures.bleed.missing
    for entry in figures.bleed.value or ():
        if entry.growth.why:
            yield Missing("bleed", f"bar {entry.bar}, by {entry.growth.by}: {entry.growth.why}")
    weight = figures.recipe.net_weight.value
    if weight is not None:
        if weight.net.loss is None:
            yield from (Missing("net_weight", why) for why in weight.net.why if "loss" in why)
        for one in weight.declared:
            if one.declared_g is None:
                yield Missing("net_weight", f"{one.system}: {one.why}")


def recipe_json(figures: RecipeFigures, currency: str) -> dict[str, Any]:
    """The blocks of one recipe."""
    masses = figures.masses
    fill = figures.fill.value
    return {
        "pots": {
            pot.name: {"melt_g": number(pot.melt_g), "layers": list(pot.layers)}
            for pot in masses.pots
        },
        "layers": {layer.name: layer_json(layer) for layer in masses.layers},
        "fill": None
        if fill is None
        else {
            "capacity_ml": numbers(fill.capacity_ml),
            "poured_ml": number(fill.poured_ml),
            "piece_ml": number(fill.piece_ml),
            "fill_percent": percents(fill.fill),
            "proud_mm": None if fill.proud_mm is None else numbers(fill.proud_mm),
        },
        "cost": cost_json(figures.cost.value, currency),
        "net_weight": net_weight_json(figures.net_weight.value),
        "label": label_json(figures.label.value),
        "cut": None
        if figures.cut.value is None
        else {
            "piece_mm": numbers(figures.cut.value.piece_mm),
            "pieces": figures.cut.value.count,
            "waste_percent": number(100 * figures.cut.value.waste_share),
        },
        "bond": bond_json(figures.bond.value),
        "leftovers": {left.pot: left_json(left) for left in figures.leftovers.value or ()},
    }


def left_json(left: PotLeft) -> dict[str, Any]:
    """What a pot of the batch leaves behind."""
    return {
        "left_g": number(left.left_g),
        "lost_g": number(left.lost_g),
        "bases": {base: {"left_g": number(share * left.left_g)} for base, share in left.bases},
        "colours": list(left.colours),
        "fragrances": {oil: {"layer_percent": number(100 * share)} for oil, share in left.scents},
    }


def pour_left_json(left: PourLeft) -> dict[str, Any]:
    """What a pour left of a pot whose melt was written down."""
    return {
        "pour": left.pour,
        "pot": left.pot,
        "melted_g": number(left.melted_g),
        "left_g": number(left.left_g),
        "lost_g": number(left.lost_g),
        "short_g": number(left.short_g),
    }


def bond_json(found: BondFigures | None) -> dict[str, Any] | None:
    """The bond model at the middle of the recipe's window, and its own window."""
    if found is None:
        return None
    window = found.window
    bands = [window.low_band_c, window.high_band_c]
    made: dict[str, Any] = {
        "contact_c": number(found.planned.contact_c),
        "peak_interface_c": number(found.planned.peak_interface_c),
        "softened_min": number(found.planned.softened_min),
        "remelted_share": number(found.planned.remelted_share),
        "detail_c": number(found.planned.detail_c),
        "window_c": [number(window.low_c), number(window.high_c)],
        "window_band_c": [None if band is None else numbers(band) for band in bands],
    }
    if found.agrees_at_c is not None:  # the model disagrees with what the studio saw
        made["softens_that_agrees_c"] = number(found.agrees_at_c)
    return made


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
                "enters_interval_min": pair(times.enters_interval_min),
                "leaves_interval_min": pair(times.leaves_interval_min),
                "enters_beyond": times.enters_beyond,
                "leaves_beyond": times.leaves_beyond,
            }
            for name, _, times in run.windows
            if times is not None
        },
    }


def bleed_json(entry: BarBleed) -> dict[str, Any]:
    """Growth of one bar's bleed, by one way of measuring."""
    growth = entry.growth
    found: dict[str, Any] = {
        "bar": entry.bar,
        "by": growth.by,
        "start_mm": number(growth.start_mm),
        "a_mm_per_sqrt_day": number(growth.a_mm_per_sqrt_day),
    }
    at = {forecast.day: forecast for forecast in growth.forecasts}
    for day in (30, 90, 180):
        forecast = at.get(float(day))
        found[f"day_{day}_mm"] = None if forecast is None else number(forecast.width_mm)
        found[f"day_{day}_interval_mm"] = None if forecast is None else pair(forecast.interval_mm)
    return found


def pair(ends: tuple[float, float] | None) -> list[float] | None:
    """An interval; None stays None."""
    return None if ends is None else numbers(ends)


def cost_json(sheet: CostSheet | None, currency: str) -> dict[str, Any] | None:
    """Cost of a bar; a part, the total and the price are null where they lack something."""
    if sheet is None:
        return None
    parts = {name: money(part) for name, part in sheet.a_bar.parts}
    total = None if sheet.missing else money(sheet.a_bar.total)
    return {
        "currency": currency,
        **parts,
        "total": total,
        "price": money(sheet.price),
        "contribution": money(sheet.contribution),
        "break_even_bars": sheet.break_even_bars,
    }


def net_weight_json(found: NetWeightFigures | None) -> dict[str, Any] | None:
    """Net weight by the first region; all of them under ``regions``."""
    if found is None:
        return None
    first = found.declared[0] if found.declared else None
    return {
        "mean_g": number(found.net.mean_g),
        "declared_g": None if first is None else number(first.declared_g),
        "declared": first.text or None if first is not None else None,
        "loss_percent_day_30": None if found.loss is None else number(100 * found.loss.share),
        "regions": {
            entry.system: {"declared_g": number(entry.declared_g), "declared": entry.text or None}
            for entry in found.declared
        },
    }


def label_json(found: LabelFigures | None) -> dict[str, Any] | None:
    """Label drafts by region."""
    if found is None:
        return None
    return {
        draft.region: {
            "ingredients": list(draft.names),
            "allergens": list(draft.allergens),
            "apart": {base: list(names) for base, names in draft.apart},
        }
        for draft in found.drafts
    }


def money(amount: Decimal | None) -> float | None:
    """Money as a JSON number: its decimal digits are those printed."""
    return None if amount is None else float(amount)


def layer_json(layer: LayerFigures) -> dict[str, Any]:
    """One layer: masses, oils and colours."""
    found: dict[str, Any] = {
        "base_g_per_bar": number(layer.base_g_per_bar),
        "base_g": number(layer.base_g),
        "melt_g": number(layer.melt_g),
        "volume_ml_per_bar": number(layer.volume_ml_per_bar),
        "bases": {base: {"melt_g": number(mass_g)} for base, mass_g in layer.bases},
        "fragrances": {
            oil.oil: {
                "volume_ml": number(oil.volume_ml),
                "mass_g": number(oil.mass_g),
                "load_percent": number(100 * oil.load),
                "layer_percent": number(100 * oil.layer_share),
                "bar_percent": number(100 * oil.bar_share),
                "limit_percent": None if oil.limit is None else number(100 * oil.limit),
                "within_limit": oil.within,
                "from_leftover": oil.from_leftover,
            }
            for oil in layer.fragrances
        },
        "limit_used_percent": limit_used(layer),
        "colours": {
            colour.colourant: {
                "volume_ml": number(colour.volume_ml),
                "mass_g": number(colour.mass_g),
            }
            for colour in layer.colours
        },
        "pour_c": None if layer.pour_c is None else numbers(layer.pour_c),
    }
    if layer.leftover is not None:
        found["leftover"] = layer.leftover
    return found


def limit_used(layer: LayerFigures) -> float | None:
    """How much of its oils' limits a layer uses; 0 without oils, None without a limit."""
    if not layer.fragrances:
        return 0.0
    return None if layer.limit_used is None else number(100 * layer.limit_used)


def missing_json(entry: Missing) -> Mapping[str, str]:
    """A row of ``missing``."""
    return {"figure": entry.figure, "needs": entry.needs}


def number(x: float | None) -> float | None:
    """``x`` to 12 significant digits; None stays None."""
    return None if x is None else significant(x)


def numbers(pair: Iterable[float]) -> list[float]:
    """Each number of a range to 12 significant digits."""
    return [significant(x) for x in pair]


def percents(pair: Iterable[float]) -> list[float]:
    """A range of fractions as per cent."""
    return [significant(100 * x) for x in pair]
