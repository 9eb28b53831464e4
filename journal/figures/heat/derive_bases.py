"""What the studio's own pours say of a base and of a colourant in it, over all designs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from msgspec import Struct

from journal.figures.colour.bleed import BleedGrowth, PairGrowth, pair_growth
from journal.figures.common.memo import Memo, in_process_memo
from journal.figures.heat.derive_heat import BarBleed, body_temperature
from journal.figures.heat.thresholds import PourOutcome, Threshold, pour_threshold
from journal.records.models.settings import Measure
from journal.records.models.things import ThingRef
from journal.records.models.write_up import Bar, Design, Layer, Pour

# What may turn with the temperature of the body's pour?
OUTCOMES = ("lifted", "lip", "bleed")


class BaseOutcome(Struct, frozen=True):
    """One outcome of pours of a base: each pour, and where it turns."""

    base: str
    outcome: str
    pours: tuple[PourOutcome, ...]
    threshold: Threshold


class ColourInBase(Struct, frozen=True):
    """How one colourant moved in one base: the bars looked at, and their growth together."""

    colourant: str
    base: str
    bars: tuple[tuple[str, str, BleedGrowth], ...]  # design, bar, growth
    growth: tuple[PairGrowth, ...]


def main_base(layer: Layer) -> str | None:
    """The base that a layer has most of; None for a leftover."""
    if not layer.base.shares:
        return None
    return max(layer.base.shares, key=lambda entry: entry[1])[0]


class OutcomesInBase(Struct, frozen=True):
    """One outcome of a design's pours of one base."""

    base: str
    outcome: str
    pours: tuple[PourOutcome, ...]


class ColourOnBar(Struct, frozen=True):
    """How a colourant moved in a base on one bar of a design."""

    colourant: str
    base: str
    bar: str
    growth: BleedGrowth


def outcomes_in_bases(
    measures: Mapping[str, Measure], design: Design
) -> tuple[OutcomesInBase, ...]:
    """The outcomes of one design's pours, by the base of its body."""
    recipe = design.recipe
    if recipe.mat is None or len(recipe.layers) < 2:
        return ()
    found: dict[tuple[str, str], list[PourOutcome]] = {}
    for pour in design.pours:
        for outcome in OUTCOMES:
            for base, seen in _outcomes_of_pour(design, pour, measures[outcome]).items():
                found.setdefault((base, outcome), []).extend(seen)
    return tuple(OutcomesInBase(*key, tuple(pours)) for key, pours in found.items())


def base_outcomes(
    rows: Iterable[OutcomesInBase], ask: Memo = in_process_memo
) -> tuple[BaseOutcome, ...]:
    """The outcomes of each base over all designs; ``rows`` in the order of the designs."""
    found: dict[tuple[str, str], list[PourOutcome]] = {}
    for row in rows:
        found.setdefault((row.base, row.outcome), []).extend(row.pours)
    return tuple(
        BaseOutcome(base, outcome, tuple(pours), ask(pour_threshold, tuple(pours)))
        for (base, outcome), pours in sorted(found.items())
    )


def _outcomes_of_pour(design: Design, pour: Pour, measure: Measure) -> dict[str, list[PourOutcome]]:
    """Bars of one pour by base and temperature of their body, and what share had the outcome."""
    bodies: dict[tuple[str, float], list[bool]] = {}
    for bar in pour.bars:
        layer = design.variant(bar.variant).recipe.layers[1]
        base, temperature_c = main_base(layer), body_temperature(design, pour, bar, layer.name)
        has_it = _has_outcome(pour, bar, measure)
        if base is not None and temperature_c is not None and has_it is not None:
            bodies.setdefault((base, temperature_c), []).append(has_it)
    found: dict[str, list[PourOutcome]] = {}
    for (base, temperature_c), outcomes in bodies.items():
        found.setdefault(base, []).append(PourOutcome(temperature_c, sum(outcomes) / len(outcomes)))
    return found


def _has_outcome(pour: Pour, bar: Bar, measure: Measure) -> bool | None:
    """Whether a bar had the outcome: yes, or at least as much as matters; None if not recorded.

    Of an outcome that was recorded again later the last record counts.
    """
    value: object = bar.measures.get(measure.name)
    later = [
        entry for entry in pour.later if entry.bar == bar.bar and measure.name in entry.measures
    ]
    if later:
        value = max(later, key=lambda entry: entry.day).measures[measure.name]
    if isinstance(value, bool):
        return value
    if isinstance(value, float | int) and measure.matters is not None:
        return value >= measure.matters
    return None


def colours_on_bars(design: Design, bleed: Iterable[BarBleed]) -> tuple[ColourOnBar, ...]:
    """How colourants moved on the bars of one design whose bleed was followed up."""
    return tuple(
        ColourOnBar(*pair, entry.bar, entry.growth)
        for entry in bleed
        for pair in _colourants_in_bases(design, entry.variant)
    )


def colours_in_bases(rows: Iterable[tuple[str, Iterable[ColourOnBar]]]) -> tuple[ColourInBase, ...]:
    """How colourants moved in bases over all designs.

    Takes:  rows  a design's id and its colourants, in the order of the designs
    """
    found: dict[tuple[str, str], list[tuple[str, str, BleedGrowth]]] = {}
    for name, seen in rows:
        for one in seen:
            found.setdefault((one.colourant, one.base), []).append((name, one.bar, one.growth))
    return tuple(
        ColourInBase(colourant, base, tuple(bars), pair_growth([growth for _, _, growth in bars]))
        for (colourant, base), bars in sorted(found.items())
    )


def _colourants_in_bases(design: Design, variant: str) -> list[tuple[str, str]]:
    pairs: list[tuple[str, str]] = []
    for layer in design.variant(variant).recipe.layers:
        base = main_base(layer)
        if base is not None:
            pairs.extend((colour.colourant, base) for colour in layer.colours)
    return list(dict.fromkeys(pairs))


def by_base(outcomes: tuple[BaseOutcome, ...]) -> Mapping[str, tuple[BaseOutcome, ...]]:
    """Outcomes by base."""
    found: dict[str, tuple[BaseOutcome, ...]] = {}
    for entry in outcomes:
        found[entry.base] = (*found.get(entry.base, ()), entry)
    return found


def by_thing(colours: Iterable[ColourInBase]) -> Mapping[ThingRef, tuple[ColourInBase, ...]]:
    """Colours in bases by each colourant and by each base."""
    found: dict[ThingRef, tuple[ColourInBase, ...]] = {}
    for entry in colours:
        for thing in (("colourants", entry.colourant), ("bases", entry.base)):
            found[thing] = (*found.get(thing, ()), entry)
    return found
