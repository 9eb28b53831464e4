"""Every comparison of one design: those that decide its question, and looks without a question."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from journal.comparison import observed
from journal.comparison.confounding import confounders
from journal.comparison.contrast import (
    Contrast,
    contrast,
    contrast_trials_needed,
    variant_variance_components,
)
from journal.comparison.multiplicity import holm
from journal.comparison.observed import ComparedMeasure, ComparedVariant, ObservedBar
from journal.comparison.spread import VarianceComponents
from journal.comparison.trials import VariantSample, level_of, usable
from journal.comparison.verdict import Evidence, Finding, verdict
from journal.errors import FigureError


class EarlierPours(Struct, frozen=True):
    """Bars measured of each variant before the question, and the difference, second less first."""

    measured: tuple[int, int]
    difference: float | None


class PourProgress(Struct, frozen=True):
    """Pours or bars measured so far, out of those that the verdict waits for."""

    poured: int
    until: int
    of: Literal["pours", "bars"]

    @property
    def reached(self) -> bool:
        """Whether the verdict is due."""
        return self.poured >= self.until


class VariantComparison(Finding, frozen=True, kw_only=True):
    """Two variants of a design compared by one measure.

    ``changed`` are the things in which the variants differ; with several nobody can tell
    which of them made the difference. ``earlier`` is set on a deciding comparison with
    pours before the question. ``progress`` is None for a look.
    """

    trials: observed.VariantTrialKind
    group: str
    contrast: Contrast
    changed: tuple[str, ...]
    spread: VarianceComponents | None
    progress: PourProgress | None
    earlier: EarlierPours | None

    @property
    def sides(self) -> tuple[VariantSample, VariantSample]:
        """Both variants' bars: measured, not measured, and why."""
        return self.contrast.trials.sides


class _Draft(Struct):
    """A comparison before p is adjusted; ``bars`` are those compared."""

    between: tuple[str, str]
    group: str
    deciding: bool
    result: Contrast
    bars: Sequence[ObservedBar]
    changed: tuple[str, ...]
    earlier: EarlierPours | None = None


def compare_variants(
    bars: Sequence[ObservedBar],
    measures: Sequence[ComparedMeasure],
    variants: Sequence[ComparedVariant] = (),
    question: observed.ComparisonQuestion | None = None,
) -> tuple[VariantComparison, ...]:
    """Compare a design's variants, pair by pair, by every measure.

    The question's pairs by its measure come first and decide, on the pours since
    it was asked; Holm's adjustment is over those pairs. All other comparisons are
    looks: every pair within a group of variants by every measure that was taken, on
    all pours, adjusted over all of them together. A pair of the question is a look,
    too, if nothing of it was poured since the question was asked.

    Takes:  bars      of one design
            measures  what may have been measured
            variants  in the order of the write-up; none: those of the bars
            question  what was to be decided, if anything was
    Gives:  comparisons, deciding ones first
    Fails:  FigureError if the question names a variant, group or measure that is
            not there
    Source: the parts' own
    Checked: three bars against three: see the tests
    """
    all_variants = tuple(variants) or tuple(
        ComparedVariant(name) for name in dict.fromkeys(bar.variant for bar in bars)
    )
    if question is not None:
        _check_question(question, all_variants, measures)
        measures = [
            replace(measure, matters=question.matters)
            if question.matters is not None and measure.name == question.by
            else measure
            for measure in measures
        ]
    drafts: list[_Draft] = []
    for first, second in _variant_pairs(all_variants, question):
        between = (first.name, second.name)
        changed = observed.changed_between(first, second)
        by = observed.trials_of(changed)
        of_pair = [bar for bar in bars if level_of(bar, first.group) in between]
        for measure in measures:
            decides = question is not None and _is_decided_by(question, first, second, measure)
            if not decides and all(bar.values.get(measure.name) is None for bar in of_pair):
                continue
            earlier: EarlierPours | None = None
            used: Sequence[ObservedBar] = of_pair
            if decides and question is not None:
                before = [bar for bar in of_pair if bar.poured_on < question.asked]
                used = [bar for bar in of_pair if bar.poured_on >= question.asked]
                if before and not used:
                    used, decides = before, False
                elif before:
                    look = contrast(before, measure, between, first.group, by)
                    earlier = EarlierPours(
                        (look.trials.sides[0].measured, look.trials.sides[1].measured),
                        look.difference,
                    )
            result = contrast(used, measure, between, first.group, by)
            drafts.append(_Draft(between, first.group, decides, result, used, changed, earlier))
    return _with_verdicts(drafts, _progress(bars, measures, question))


def _check_question(
    question: observed.ComparisonQuestion,
    variants: Sequence[ComparedVariant],
    measures: Sequence[ComparedMeasure],
) -> None:
    """Raise FigureError if the question names a measure, group or variant that is not there."""
    if question.by not in [measure.name for measure in measures]:
        raise FigureError(f'the question\'s measure "{question.by}" is none of the measures')
    names = [variant.name for variant in variants if variant.group == question.group]
    if not names:
        raise FigureError(f'there are no variants in the group "{question.group}"')
    for name in question.compare:
        if name not in names:
            raise FigureError(f'the question compares "{name}", which is no variant')


def _variant_pairs(
    variants: Sequence[ComparedVariant], question: observed.ComparisonQuestion | None
) -> list[tuple[ComparedVariant, ComparedVariant]]:
    """All pairs of variants within each group, those of the question in its own order."""
    pairs: list[tuple[ComparedVariant, ComparedVariant]] = []
    for group in dict.fromkeys(variant.group for variant in variants):
        own = {variant.name: variant for variant in variants if variant.group == group}
        in_question = question.compare if question is not None and question.group == group else ()
        order = list(dict.fromkeys([*in_question, *own]))
        pairs.extend((own[a], own[b]) for a, b in combinations(order, 2))
    return pairs


def _is_decided_by(
    question: observed.ComparisonQuestion,
    first: ComparedVariant,
    second: ComparedVariant,
    measure: ComparedMeasure,
) -> bool:
    """Whether the question is about this pair by this measure."""
    if measure.name != question.by or first.group != question.group:
        return False
    in_question = question.compare
    return not in_question or (first.name in in_question and second.name in in_question)


def _progress(
    bars: Sequence[ObservedBar],
    measures: Sequence[ComparedMeasure],
    question: observed.ComparisonQuestion | None,
) -> PourProgress | None:
    """Count the pours or bars since the question that were measured; None without a question."""
    if question is None:
        return None
    measure = next(measure for measure in measures if measure.name == question.by)
    counted: set[tuple[str, ...]] = set()
    for bar in bars:
        level = level_of(bar, question.group)
        compared = level in question.compare if question.compare else level
        if bar.poured_on < question.asked or not compared:
            continue
        # A lifted detail was looked at, though there was nothing to measure.
        if not usable(bar, measure) and not (measure.needs_the_detail and bar.lifted):
            continue
        pour = (bar.design, bar.pour)
        counted.add(pour if question.until_of == "pours" else (*pour, bar.pot, bar.bar))
    return PourProgress(len(counted), question.until, question.until_of)


def _with_verdicts(
    drafts: Sequence[_Draft], progress: PourProgress | None
) -> tuple[VariantComparison, ...]:
    """Adjust p over the deciding comparisons, and over the looks, and give each its verdict."""
    comparisons: list[VariantComparison] = []
    for deciding in (True, False):
        family = [draft for draft in drafts if draft.deciding == deciding]
        ps = [draft.result.test.p if draft.result.test else None for draft in family]
        tests = sum(p is not None for p in ps)
        # A look that is worth more trials would be asked as a question of its own.
        pairs = len(family) if deciding else 1
        for draft, p, adjusted in zip(family, ps, holm(ps), strict=True):
            comparisons.append(
                _comparison(draft, p, adjusted, tests, pairs, progress if deciding else None)
            )
    return tuple(comparisons)


def _comparison(
    draft: _Draft,
    p: float | None,
    adjusted: float | None,
    family: int,
    pairs: int,
    progress: PourProgress | None,
) -> VariantComparison:
    """The comparison of a draft, with its verdict."""
    result = draft.result
    measure = result.measure
    trials = result.trials
    more = contrast_trials_needed(result, pairs)
    evidence = Evidence(
        difference=result.difference,
        excess=result.test.excess if result.test else 0.0,
        p=adjusted,
        within=result.within,
        matters=measure.matters,
        reached=progress is None or progress.reached,
        reason_untestable=trials.why,
    )
    return VariantComparison(
        between=draft.between,
        deciding=draft.deciding,
        trials=trials.by,
        difference=result.difference,
        low=result.interval.low if result.interval else None,
        high=result.interval.high if result.interval else None,
        p=p,
        p_adjusted=adjusted,
        verdict=verdict(evidence, measure.better, draft.between, measure.name, trials.by, more),
        group=draft.group,
        measure=measure,
        contrast=result,
        family=family,
        within=result.within,
        more=more,
        changed=draft.changed,
        confounders=confounders((stratum.bars for stratum in trials.strata), draft.changed),
        spread=variant_variance_components(
            draft.bars, measure, draft.between, draft.group, trials.by
        ),
        progress=progress,
        earlier=draft.earlier,
    )
