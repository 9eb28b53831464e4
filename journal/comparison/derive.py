"""Comparisons of the whole notebook, from records.

The only module here that knows records: it turns pours and bars into the input of
the statistics, and has no statistics of its own.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from datetime import date
from itertools import chain, combinations
from math import comb
from statistics import median

from msgspec import Struct
from msgspec.structs import replace

from journal.comparison import observed
from journal.comparison.across import CrossDesignComparison, compare_across_designs
from journal.comparison.comparing import VariantComparison, announced_looks, compare_variants
from journal.comparison.contrast import Contrast, contrast, trials_shift
from journal.comparison.failures.conditions import ConditionOfFailure
from journal.comparison.failures.derive import (
    ConditionsBySymptom,
    failure_pots,
    notebook_conditions,
)
from journal.comparison.intervals import Interval, wilson_interval
from journal.comparison.observed import ComparedMeasure, ComparedVariant, ObservedBar
from journal.comparison.planned.chances import PlanChance, plan_chances
from journal.comparison.planned.held import bars_of_pots, held_against
from journal.comparison.planned.layout import PlannedTest, planned_test
from journal.comparison.scatter import (
    MeasureScatter,
    OtherScatter,
    ScatterHistory,
    known_on,
    measure_scatter,
)
from journal.comparison.trials import Stratum, Trials, build_trials, usable
from journal.errors import QuantityError
from journal.records.models.questions import ComparisonFile
from journal.records.models.settings import Measure, Settings, read_measure_difference
from journal.records.models.shelf import Shelf
from journal.records.models.variants import changed_keys
from journal.records.models.write_up import (
    EACH_POUR,
    MOST_PLANNED_BARS,
    Bar,
    Design,
    Pour,
    Recipe,
    Variant,
    names_compared,
)
from journal.records.notebook import Notebook
from journal.records.yaml.tree import WrittenList, WrittenTable

# Measures that go on changing after the pour: only follow-ups are compared, if there are any.
GROWING = frozenset({"bleed", "scent"})

# From a key of a layer to the thing that it holds.
THING_OF_KEY = {"colours": "colourant", "additives": "additive"}


# Pots of a test that is not planned yet, to say what it may tell.
USUAL_POTS = 4


class YesNoCount(Struct, frozen=True):
    """The number of yes among the bars recorded, with the 95 % Wilson interval of its share."""

    yes: int
    n: int
    interval: Interval


class MeasureResults(Struct, frozen=True):
    """All values of one measure of one variant; ``bars`` and ``values`` go side by side."""

    measure: Measure
    bars: tuple[str, ...]
    values: tuple[float, ...]
    not_measured: int
    share: YesNoCount | None  # for yes/no, where ``values`` are 0 and 1
    day: int | None  # the day of the follow-up, for what grows after the pour

    @property
    def median(self) -> float | None:
        """The middle value."""
        return median(self.values) if self.values else None

    @property
    def mean(self) -> float | None:
        """The average."""
        return sum(self.values) / len(self.values) if self.values else None


class VariantResults(Struct, frozen=True):
    """Counts and measures of one variant's bars; ``kept`` is None if it was not recorded.

    Of ``bars`` poured ``spoilt`` were dropped or lost: they are in none of the other counts.
    """

    variant: str
    bars: int
    spoilt: int
    pours: int
    kept: YesNoCount | None
    measures: tuple[MeasureResults, ...]


class ResultsSummary(Struct, frozen=True):
    """The variants compared and the deciding comparisons, which lists of designs show."""

    pairs: tuple[tuple[str, str], ...]
    deciding: tuple[VariantComparison, ...]


class PlanResults(Struct, frozen=True):
    """A planned test: its layout, the chances to tell, how far it is, where it was not kept.

    ``measure`` decides it. ``poured`` counts the bars since the question. ``written`` is False
    for one that stands in no write-up: what a question could be planned as.
    """

    test: PlannedTest
    measure: ComparedMeasure
    chances: tuple[PlanChance, ...]
    poured: int
    deviations: tuple[str, ...]
    written: bool = True

    @property
    def chance(self) -> PlanChance:
        """The chance that it tells with as many pots as are planned."""
        return next(one for one in self.chances if one.pots == self.test.pots)


class DesignResults(Struct, frozen=True):
    """Measures of each variant of a design, and the comparisons of the variants.

    ``plan`` is None where no test is planned.
    """

    design: str
    variants: tuple[VariantResults, ...]
    comparisons: tuple[VariantComparison, ...]
    plan: PlanResults | None = None


class CrossDesignResults(Struct, frozen=True):
    """An answer to a question across designs; ``empty_because`` says why there is none."""

    question: ComparisonFile
    thing: str
    values: tuple[str, ...]
    designs: tuple[str, ...]
    results: tuple[CrossDesignComparison, ...]
    empty_because: str


class DesignScatter(Struct, frozen=True):
    """How much one design's pots differ, by measure; and what it borrows from other designs.

    ``borrows`` goes from each measure by which its pots may be compared, or a test is planned, to
    the day on which that was looked at, None but for what grows. What was poured after
    ``borrows_until`` is not borrowed.
    """

    measures: Mapping[str, ScatterHistory]
    borrows: Mapping[str, int | None]
    borrows_until: date


# Scatter of the designs of a notebook, by measure and the day of its look, then by design.
LentScatter = Mapping[tuple[str, int | None], Mapping[str, ScatterHistory]]


class ComparisonResults(Struct, frozen=True):
    """All comparisons of a notebook; ``summaries`` are of the designs.

    ``designs`` and ``exact`` are alike. Pages made from the first change with what is shown, those
    from the second with every digit: what is worth money is shown to the coin.
    ``conditions`` are those that were held against each symptom.
    """

    designs: Mapping[str, DesignResults]
    exact: Mapping[str, DesignResults]
    across: Mapping[str, CrossDesignResults]
    summaries: Mapping[str, ResultsSummary]
    scatters: Mapping[str, DesignScatter]
    conditions: ConditionsBySymptom

    @property
    def every_condition(self) -> Iterator[ConditionOfFailure]:
        """Every condition that was held against a symptom, by symptom, the clearest first."""
        return chain.from_iterable(self.conditions.values())


def compare_designs(notebook: Notebook) -> ComparisonResults:
    """Results and comparisons of every design, and of every question across designs."""
    scatters = notebook_scatters(notebook)
    lent = lent_scatter(scatters)
    designs = {
        name: design_results(
            notebook.settings, notebook.shelf, design, other_scatter(name, scatters[name], lent)
        )
        for name, design in notebook.designs.items()
    }
    answers = {
        name: cross_design_results(notebook, question)
        for name, question in notebook.comparisons.items()
    }
    summaries = {name: results_summary(results) for name, results in designs.items()}
    pots = (
        failure_pots(notebook.settings, notebook.shelf, design)
        for design in notebook.designs.values()
    )
    conditions = notebook_conditions(chain.from_iterable(pots))
    return ComparisonResults(designs, designs, answers, summaries, scatters, conditions)


def results_summary(results: DesignResults) -> ResultsSummary:
    """The summary of a design's results."""
    return ResultsSummary(
        tuple(dict.fromkeys(entry.between for entry in results.comparisons)),
        tuple(entry for entry in results.comparisons if entry.deciding),
    )


def lost_choices(results: ResultsSummary) -> tuple[tuple[str, str], ...]:
    """What lost the comparison that the design's question is decided by, each with its group.

    Of a pair whose verdict is "better" the other one lost: a choice of a group, or a variant,
    whose group is "".
    """
    return tuple(
        (entry.group, name)
        for entry in results.deciding
        if entry.verdict.code == "better"
        for name in entry.between
        if name != entry.verdict.favours
    )


def lost_variants(variants: Iterable[Variant], lost: Collection[tuple[str, str]]) -> frozenset[str]:
    """The variants that lost, or were made with a choice that did; ``lost`` is of lost_choices."""
    return frozenset(
        one.name
        for one in variants
        if ("", one.name) in lost or any(choice in lost for choice in one.chosen.items())
    )


def measures_of(settings: Settings) -> tuple[ComparedMeasure, ...]:
    """The measures that can be compared: those with a difference that matters, but for colours."""
    return tuple(
        ComparedMeasure(
            name=name,
            kind=written.kind,
            better=written.better,
            matters=written.matters,
            unit="" if written.kind == "rating" else written.unit,
            highest=written.of,
        )
        for name, written in settings.all_measures().items()
        if written.kind != "colour" and written.matters is not None
    )


def follow_up_day(design: Design, measure: str) -> int | None:
    """The day of the most follow-ups, the later on a tie; None if the measure does not grow."""
    if measure not in GROWING:
        return None
    days: dict[int, int] = {}
    for pour in design.pours:
        for later in pour.later:
            if later.day > 0 and measure in later.measures:
                days[later.day] = days.get(later.day, 0) + 1
    return max(days, key=lambda day: (days[day], day)) if days else None


def value_of(
    design: Design, pour: Pour, bar: Bar, measure: str
) -> float | bool | tuple[float, float, float] | None:
    """A bar's value of a measure; for one that grows it is that of the ``follow_up_day``.

    None if it was not recorded, and for a measure of the detail on a bar whose detail lifted:
    such a value counts in no comparison, so it counts in no median beside one either.
    """
    if measure in observed.ON_THE_DETAIL and bar.measures.get("lifted") is True:
        return None
    return _value_on(follow_up_day(design, measure), pour, bar, measure)


def _value_on(
    day: int | None, pour: Pour, bar: Bar, measure: str
) -> float | bool | tuple[float, float, float] | None:
    """A bar's value of the follow-up on a day; without a day, the one of its own row.

    A bar that was dropped or lost has none.
    """
    if bar.spoilt:
        return None
    if day is None:
        return bar.measures.get(measure)
    for later in pour.later:
        if later.bar == bar.bar and later.day == day:
            return later.measures.get(measure)
    return None


def design_scatter(settings: Settings, shelf: Shelf, design: Design) -> DesignScatter:
    """The scatter of one design's pots by each measure that its bars have, pour by pour."""
    variants = compared_variants(shelf, design)
    all_measures, measures = settings.all_measures(), measures_of(settings)
    borrows: dict[str, int | None] = {}
    if design.plan is not None and design.question is not None:
        borrows[design.question.by] = follow_up_day(design, design.question.by)
    histories: dict[str, list[MeasureScatter]] = {}
    for day in sorted({pour.date for pour in design.pours if pour.bars}):
        so_far = dataclasses.replace(
            design, pours=tuple(pour for pour in design.pours if pour.date <= day)
        )
        bars = observed_bars(so_far, all_measures)
        for measure in measures:
            if not any(usable(bar, measure) for bar in bars if bar.poured_on == day):
                continue
            follow_up = follow_up_day(so_far, measure.name)
            trials = _trials_of_pairs(variants, bars, measure)
            if any(one.by == "pots" for one in trials):
                borrows[measure.name] = follow_up_day(design, measure.name)
            shifts = [trials_shift(one) for one in trials if one.strata]
            scatter = measure_scatter(bars, measure, follow_up, shifts)
            if scatter is not None:
                histories.setdefault(measure.name, []).append(scatter)
    measures_so_far = {name: tuple(history) for name, history in histories.items()}
    return DesignScatter(measures_so_far, borrows, _borrows_until(design))


def _trials_of_pairs(
    variants: Sequence[ComparedVariant], bars: Sequence[ObservedBar], measure: ComparedMeasure
) -> list[Trials]:
    """The trials of every pair of variants of a group, by one measure."""
    return [
        build_trials(
            bars,
            measure,
            (first.name, second.name),
            first.group,
            observed.trials_of(observed.changed_between(first, second)),
        )
        for first, second in combinations(variants, 2)
        if first.group == second.group
    ]


def _first_planned(design: Design) -> date:
    """The day of the first pour that a plan is for, up to which it borrows; before it, all."""
    asked = date.max if design.question is None else design.question.asked
    poured = (pour.date for pour in design.pours if pour.bars and pour.date >= asked)
    return min(poured, default=date.max)


def _borrows_until(design: Design) -> date:
    """The last day of which any answer of a design borrows."""
    last = max((pour.date for pour in design.pours if pour.bars), default=date.min)
    return last if design.plan is None else max(last, _first_planned(design))


def notebook_scatters(notebook: Notebook) -> dict[str, DesignScatter]:
    """The scatter of every design's pots, by its id."""
    return {
        name: design_scatter(notebook.settings, notebook.shelf, design)
        for name, design in notebook.designs.items()
    }


def lent_scatter(scatters: Mapping[str, DesignScatter]) -> LentScatter:
    """The scatter of all designs, by measure and the day on which it was looked at."""
    lent: dict[tuple[str, int | None], dict[str, ScatterHistory]] = {}
    for name, own in scatters.items():
        for measure, history in own.measures.items():
            for day in {scatter.follow_up for scatter in history}:
                looked = tuple(scatter for scatter in history if scatter.follow_up == day)
                lent.setdefault((measure, day), {})[name] = looked
    return lent


def other_scatter(design: str, own: DesignScatter, lent: LentScatter) -> OtherScatter:
    """What a design may borrow: by measure, the scatter of those that looked on the same day."""
    return {
        measure: tuple(
            history for name, history in lent.get((measure, day), {}).items() if name != design
        )
        for measure, day in own.borrows.items()
    }


def design_results(
    settings: Settings, shelf: Shelf, design: Design, others: OtherScatter | None = None
) -> DesignResults:
    """The results of one design; variants are compared if it has two or more, and bars.

    ``others`` is from ``other_scatter``.
    """
    measures = settings.all_measures()
    variants = tuple(_variant_results(measures, design, one.name) for one in design.variants)
    compared: tuple[VariantComparison, ...] = ()
    plan = design_plan(settings, shelf, design)
    if len(design.variants) > 1 and design.bars:
        compared = compare_variants(
            observed_bars(design, measures),
            measures_of(settings),
            compared_variants(shelf, design),
            _question(settings, design),
            others,
            plan,
        )
    by = "" if design.question is None else design.question.by
    results = plan_results(settings, shelf, design, (others or {}).get(by, ()))
    return DesignResults(design.id, variants, compared, results)


def design_plan(
    settings: Settings, shelf: Shelf, design: Design, pots: int | None = None
) -> PlannedTest | None:
    """The test that a design has planned, or with ``pots`` one that it could plan.

    None where nothing is planned, or the question cannot be decided. Without bars of its own a
    plan's pot has as many as the mould, else as the batch.
    """
    question, written = _question(settings, design), design.plan
    if question is None or design.question is None or (written is None and pots is None):
        return None
    names = names_compared(design.groups, design.question)
    compared = [
        one
        for one in compared_variants(shelf, design)
        if one.group == question.group and one.name in names
    ]
    if len(compared) < 2:
        return None
    changed = {
        thing
        for first, second in combinations(compared, 2)
        for thing in observed.changed_between(first, second)
    }
    mould = shelf.moulds.get(design.recipe.mould or "")
    bars, in_row = design.recipe.bars, None
    if mould is not None:
        bars = mould.bars or bars
        in_row = mould.rows[1] if mould.rows and not mould.bars_each else None
    by = observed.trials_of(tuple(changed))
    seed = "" if written is None else written.seed
    if written is not None:
        pots, bars = pots or written.pots, written.bars or bars
    bars = min(bars, MOST_PLANNED_BARS)
    if bars < len(compared):
        by = "pots"
    level = plan_level(question, len(compared))
    names = tuple(one.name for one in compared)
    return planned_test(names, question.group, by, seed, pots or 1, bars, level, in_row)


def plan_pots_poured(
    settings: Settings, design: Design, test: PlannedTest
) -> tuple[dict[int, observed.ObservedBar], ...]:
    """The bars of each pot of a design's planned test that is written up, by cavity."""
    question = _question(settings, design)
    assert question is not None
    bars = observed_bars(design, settings.all_measures())
    return bars_of_pots(test, [bar for bar in bars if bar.poured_on >= question.asked])


def plan_level(question: observed.ComparisonQuestion, variants: int) -> float:
    """The p of one pair of variants that tells at the first look, however many pairs there are."""
    return announced_looks(question)[0].level / comb(variants, 2)


def plan_results(
    settings: Settings,
    shelf: Shelf,
    design: Design,
    others: Sequence[ScatterHistory],
    pots: int | None = None,
) -> PlanResults | None:
    """What is known of a test that a design has planned, or with ``pots`` could plan.

    ``others`` is the scatter of other designs by the measure that decides. Once the plan is poured
    its chances stay those of the first pour.
    """
    question, test = _question(settings, design), design_plan(settings, shelf, design, pots)
    if question is None or test is None:
        return None
    measure = next(one for one in measures_of(settings) if one.name == question.by)
    if question.matters is not None:
        measure = replace(measure, matters=question.matters)
    bars = observed_bars(design, settings.all_measures())
    since = [bar for bar in bars if bar.poured_on >= question.asked]
    known = known_on(_first_planned(design), others)
    written = design.plan is not None
    return PlanResults(
        test,
        measure,
        plan_chances(test, measure, known, plan_level(question, len(test.compared))),
        len(since),
        held_against(test, since).deviations if written else (),
        written,
    )


def possible_plan(
    notebook: Notebook, design: Design, scatters: Mapping[str, DesignScatter]
) -> PlanResults | None:
    """How a design's question is planned, or could be, of which nothing is poured yet; else None.

    ``design`` may be one that is not in the notebook yet.
    """
    if design.question is None:
        return None
    by = design.question.by
    could = DesignScatter({}, {by: follow_up_day(design, by)}, date.max)
    others = other_scatter(design.id, could, lent_scatter(scatters))
    pots = USUAL_POTS if design.plan is None else None
    found = plan_results(notebook.settings, notebook.shelf, design, others[by], pots)
    return None if found is None or found.poured else found


def _variant_results(
    measures: Mapping[str, Measure], design: Design, variant: str
) -> VariantResults:
    """The results of one variant, measure by measure; colours are left out."""
    pairs = [(p, bar) for p in design.pours for bar in p.bars if bar.variant == variant]
    judged = [(pour, bar) for pour, bar in pairs if not bar.spoilt]
    results = []
    for name, measure in measures.items():
        day = follow_up_day(design, name)
        values = [(bar.bar, _value_on(day, pour, bar, name)) for pour, bar in judged]
        measured = [(bar, float(v)) for bar, v in values if isinstance(v, float | int)]
        if measure.kind == "colour" or not measured:
            continue
        share = None
        if measure.kind == "yes-no":
            yes = sum(v == 1.0 for _, v in measured)
            share = YesNoCount(yes, len(measured), wilson_interval(yes, len(measured), 0.95))
        results.append(
            MeasureResults(
                measure,
                tuple(bar for bar, _ in measured),
                tuple(value for _, value in measured),
                len(values) - len(measured),
                share,
                day,
            )
        )
    kept = next((entry.share for entry in results if entry.measure.name == "keep"), None)
    pours = len({pour.label for pour, _ in pairs})
    spoilt = len(pairs) - len(judged)
    return VariantResults(variant, len(pairs), spoilt, pours, kept, tuple(results))


def observed_bars(design: Design, measures: Mapping[str, Measure]) -> tuple[ObservedBar, ...]:
    """The bars of a design as input of the comparisons."""
    chosen = {variant.name: dict(variant.chosen) for variant in design.variants}
    days = [
        (name, follow_up_day(design, name))
        for name, measure in measures.items()
        if measure.kind != "colour"
    ]
    return tuple(
        ObservedBar(
            bar=bar.bar,
            pour=pour.label,
            poured_on=pour.date,
            variant=bar.variant,
            values={
                name: value
                for name, day in days
                if isinstance(value := _value_on(day, pour, bar, name), float | int)
            },
            design=design.id,
            levels=chosen[bar.variant],
            lifted=lifted if isinstance(lifted := bar.measures.get("lifted"), bool) else None,
            spoilt=bool(bar.spoilt),
            row=row,
            at=bar.cavity,
            peeled=bar.peeled,
        )
        for row, (pour, bar) in enumerate((pour, bar) for pour in design.pours for bar in pour.bars)
    )


def compared_variants(shelf: Shelf, design: Design) -> tuple[ComparedVariant, ...]:
    """The variants, or the choices of each group, with what each changes."""
    entries = design.variants_tree
    if entries is None:
        return ()
    if not design.groups:
        return tuple(
            ComparedVariant(one.name, "", _written_changes(entries[one.name], shelf, one.recipe))
            for one in design.variants
        )
    compared: list[ComparedVariant] = []
    for group, choices in design.groups.items():
        for choice in choices:
            recipe = next(v for v in design.variants if v.chosen[group] == choice).recipe
            changes = _written_changes(entries[group][choice], shelf, recipe)
            compared.append(ComparedVariant(choice, group, changes))
    return tuple(compared)


def _written_changes(tree: object, shelf: Shelf, recipe: Recipe) -> dict[str, str]:
    """The changes that a variant's entry writes: from dotted key to the new value as text."""
    if not isinstance(tree, WrittenTable):
        return {}
    changes = {key: _as_line(_value_at(tree, key)) for key in changed_keys(tree)}
    piece = shelf.pieces.get(recipe.piece or "")
    # A piece has one trim: to change the trim is to take another piece, not a second change.
    if "trim" in changes and piece is not None and piece.trim in (None, recipe.trim):
        changes.pop("piece", None)
    return changes


def _value_at(tree: WrittenTable, path: str) -> object:
    """The written value at a key, or at ``layers.NAME.KEY``."""
    if path in tree:
        return tree[path]
    _, layer, key = path.split(".", 2)
    return tree["layers"][layer][key]


def _as_line(value: object) -> str:
    """A written value as one line of text."""
    if isinstance(value, WrittenTable):
        return ", ".join(f"{key}: {_as_line(entry)}" for key, entry in value.items())
    if isinstance(value, WrittenList):
        return ", ".join(map(_as_line, value))
    return str(value)


def _question(settings: Settings, design: Design) -> observed.ComparisonQuestion | None:
    """The question of a design as input of the comparisons; None if it cannot be decided."""
    written = design.question
    if written is None:
        return None
    measure = settings.all_measures().get(written.by)
    if measure is None or measure.matters is None or not _are_names_known(design, written.compare):
        # Reading has reported the error at its place; all measures are looks then.
        return None
    compare_names, group = written.compare, ""
    if len(written.compare) == 1:
        compare_names, group = (), written.compare[0]
    else:
        for name, choices in design.groups.items():
            if all(choice in choices for choice in written.compare):
                group = name
    matters = None
    if written.matters is not None:
        try:
            matters = read_measure_difference(written.matters, measure.kind)
        except QuantityError:
            return None
    return observed.ComparisonQuestion(
        by=written.by,
        asked=written.asked,
        until=written.until.number,
        until_of="bars" if written.until.of == "bars" else "pours",
        compare=compare_names,
        group=group,
        matters=matters,
        last_look=None if written.looks is None else EACH_POUR[1],
    )


def _are_names_known(design: Design, names: Sequence[str]) -> bool:
    """Whether the names are one group of the design, or variants that belong to one group."""
    if len(names) == 1:
        return names[0] in design.groups
    groups = design.groups.values() or [tuple(variant.name for variant in design.variants)]
    return any(all(name in choices for name in names) for choices in groups)


class DesignContrasts(Struct, frozen=True):
    """Bars and contrasts of one design for a question across designs.

    ``bars`` are those that meet its conditions; their ``variant`` is the value of what is
    compared. ``contrasts`` are (measure, pair of values, contrast), for each pair of values of
    which the design has one or both.
    """

    bars: tuple[ObservedBar, ...]
    contrasts: tuple[tuple[str, tuple[str, str], Contrast], ...]


def cross_design_bars(
    settings: Settings, question: ComparisonFile, design: Design
) -> tuple[ObservedBar, ...]:
    """The bars of one design that meet the conditions of a question across designs.

    Their ``variant`` is the value of what is compared. Variants without such a value are left out.
    """
    thing = question.record.between
    compared = {}
    for variant in design.variants:
        value = compared_value(variant.recipe, thing)
        if value is not None and _meets_conditions(design, variant, question.record.where):
            compared[variant.name] = variant.recipe, value
    if not compared:
        return ()
    bars: list[ObservedBar] = []
    all_measures = settings.all_measures()
    for bar, poured in zip(observed_bars(design, all_measures), design.bars, strict=True):
        if poured.variant in compared:
            recipe, value = compared[poured.variant]
            conditions = _conditions(recipe, bar, thing)
            bars.append(replace(bar, variant=value, levels={}, conditions=conditions))
    return tuple(bars)


def design_contrasts(
    settings: Settings,
    question: ComparisonFile,
    bars: tuple[ObservedBar, ...],
    values: Sequence[str],
) -> DesignContrasts:
    """Compare the values within one design, for a question across designs.

    ``bars`` are from ``cross_design_bars``; ``values`` are all that any design has.
    """
    own_values = {bar.variant for bar in bars}
    by = observed.trials_of((question.record.between,))
    contrasts = tuple(
        (measure.name, between, contrast(bars, measure, between, "", by))
        for measure in _question_measures(settings, question)
        for between in combinations(values, 2)
        if not own_values.isdisjoint(between)
    )
    return DesignContrasts(bars, contrasts)


def _question_measures(settings: Settings, question: ComparisonFile) -> tuple[ComparedMeasure, ...]:
    """The measures that a question names, as far as they can be compared."""
    by_name = {measure.name: measure for measure in measures_of(settings)}
    return tuple(by_name[name] for name in question.record.by if name in by_name)


def cross_design_results(notebook: Notebook, question: ComparisonFile) -> CrossDesignResults:
    """The answer to a question across designs."""
    settings = notebook.settings
    bars = [cross_design_bars(settings, question, design) for design in notebook.designs.values()]
    values = sorted({bar.variant for own in bars for bar in own})
    rows = (design_contrasts(settings, question, own, values) for own in bars if own)
    return cross_design_answer(settings, question, rows)


def cross_design_answer(
    settings: Settings, question: ComparisonFile, rows: Iterable[DesignContrasts]
) -> CrossDesignResults:
    """The answer to a question across designs; ``rows`` come in the order of the designs."""
    thing = question.record.between
    bars: list[ObservedBar] = []
    contrasts: dict[tuple[str, str, tuple[str, str]], Contrast] = {}
    for row in rows:
        if row.bars:
            bars.extend(row.bars)
            design = row.bars[0].design
            for name, between, result in row.contrasts:
                contrasts[design, name, between] = result
    values = tuple(sorted({bar.variant for bar in bars}))
    designs = tuple(sorted({bar.design for bar in bars}))
    if len(values) < 2:
        why = "no two values of it were poured" if values else "no bar meets the conditions"
        return CrossDesignResults(question, thing, values, designs, (), why)
    measures = _question_measures(settings, question)
    results = compare_across_designs(
        bars,
        measures,
        values,
        observed.trials_of((thing,)),
        thing,
        question.record.by[0],
        contrasts,
    )
    # A pair of values that no design has both of is no comparison, unless all are.
    paired = tuple(entry for entry in results if entry.paired)
    return CrossDesignResults(question, thing, values, designs, paired or results, "")


def without_values(own: DesignContrasts) -> DesignContrasts:
    """A design's contrasts with no more of its bars than is asked of all designs together.

    Bars of one value in the same conditions are one: those of a thousand designs take 20 MB less.
    """
    alike: dict[tuple[object, ...], ObservedBar] = {}
    slim: dict[int, ObservedBar] = {}
    for bar in own.bars:
        slim[id(bar)] = alike.setdefault(
            (bar.variant, *bar.conditions.items()),
            ObservedBar(
                "", "", bar.poured_on, bar.variant, {}, design=bar.design, conditions=bar.conditions
            ),
        )
    changed = _map_all_bars(own, lambda bar: slim[id(bar)])
    return replace(changed, bars=tuple(slim[id(bar)] for bar in own.bars))


def compared_value(recipe: Recipe, thing: str) -> str | None:
    """The value of what is compared in one recipe, as text; None where it has none.

    ``thing`` is mat, mould, piece, trim (its kind), base (of the last layer),
    colourant, additive, fragrance (all of the recipe), or ``layer.NAME.KEY``.
    """
    if thing == "trim":
        return recipe.trim.kind if recipe.trim is not None else None
    if thing in ("mat", "mould", "piece"):
        name: str | None = getattr(recipe, thing)
        return name
    key, layers = thing, recipe.layers
    if thing.startswith(("layer.", "layers.")) and thing.count(".") == 2:
        _, layer_name, key = thing.split(".")
        key = THING_OF_KEY.get(key, key)
        layers = tuple(layer for layer in layers if layer.name == layer_name)
    if not layers:
        return None
    if key == "base":
        base = layers[-1].base
        names = [*(name for name, _ in base.shares), *filter(None, (base.leftover,))]
        return " and ".join(names) or None
    if key in THING_OF_KEY.values():
        doses = (one.thing for layer in layers for one in layer.dosed)
        return _joined(name for kind, name in doses if kind == f"{key}s")
    if key == "fragrance":
        return _joined(oil.oil for layer in layers for oil in layer.fragrance)
    value = getattr(layers[0], key, None) if key != thing else None
    return None if value is None else str(value)


def _joined(names: Iterable[str]) -> str | None:
    return " and ".join(sorted(set(names))) or None


def _meets_conditions(design: Design, variant: Variant, where: Sequence[tuple[str, str]]) -> bool:
    """Whether a variant of a design meets every condition of a question."""
    for key, required in where:
        if key == "subject":
            meets = required in design.subjects
        else:
            value = design.state if key == "state" else compared_value(variant.recipe, key)
            meets = value == required
        if not meets:
            return False
    return True


def _conditions(recipe: Recipe, bar: ObservedBar, thing: str) -> dict[str, str]:
    """Other conditions of a bar that could explain a difference, from name to value."""
    kinds = ("base", "mould", "mat", "colourant", "additive", "fragrance")
    values = {kind: compared_value(recipe, kind) for kind in kinds}
    # Meteorological seasons of the northern half.
    values["season"] = ("winter", "spring", "summer", "autumn")[bar.poured_on.month % 12 // 3]
    # What is compared does not explain itself.
    last = thing.rpartition(".")[2]
    same = THING_OF_KEY.get(last, last)
    return {key: value for key, value in values.items() if value is not None and key != same}


def compact_contrasts(own: DesignContrasts) -> DesignContrasts:
    """A design's contrasts made small for the cache: bars are replaced by their number."""
    numbers = {id(bar): number for number, bar in enumerate(own.bars)}
    named = [ObservedBar(str(number), "", date.min, "", {}) for number in range(len(own.bars))]
    return _map_all_bars(own, lambda bar: named[numbers[id(bar)]])


def restored_contrasts(cached: DesignContrasts) -> DesignContrasts:
    """The contrasts from the cache, the numbers replaced by their bars again."""
    return _map_all_bars(cached, lambda bar: cached.bars[int(bar.bar)])


def _map_all_bars(
    own: DesignContrasts, change: Callable[[ObservedBar], ObservedBar]
) -> DesignContrasts:
    """The same contrasts with every bar in them replaced by ``change`` of it."""
    contrasts = (
        (name, between, _map_bars(result, lambda bars: tuple(map(change, bars))))
        for name, between, result in own.contrasts
    )
    return DesignContrasts(own.bars, tuple(contrasts))


def _map_bars(
    result: Contrast, change: Callable[[tuple[ObservedBar, ...]], tuple[ObservedBar, ...]]
) -> Contrast:
    """The same contrast with each tuple of bars in it replaced by ``change`` of it."""
    strata = tuple(
        Stratum(stratum.values, (change(stratum.bars[0]), change(stratum.bars[1])))
        for stratum in result.trials.strata
    )
    fit = change(result.trials.fit[0]), change(result.trials.fit[1])
    return replace(result, trials=replace(result.trials, strata=strata, fit=fit))


def without_bars(result: Contrast) -> Contrast:
    """The contrast without its bars, which are in the records already."""
    return _map_bars(result, lambda _: ())


def compact_results(results: DesignResults) -> DesignResults:
    """The results of a design without the bars behind them."""
    entries = (
        replace(entry, contrast=without_bars(entry.contrast)) for entry in results.comparisons
    )
    return replace(results, comparisons=tuple(entries))


def compact_answer(answer: CrossDesignResults) -> CrossDesignResults:
    """The answer to a question across designs without the bars behind it."""
    results = tuple(
        replace(
            entry,
            rows=tuple(replace(row, contrast=without_bars(row.contrast)) for row in entry.rows),
        )
        for entry in answer.results
    )
    return replace(answer, results=results)
