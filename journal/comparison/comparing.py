"""Every comparison of one design: those that decide its question, and hints without a question."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from itertools import combinations
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from journal.comparison import observed
from journal.comparison.confounding import confounders
from journal.comparison.contrast import (
    Contrast,
    contrast,
    next_look_chance,
    variant_variance_components,
)
from journal.comparison.multiplicity import holm
from journal.comparison.observed import ComparedMeasure, ComparedVariant, ObservedBar
from journal.comparison.ordering import order_doubt
from journal.comparison.planned.held import held_against
from journal.comparison.planned.layout import PlannedTest
from journal.comparison.power import NextLook, effect_variance
from journal.comparison.scatter import MeasureScatter, OtherScatter, known_on
from journal.comparison.spread import VarianceComponents
from journal.comparison.trials import VariantSample, level_of, usable
from journal.comparison.verdict import (
    LOOK_LEVELS,
    SIGNIFICANCE_LEVEL,
    TOLD,
    Evidence,
    Finding,
    verdict,
)
from journal.errors import FigureError

# p at which a look after each pour tells, by the pours that the first look waits for, up to
# twelve: found by simulation so that all looks together are wrong in 5 % at most.
EACH_POUR_LEVELS = {2: 0.0068, 3: 0.0083, 4: 0.0102, 6: 0.0149}


class EarlierPours(Struct, frozen=True):
    """Bars measured of each variant before the question, and the difference, second less first."""

    measured: tuple[int, int]
    difference: float | None


class PourProgress(Struct, frozen=True):
    """Pours or bars measured so far, and those of them that the answer is from.

    ``until`` is how many the first look waits for. ``due`` says whether the answer is that of an
    announced look; else it is one "so far". ``counted`` are those that the answer is from; what
    was poured after a look that told is not among them. ``next_look`` is the number at which the
    next look is due, with the p that tells then, None after the last.
    """

    poured: int
    until: int
    of: Literal["pours", "bars"]
    due: bool
    counted: int
    next_look: Look | None


class Look(Struct, frozen=True):
    """An announced look: at how many pours or bars, and the p that tells."""

    at: int
    level: float


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


class _Pair(Struct, frozen=True):
    """Two variants of a group to compare by a measure, and the things that they change."""

    between: tuple[str, str]
    group: str
    measure: ComparedMeasure
    changed: tuple[str, ...]


class _Draft(Struct):
    """A comparison before p is adjusted; ``bars`` show how much bars, pots and days differ.

    ``others`` is the scatter that it may borrow. ``not_kept`` says where its plan was not kept, ""
    if it was.
    """

    pair: _Pair
    result: Contrast
    bars: Sequence[ObservedBar]
    others: Sequence[MeasureScatter]
    not_kept: str = ""


def compare_variants(
    bars: Sequence[ObservedBar],
    measures: Sequence[ComparedMeasure],
    variants: Sequence[ComparedVariant] = (),
    question: observed.ComparisonQuestion | None = None,
    others: OtherScatter | None = None,
    plan: PlannedTest | None = None,
) -> tuple[VariantComparison, ...]:
    """Compare a design's variants, pair by pair, by every measure.

    The question's pairs by its measure come first and decide, on the pours since
    it was asked, at the announced looks; Holm's adjustment is over those pairs. All other
    comparisons are hints: every pair within a group of variants by every measure that was
    taken, on all pours, adjusted over all of them together. A pair of the question is a hint,
    too, if nothing of it was poured since the question was asked. Each borrows the scatter of
    what was poured up to the last of its own pours that were measured.

    Takes:  bars      of one design
            measures  what may have been measured
            variants  in the order of the write-up; none: those of the bars
            question  what was to be decided, if anything was
            others    scatter of the notebook's other designs, day by day, by measure
            plan      of the question's test, if it was planned; the bars have different rows
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
    others = others or {}
    held, not_kept = (bars, "") if question is None else _held(bars, question, plan)
    deciding: list[_Pair] = []
    hints: list[_Draft] = []
    for first, second in _variant_pairs(all_variants, question):
        changed = observed.changed_between(first, second)
        of_pair = [bar for bar in held if level_of(bar, first.group) in (first.name, second.name)]
        for measure in measures:
            pair = _Pair((first.name, second.name), first.group, measure, changed)
            if question is not None and _is_decided_by(question, first, second, measure):
                since = [bar for bar in of_pair if bar.poured_on >= question.asked]
                if since or not of_pair:
                    deciding.append(pair)
                    continue
            if any(bar.values.get(measure.name) is not None for bar in of_pair):
                hints.append(_draft(pair, of_pair, others, not_kept=not_kept))
    answers: list[VariantComparison] = []
    if question is not None and deciding:
        answers = _at_looks(deciding, bars, question, others, plan)
    return (*answers, *_with_verdicts(hints, SIGNIFICANCE_LEVEL, None))


def _draft(
    pair: _Pair,
    bars: Sequence[ObservedBar],
    others: OtherScatter,
    poured: Sequence[ObservedBar] = (),
    not_kept: str = "",
) -> _Draft:
    """A pair compared on these bars, before its p is adjusted; ``poured`` show its scatter, too."""
    used = [bar for bar in bars if level_of(bar, pair.group) in pair.between]
    by = observed.trials_of(pair.changed)
    measured = (bar.poured_on for bar in used if usable(bar, pair.measure))
    # The day of the pour decides: it alone is written, and when a bar is judged goes by it.
    rest = known_on(max(measured, default=date.min), others.get(pair.measure.name, ()))
    found = contrast(used, pair.measure, pair.between, pair.group, by, rest)
    return _Draft(pair, found, poured or used, rest, not_kept)


def _held(
    bars: Sequence[ObservedBar], question: observed.ComparisonQuestion, plan: PlannedTest | None
) -> tuple[Sequence[ObservedBar], str]:
    """The bars with the blocks of a plan that was kept, and where it was not; "" if it was."""
    if plan is None:
        return bars, ""
    held = held_against(plan, [bar for bar in bars if bar.poured_on >= question.asked])
    of_plan = {bar.row: bar for bar in held.bars}
    return [of_plan.get(bar.row, bar) for bar in bars], "; ".join(held.deviations)


def _at_looks(
    pairs: Sequence[_Pair],
    bars: Sequence[ObservedBar],
    question: observed.ComparisonQuestion,
    others: OtherScatter,
    plan: PlannedTest | None,
) -> list[VariantComparison]:
    """The comparisons that decide a question: each at the first announced look that tells.

    What tells at none is compared at the last look if that is past, else on all that is poured,
    "so far". Pours after a look do not change what it told.
    """
    counts = _counted_pours(bars, pairs[0].measure, question)
    poured = sum(count for _, count in counts)
    since = [bar for bar in bars if bar.poured_on >= question.asked]
    answers: dict[_Pair, VariantComparison] = {}

    def compare(within: Sequence[ObservedBar], level: float, progress: PourProgress) -> None:
        held, not_kept = _held(within, question, plan)
        drafts = [_draft(pair, held, others, since, not_kept) for pair in pairs]
        found = _with_verdicts(drafts, level, progress)
        for pair, entry in zip(pairs, found, strict=True):
            if not progress.due or progress.next_look is None or entry.verdict.code in TOLD:
                answers.setdefault(pair, entry)

    looks = announced_looks(question)
    for look, following in zip(looks, (*looks[1:], None), strict=True):
        of = question.until_of
        if look.at > poured:
            compare(
                since, look.level, PourProgress(poured, question.until, of, False, poured, look)
            )
            break
        pours, counted = _pours_until(counts, look.at)
        within = [bar for bar in since if bar.pour in pours]
        progress = PourProgress(poured, question.until, of, True, counted, following)
        compare(within, look.level, progress)
    return [replace(answers[pair], earlier=_earlier(pair, bars, question)) for pair in pairs]


def announced_looks(question: observed.ComparisonQuestion) -> tuple[Look, ...]:
    """The looks at a question, with the p that tells at each."""
    first, second = LOOK_LEVELS
    until = question.until
    if question.last_look is None:
        return Look(until, first), Look(2 * until, second)
    later = EACH_POUR_LEVELS[max((n for n in EACH_POUR_LEVELS if n <= until), default=2)]
    further = range(until + 1, question.last_look + 1)
    return Look(until, first), *(Look(at, later) for at in further)


def _pours_until(counts: Sequence[tuple[str, int]], enough: int) -> tuple[frozenset[str], int]:
    """The first pours with at least so many counted, and how many they have."""
    pours: list[str] = []
    counted = 0
    for pour, count in counts:
        if counted >= enough:
            break
        pours.append(pour)
        counted += count
    return frozenset(pours), counted


def _earlier(
    pair: _Pair, bars: Sequence[ObservedBar], question: observed.ComparisonQuestion
) -> EarlierPours | None:
    """What was poured before the question; None if nothing was."""
    before = [
        bar
        for bar in bars
        if bar.poured_on < question.asked and level_of(bar, pair.group) in pair.between
    ]
    if not before:
        return None
    by = observed.trials_of(pair.changed)
    seen = contrast(before, pair.measure, pair.between, pair.group, by)
    first, second = seen.trials.sides
    return EarlierPours((first.measured, second.measured), seen.difference)


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


def _counted_pours(
    bars: Sequence[ObservedBar], measure: ComparedMeasure, question: observed.ComparisonQuestion
) -> list[tuple[str, int]]:
    """The pours since the question that were measured, in order, with what each counts.

    A pour counts one, or the bars of it that were measured if the question waits for bars.
    """
    counts: dict[str, int] = {}
    for bar in sorted(bars, key=lambda bar: (bar.poured_on, bar.row)):
        level = level_of(bar, question.group)
        compared = level in question.compare if question.compare else level
        if bar.poured_on < question.asked or not compared:
            continue
        # A lifted detail was looked at, though there was nothing to measure.
        if not usable(bar, measure) and not (measure.needs_the_detail and bar.lifted):
            continue
        counts[bar.pour] = 1 if question.until_of == "pours" else counts.get(bar.pour, 0) + 1
    return list(counts.items())


def _with_verdicts(
    family: Sequence[_Draft], level: float, progress: PourProgress | None
) -> Iterator[VariantComparison]:
    """Adjust p over a family of comparisons, and give each its verdict; hints have no progress."""
    ps = [draft.result.p for draft in family]
    tests = sum(p is not None for p in ps)
    for draft, adjusted in zip(family, holm(ps), strict=True):
        next_look = _next_look(draft, progress, len(family))
        yield _comparison(draft, adjusted, tests, level, progress, next_look)


def _next_look(draft: _Draft, progress: PourProgress | None, pairs: int) -> NextLook | None:
    """The next look at a question, and what it may tell; None for hints and after the last."""
    look = None if progress is None else progress.next_look
    if look is None or progress is None:
        return None
    effects = effect_variance([effect for one in draft.others for effect in one.effects])
    growth = look.at / max(1, progress.counted)
    chance = None
    if growth > 1 and draft.result.p is not None:
        chance = next_look_chance(draft.result, draft.others, effects, growth, look.level / pairs)
    return NextLook(look.at, chance)


def _comparison(
    draft: _Draft,
    adjusted: float | None,
    family: int,
    level: float,
    progress: PourProgress | None,
    next_look: NextLook | None,
) -> VariantComparison:
    """The comparison of a draft, with its verdict."""
    pair, result = draft.pair, draft.result
    measure, trials = pair.measure, result.trials
    evidence = Evidence(
        difference=result.difference,
        excess=result.excess,
        p=adjusted,
        within=result.within,
        matters=measure.matters,
        due=progress is None or progress.due,
        reason_untestable=trials.why,
        level=level,
        doubt=_doubt(draft),
    )
    return VariantComparison(
        between=pair.between,
        deciding=progress is not None,
        trials=trials.by,
        difference=result.difference,
        low=result.interval.low if result.interval else None,
        high=result.interval.high if result.interval else None,
        p=result.p,
        p_adjusted=adjusted,
        verdict=verdict(evidence, measure.better, pair.between, measure.name, next_look),
        group=pair.group,
        measure=measure,
        contrast=result,
        family=family,
        within=result.within,
        changed=pair.changed,
        confounders=confounders((stratum.bars for stratum in trials.strata), pair.changed),
        spread=variant_variance_components(
            draft.bars, measure, pair.between, pair.group, trials.by
        ),
        progress=progress,
        earlier=None,
    )


def _doubt(draft: _Draft) -> str:
    """What keeps a difference at "leaning": scatter, a plan not kept, the order; "" if nothing."""
    result = draft.result
    if result.pots is not None and result.pots.is_unlike:
        return "these pots differ far more than those of other designs"
    if draft.not_kept:
        return f"the plan was not kept: {draft.not_kept}"
    return order_doubt(result.trials, draft.pair.between)
