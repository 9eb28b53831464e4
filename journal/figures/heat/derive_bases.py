"""Outcomes of the studio's pours by base, and of colourants in bases, over all designs."""

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

# Outcomes that may depend on the temperature of the body's pour.
OUTCOMES = ("lifted", "lip", "bleed")


class OutcomesInBase(Struct, frozen=True):
    """The share of bars with one outcome in each of a design's pours of one base."""

    base: str
    outcome: str
    pours: tuple[PourOutcome, ...]


class BaseOutcome(OutcomesInBase, frozen=True):
    """One outcome of all pours of a base, and the pour temperature at which it turns."""

    threshold: Threshold


class ColourInBase(Struct, frozen=True):
    """The bleed of one colourant in one base: that of each bar, and their common growth."""

    colourant: str
    base: str
    bars: tuple[tuple[str, str, BleedGrowth], ...]  # design, bar, growth
    growth: tuple[PairGrowth, ...]


def main_base(layer: Layer) -> str | None:
    """The base that a layer has most of; None for a leftover."""
    if not layer.base.shares:
        return None
    return max(layer.base.shares, key=lambda entry: entry[1])[0]


class ColourOnBar(Struct, frozen=True):
    """The bleed of a colourant in a base on one bar of a design."""

    colourant: str
    base: str
    bar: str
    growth: BleedGrowth


def outcomes_in_bases(
    measures: Mapping[str, Measure], design: Design
) -> tuple[OutcomesInBase, ...]:
    """The outcomes of a design's pours by the base of its body; empty without a mat and a body."""
    recipe = design.recipe
    if recipe.mat is None or len(recipe.layers) < 2:
        return ()
    by_outcome: dict[tuple[str, str], list[PourOutcome]] = {}
    for pour in design.pours:
        for outcome in OUTCOMES:
            for base, outcomes in _outcomes_of_pour(design, pour, measures[outcome]).items():
                by_outcome.setdefault((base, outcome), []).extend(outcomes)
    return tuple(OutcomesInBase(*key, tuple(pours)) for key, pours in by_outcome.items())


def base_outcomes(
    rows: Iterable[OutcomesInBase], memo: Memo = in_process_memo
) -> tuple[BaseOutcome, ...]:
    """Join the outcomes of each base over all designs, and find where each turns.

    ``rows`` come in the order of the designs; the result is sorted by base and outcome.
    """
    by_outcome: dict[tuple[str, str], list[PourOutcome]] = {}
    for row in rows:
        by_outcome.setdefault((row.base, row.outcome), []).extend(row.pours)
    return tuple(
        BaseOutcome(base, outcome, tuple(pours), memo(pour_threshold, tuple(pours)))
        for (base, outcome), pours in sorted(by_outcome.items())
    )


def _outcomes_of_pour(design: Design, pour: Pour, measure: Measure) -> dict[str, list[PourOutcome]]:
    """For each base the share of bars with the outcome, by body temperature, where all is known."""
    bodies: dict[tuple[str, float], list[bool]] = {}
    for bar in pour.bars:
        layer = design.variant(bar.variant).recipe.layers[1]
        base, temperature_c = main_base(layer), body_temperature(design, pour, bar, layer.name)
        has_it = has_outcome(pour, bar, measure)
        if base is not None and temperature_c is not None and has_it is not None:
            bodies.setdefault((base, temperature_c), []).append(has_it)
    of_bases: dict[str, list[PourOutcome]] = {}
    for (base, temperature_c), outcomes in bodies.items():
        outcome = PourOutcome(temperature_c, sum(outcomes) / len(outcomes))
        of_bases.setdefault(base, []).append(outcome)
    return of_bases


def has_outcome(pour: Pour, bar: Bar, measure: Measure) -> bool | None:
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
    """Each colourant and base of the bars of one design whose bleed was followed up."""
    return tuple(
        ColourOnBar(*pair, entry.bar, entry.growth)
        for entry in bleed
        for pair in _colourants_in_bases(design, entry.variant)
    )


def colours_in_bases(rows: Iterable[tuple[str, Iterable[ColourOnBar]]]) -> tuple[ColourInBase, ...]:
    """Join the bars of each colourant and base over all designs; ``rows`` are one a design."""
    by_pair: dict[tuple[str, str], list[tuple[str, str, BleedGrowth]]] = {}
    for name, colours in rows:
        for one in colours:
            by_pair.setdefault((one.colourant, one.base), []).append((name, one.bar, one.growth))
    return tuple(
        ColourInBase(colourant, base, tuple(bars), pair_growth([growth for _, _, growth in bars]))
        for (colourant, base), bars in sorted(by_pair.items())
    )


def _colourants_in_bases(design: Design, variant: str) -> list[tuple[str, str]]:
    """Each (colourant, main base of its layer) of a variant once; leftovers are left out."""
    layers = design.variant(variant).recipe.layers
    pairs = ((colour.colourant, main_base(layer)) for layer in layers for colour in layer.colours)
    return list(dict.fromkeys((one, base) for one, base in pairs if base is not None))


def outcomes_by_base(outcomes: tuple[BaseOutcome, ...]) -> Mapping[str, tuple[BaseOutcome, ...]]:
    """Group the outcomes by their base."""
    bases = dict.fromkeys(entry.base for entry in outcomes)
    return {base: tuple(entry for entry in outcomes if entry.base == base) for base in bases}


def colours_by_thing(
    colours: Iterable[ColourInBase],
) -> Mapping[ThingRef, tuple[ColourInBase, ...]]:
    """List the entries under their colourant and also under their base."""
    colours_of: dict[ThingRef, tuple[ColourInBase, ...]] = {}
    for entry in colours:
        for thing in (("colourants", entry.colourant), ("bases", entry.base)):
            colours_of[thing] = (*colours_of.get(thing, ()), entry)
    return colours_of
