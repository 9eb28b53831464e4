"""The pots of a notebook as trials of what fails, from records; and what went with failures."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from journal.comparison.failures.conditions import (
    ConditionOfFailure,
    FailurePot,
    conditions_of_failures,
)
from journal.figures.common.derive_context import RecipeContext
from journal.figures.common.memo import Memo, in_process_memo
from journal.figures.derive import can_be_derived
from journal.figures.heat.derive_bases import has_outcome, main_base
from journal.figures.heat.derive_heat import body_temperature, poured_reading
from journal.figures.recipe.derive_layers import recipe_masses
from journal.records.models.readings import mark_of
from journal.records.models.settings import Settings
from journal.records.models.shelf import Shelf
from journal.records.models.write_up import Bar, Design, Failure, Pour, Variant

#: Conditions of failures, by symptom.
ConditionsBySymptom = Mapping[str, tuple[ConditionOfFailure, ...]]
# Meteorological seasons of the northern half.
SEASONS = ("winter", "spring", "summer", "autumn")


def failure_pots(settings: Settings, shelf: Shelf, design: Design) -> tuple[FailurePot, ...]:
    """The pots of a design as trials: bars of a pour with one base, load and temperature.

    The conditions are those of the last layer, the body, but for how hot the first was. A symptom
    that is a measure too was had by a pot if one bar had it (``has_outcome``). Any other was had
    where it was written up for one of the pot's bars, or for all bars of the only pot that it can
    mean; where it may be of one of several pots, none of them says anything of it.
    """
    if not can_be_derived(shelf, design):
        return ()
    loads = {one.name: _load(settings, shelf, design, one) for one in design.variants}
    pots: dict[tuple[object, ...], list[tuple[Pour, Bar]]] = {}
    for pour in design.pours:
        for bar in pour.bars:
            if not bar.spoilt:
                pots.setdefault(_conditions(design, pour, bar, loads), []).append((pour, bar))
    symptoms = settings.all_symptoms()
    measures = settings.all_measures()
    noted = {name: _noted(design, name, list(pots.values())) for name in symptoms}
    found = []
    for place, (known, members) in enumerate(pots.items()):
        pour, (base, load, body_c) = members[0][0], known[1:]
        failed: dict[str, bool] = {}
        for name in symptoms:
            had = noted[name][place]
            if name in measures:
                seen = [one for p, bar in members
                        if (one := has_outcome(p, bar, measures[name])) is not None]  # fmt: skip
                had = any(seen) or bool(had) if seen or had else None
            if had is not None:
                failed[name] = had
        numbers = {
            "pour": body_c,
            "first layer": _first_c(design, pour, members[0][1]),
            "room": pour.room_c,
            "humidity": pour.humidity,
            "stood": _stood_min(design, pour, members[0][1]),
            "load": load,
        }
        kinds = {"base": base, "season": SEASONS[pour.date.month % 12 // 3]}
        found.append(
            FailurePot(
                design.id,
                pour.date.isoformat(),
                tuple((name, v) for name, v in numbers.items() if isinstance(v, float)),
                tuple((name, v) for name, v in kinds.items() if isinstance(v, str)),
                tuple(failed.items()),
            )
        )
    return tuple(found)


def notebook_conditions(
    pots: Iterable[FailurePot], memo: Memo = in_process_memo
) -> ConditionsBySymptom:
    """What went with each symptom, over the pots of all designs."""
    by_symptom: dict[str, tuple[ConditionOfFailure, ...]] = {}
    for entry in memo(conditions_of_failures, tuple(pots)):
        by_symptom[entry.symptom] = (*by_symptom.get(entry.symptom, ()), entry)
    return by_symptom


def _conditions(
    design: Design, pour: Pour, bar: Bar, loads: Mapping[str, float]
) -> tuple[object, ...]:
    """What tells the pots of a pour apart: base, load and temperature of the body."""
    body = design.variant(bar.variant).recipe.layers[-1]
    body_c = body_temperature(design, pour, bar, body.name)
    return pour.label, main_base(body), loads[bar.variant], body_c


def _load(settings: Settings, shelf: Shelf, design: Design, variant: Variant) -> float:
    """The load of scent of the last layer, as a share of its base."""
    context = RecipeContext(settings, shelf, design, variant, variant.recipe.bars)
    masses = recipe_masses(context)
    return sum(oil.load for oil in masses.layers[-1].fragrances) + 0.0


def _first_c(design: Design, pour: Pour, bar: Bar) -> float | None:
    """How hot the first of several layers was poured; None for a single one, or if not known."""
    first, *others = design.variant(bar.variant).recipe.layers
    return body_temperature(design, pour, bar, first.name) if others else None


def _stood_min(design: Design, pour: Pour, bar: Bar) -> float | None:
    """Minutes from the first reading of the body's pot to its pour; None if not known."""
    body = design.variant(bar.variant).recipe.layers[-1]
    poured = poured_reading(design, pour, body.name)
    melted = [one.minutes for one in pour.readings
              if one.pot == body.pot_name and mark_of(one) == "melted"]  # fmt: skip
    if poured is None or not melted:
        return None
    return float(poured.minutes - melted[0])


def _noted(design: Design, symptom: str, pots: list[list[tuple[Pour, Bar]]]) -> list[bool | None]:
    """Whether each pot had a symptom, by what was written up; None where that is not clear."""
    had: list[bool | None] = [False] * len(pots)
    for failure in design.failed:
        if failure.what != symptom:
            continue
        meant = [
            place
            for place, members in enumerate(pots)
            if any(_is_of(failure, design, bar) for _, bar in members)
        ]
        for place in meant:
            had[place] = True if len(meant) == 1 else had[place] or None
    return had


def _is_of(failure: Failure, design: Design, bar: Bar) -> bool:
    """Whether a failure was written up of a bar, or of what it was made as."""
    if failure.bar is not None:
        return failure.bar == bar.bar
    return failure.variant in (None, bar.variant, *design.variant(bar.variant).chosen.values())
