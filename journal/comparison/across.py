"""Two variants compared across designs: a row for each design, and one test over all.

Within a design two variants share its base, mould and season, so each design
gives one difference. The differences are tested as pairs: had the variant no
effect, each could as well have come out the other way round. A design is one
trial however many bars it has; one with a single variant has a row, but does
not count in the test.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations

from msgspec import Struct

from journal.comparison.confounding import Confounder, confounders
from journal.comparison.contrast import EQUIVALENCE_SHARE, Contrast, NoIntervalReason, contrast
from journal.comparison.intervals import Interval, paired_difference, wilson_interval
from journal.comparison.multiplicity import holm
from journal.comparison.observed import ComparedMeasure, ObservedBar, VariantTrialKind
from journal.comparison.permutation import PermutationTest, signed_rank_test
from journal.comparison.trials import VariantSample
from journal.comparison.verdict import Evidence, Finding, verdict
from journal.errors import FigureError


class CrossDesignRow(Struct, frozen=True):
    """One design of a comparison across designs.

    ``difference`` is second less first; it is None, with the reason in ``why``, for a design
    that cannot compare the two. ``low`` and ``high`` are the design's own 95 % interval,
    None where its trials give none.
    """

    design: str
    contrast: Contrast
    difference: float | None
    low: float | None
    high: float | None
    why: str

    @property
    def sides(self) -> tuple[VariantSample, VariantSample]:
        """Counts of both variants' bars in this design."""
        return self.contrast.trials.sides


class CrossDesignComparison(Finding, frozen=True, kw_only=True):
    """Two variants compared across designs by one measure.

    ``paired`` counts the designs that have both; ``below``, ``level`` and ``above`` count
    these by the sign of their difference, second less first. ``unpaired_confounders`` are
    the conditions that changed along with the variant among designs that have one of the
    two alone, which is why those do not count.
    """

    rows: tuple[CrossDesignRow, ...]
    paired: int
    below: int
    level: int
    above: int
    no_interval: NoIntervalReason
    unpaired_confounders: tuple[Confounder, ...]


class _AcrossDraft(Struct, frozen=True):
    """Rows of two variants by one measure, and the statistics of their differences."""

    measure: ComparedMeasure
    between: tuple[str, str]
    rows: tuple[CrossDesignRow, ...]
    differences: tuple[float, ...]
    test: PermutationTest | None = None
    difference: float | None = None
    interval: Interval | None = None
    within: Interval | None = None
    no_interval: NoIntervalReason = "nothing to compare"


# Contrasts by (design, measure, pair of variants).
Contrasts = Mapping[tuple[str, str, tuple[str, str]], Contrast]


def compare_across_designs(
    bars: Sequence[ObservedBar],
    measures: Sequence[ComparedMeasure],
    variants: Sequence[str],
    by: VariantTrialKind,
    thing: str = "",
    deciding: str | None = None,
    contrasts: Contrasts | None = None,
) -> tuple[CrossDesignComparison, ...]:
    """Compare variants across designs, pair by pair, by each measure.

    p comes from Wilcoxon's exact signed-rank test over the designs' differences,
    the interval from its inversion. Holm's adjustment is over the pairs of the
    deciding measure, and apart from that over all other comparisons.

    Takes:  bars      of all designs; ``variant`` is the value of what is compared
            measures  to compare by
            variants  values to compare, in order; two or more
            by        what a trial is within a design
            thing     name of what is compared, so that it is not listed as a confounder
            deciding  name of the measure that decides, if one does
            contrasts those of these bars, if they have been worked out already
    Gives:  a comparison for each measure and pair, deciding ones first
    Fails:  FigureError if fewer than two variants are named, or one twice
    Source: Wilcoxon 1945; the row's own: ``contrast``
    Checked: six designs on one side give p 0.03125
    """
    if len(variants) < 2 or len(set(variants)) < len(variants):
        raise FigureError(f"two or more different variants are compared, not {list(variants)}")
    designs: dict[str, list[ObservedBar]] = {}
    having: dict[str, set[str]] = {variant: set() for variant in variants}
    for bar in bars:
        if bar.variant in having:
            designs.setdefault(bar.design, []).append(bar)
            having[bar.variant].add(bar.design)
    comparisons: list[CrossDesignComparison] = []
    for decides in (True, False):
        drafts = []
        for measure in measures:
            if (measure.name == deciding) != decides:
                continue
            for pair in combinations(variants, 2):
                either = having[pair[0]] | having[pair[1]]
                rows = (
                    _row(design, own, measure, pair, by, contrasts)
                    for design, own in designs.items()
                    if design in either
                )
                drafts.append(_draft(measure, pair, tuple(rows)))
        ps = [draft.test.p if draft.test else None for draft in drafts]
        family = sum(p is not None for p in ps)
        for draft, p, adjusted in zip(drafts, ps, holm(ps), strict=True):
            comparisons.append(_comparison(draft, p, adjusted, decides, family, thing))
    return tuple(comparisons)


def _row(
    design: str,
    bars: list[ObservedBar],
    measure: ComparedMeasure,
    between: tuple[str, str],
    by: VariantTrialKind,
    contrasts: Contrasts | None,
) -> CrossDesignRow:
    """One design's row; its contrast is taken from ``contrasts`` if there are any."""
    if contrasts is None:
        result = contrast(bars, measure, between, "", by)
    else:
        result = contrasts[design, measure.name, between]
    low, high = (result.interval.low, result.interval.high) if result.interval else (None, None)
    return CrossDesignRow(design, result, result.difference, low, high, result.trials.why)


def _draft(
    measure: ComparedMeasure, between: tuple[str, str], rows: tuple[CrossDesignRow, ...]
) -> _AcrossDraft:
    """Test and interval of the designs' differences, for all rows of a pair and measure."""
    differences = tuple(row.difference for row in rows if row.difference is not None)
    if not differences:
        return _AcrossDraft(measure, between, rows, ())
    shift = paired_difference(differences, (0.95, 0.90))
    interval, within = shift.intervals
    no_interval: NoIntervalReason = "" if interval else "too few"
    if not any(differences):
        alike = wilson_interval(0, len(differences), 0.90).high < EQUIVALENCE_SHARE
        interval, within = None, Interval(0.0, 0.0) if alike else None
        no_interval = "all the same"
    return _AcrossDraft(
        measure, between, rows, differences, signed_rank_test(differences), shift.estimate,
        interval, within, no_interval,
    )  # fmt: skip


def _comparison(
    draft: _AcrossDraft,
    p: float | None,
    adjusted: float | None,
    decides: bool,
    family: int,
    thing: str,
) -> CrossDesignComparison:
    """The comparison of a draft, with its verdict."""
    measure, between, differences = draft.measure, draft.between, draft.differences
    evidence = Evidence(
        difference=draft.difference,
        excess=draft.test.excess if draft.test else 0.0,
        p=adjusted,
        within=draft.within,
        matters=measure.matters,
        reason_untestable="" if differences else "no design has both",
    )
    paired = (row for row in draft.rows if row.difference is not None)
    return CrossDesignComparison(
        between=between,
        measure=measure,
        deciding=decides,
        difference=draft.difference,
        low=draft.interval.low if draft.interval else None,
        high=draft.interval.high if draft.interval else None,
        within=draft.within,
        p=p,
        p_adjusted=adjusted,
        family=family,
        verdict=verdict(evidence, measure.better, between, measure.name),
        confounders=confounders(
            (s.bars for row in paired for s in row.contrast.trials.strata), (thing,)
        ),
        rows=draft.rows,
        paired=len(differences),
        below=sum(value < 0 for value in differences),
        level=sum(value == 0 for value in differences),
        above=sum(value > 0 for value in differences),
        no_interval=draft.no_interval,
        unpaired_confounders=_unpaired_confounders(draft.rows, thing),
    )


def _unpaired_confounders(rows: Sequence[CrossDesignRow], thing: str) -> tuple[Confounder, ...]:
    """Conditions that differ between designs with the first alone and with the second alone."""
    first, second = (
        [
            bar
            for row in rows
            if row.difference is None and not row.sides[1 - index].measured
            for bar in row.contrast.trials.fit[index]
        ]
        for index in (0, 1)
    )
    return confounders([(first, second)], (thing,))
