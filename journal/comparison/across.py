"""One question asked across designs: a row a design, and a summary at the foot.

Within a design two variants share its base, mould and season, so each design
gives one difference, and the differences are tested as pairs: had the variant no
effect, each could as well have come out the other way round. A design is one
trial however many bars it has; one with a single variant stands in its row and
says nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations
from statistics import stdev

from msgspec import Struct

from journal.comparison.confounding import Otherwise, otherwise
from journal.comparison.contrast import ALIKE_SHARE, Absent, Contrast, contrast
from journal.comparison.intervals import Interval, Shift, paired_difference, wilson
from journal.comparison.multiplicity import holm
from journal.comparison.observed import Bar, By, Measure
from journal.comparison.permutation import Test, signs_test
from journal.comparison.power import MOST, More, least_pairs, more_needed, trials_for_pairs
from journal.comparison.trials import Side
from journal.comparison.verdict import SURE, Evidence, Verdict, verdict
from journal.errors import FigureError


class Row(Struct, frozen=True):
    """One design of a comparison across designs.

    ``difference`` is None, and ``why`` says why, for a design that has nothing to
    pair. ``low`` and ``high`` are its own 95 % interval, where its trials give one.
    """

    design: str
    held: Contrast
    difference: float | None
    low: float | None
    high: float | None
    why: str

    @property
    def sides(self) -> tuple[Side, Side]:
        """Both variants' bars in this design."""
        return self.held.laid.sides


class Across(Struct, frozen=True):
    """Two variants compared across designs by one measure.

    ``below``, ``level`` and ``above`` count the paired designs by the sign of their
    difference, second less first. ``otherwise`` is what changed along with the
    variant within paired designs; ``apart`` the same among the designs that have
    one of the two alone, which are no evidence for just that reason.
    """

    between: tuple[str, str]
    by: str
    unit: str
    deciding: bool
    rows: tuple[Row, ...]
    paired: int
    below: int
    level: int
    above: int
    difference: float | None
    low: float | None
    high: float | None
    within: Interval | None
    no_interval: Absent
    p: float | None
    p_adjusted: float | None
    family: int
    verdict: Verdict
    more: More
    measure: Measure
    otherwise: tuple[Otherwise, ...]
    apart: tuple[Otherwise, ...]


class _Foot(Struct, frozen=True):
    test: Test | None
    shift: Shift | None
    interval: Interval | None
    within: Interval | None
    no_interval: Absent


# Contrasts by design, measure and pair.
Known = Mapping[tuple[str, str, tuple[str, str]], Contrast]
NONE_KNOWN: Known = {}


def across(
    bars: Sequence[Bar],
    measures: Sequence[Measure],
    variants: Sequence[str],
    by: By,
    thing: str = "",
    deciding: str | None = None,
    known: Known = NONE_KNOWN,
) -> tuple[Across, ...]:
    """Compare variants across designs, pair by pair, by each measure.

    p comes from Wilcoxon's exact signed-rank test over the designs' differences,
    the interval from its inversion. Holm's adjustment is over the pairs of the
    deciding measure, and over all else that stands on the page.

    Takes:  bars      of all designs; ``variant`` is the value of what is compared
            measures  to compare by
            variants  values to compare, in order; two or more
            by        what a trial is within a design
            thing     name of what is compared, passed over as an explanation
            deciding  name of the measure that decides, if one does
            known     contrasts of these bars by design, measure and pair, where they are known
    Gives:  Across for each measure and pair, deciding ones first
    Fails:  FigureError if fewer than two variants are named, or one twice
    Source: Wilcoxon 1945; the row's own: ``contrast``
    Checked: six designs on one side give p 0.03125
    """
    if len(variants) < 2 or len(set(variants)) < len(variants):
        raise FigureError(f"two or more different variants are compared, not {list(variants)}")
    designs: dict[str, list[Bar]] = {}
    having: dict[str, set[str]] = {variant: set() for variant in variants}
    for bar in bars:
        if bar.variant in having:
            designs.setdefault(bar.design, []).append(bar)
            having[bar.variant].add(bar.design)
    places = {design: place for place, design in enumerate(designs)}
    done: list[Across] = []
    pairs = list(combinations(variants, 2))
    for decides in (True, False):
        wanted = [
            (measure, pair)
            for measure in measures
            if (measure.name == deciding) == decides
            for pair in pairs
        ]
        held: list[tuple[Measure, tuple[str, str], tuple[Row, ...]]] = []
        for measure, pair in wanted:
            own = sorted(having[pair[0]] | having[pair[1]], key=places.__getitem__)
            rows = _rows({design: designs[design] for design in own}, measure, pair, by, known)
            held.append((measure, pair, rows))
        feet = [_foot(rows) for _, _, rows in held]
        ps = [foot.test.p if foot.test else None for foot in feet]
        family = sum(p is not None for p in ps)
        shared = len(wanted) if decides else 1
        for (measure, pair, rows), foot, p, adjusted in zip(held, feet, ps, holm(ps), strict=True):
            done.append(
                _across(measure, pair, rows, foot, p, adjusted, decides, family, shared, thing)
            )
    return tuple(done)


def _rows(
    designs: dict[str, list[Bar]], measure: Measure, between: tuple[str, str], by: By, known: Known
) -> tuple[Row, ...]:
    rows: list[Row] = []
    for design, bars in designs.items():
        held = known.get((design, measure.name, between))
        if held is None:
            held = contrast(bars, measure, between, "", by)
        interval = held.interval
        rows.append(
            Row(
                design=design,
                held=held,
                difference=held.difference,
                low=interval.low if interval else None,
                high=interval.high if interval else None,
                why=held.laid.why,
            )
        )
    return tuple(rows)


def _foot(rows: Sequence[Row]) -> _Foot:
    differences = [row.difference for row in rows if row.difference is not None]
    if not differences:
        return _Foot(None, None, None, None, "nothing to compare")
    shift = paired_difference(differences, (0.95, 0.90))
    test = signs_test(differences)
    if not any(differences):
        alike = wilson(0, len(differences), 0.90).high < ALIKE_SHARE
        within = Interval(0.0, 0.0) if alike else None
        return _Foot(test, shift, None, within, "all the same")
    interval, within = shift.intervals
    return _Foot(test, shift, interval, within, "" if interval else "too few")


def _across(
    measure: Measure,
    between: tuple[str, str],
    rows: tuple[Row, ...],
    foot: _Foot,
    p: float | None,
    adjusted: float | None,
    decides: bool,
    family: int,
    shared: int,
    thing: str,
) -> Across:
    differences = [row.difference for row in rows if row.difference is not None]
    estimate = foot.shift.estimate if foot.shift else None
    more = _more(differences, foot, measure, SURE / shared)
    evidence = Evidence(
        difference=estimate,
        excess=foot.test.excess if foot.test else 0.0,
        p=adjusted,
        within=foot.within,
        matters=measure.matters,
        cannot="" if differences else "no design has both",
    )
    return Across(
        between=between,
        by=measure.name,
        unit=measure.unit,
        deciding=decides,
        rows=rows,
        paired=len(differences),
        below=sum(value < 0 for value in differences),
        level=sum(value == 0 for value in differences),
        above=sum(value > 0 for value in differences),
        difference=estimate,
        low=foot.interval.low if foot.interval else None,
        high=foot.interval.high if foot.interval else None,
        within=foot.within,
        no_interval=foot.no_interval,
        p=p,
        p_adjusted=adjusted,
        family=family,
        verdict=verdict(evidence, measure.better, between, measure.name, "designs", more),
        more=more,
        measure=measure,
        otherwise=otherwise(
            (s.bars for row in rows if row.difference is not None for s in row.held.laid.strata),
            (thing,),
        ),
        apart=_apart(rows, thing),
    )


def _apart(rows: Sequence[Row], thing: str) -> tuple[Otherwise, ...]:
    """What else differs between designs with the first alone and with the second alone."""
    first, second = (
        [
            bar
            for row in rows
            if row.difference is None and not row.sides[1 - index].measured
            for bar in row.held.laid.fit[index]
        ]
        for index in (0, 1)
    )
    return otherwise([(first, second)], (thing,))


def _more(differences: Sequence[float], foot: _Foot, measure: Measure, alpha: float) -> More:
    have = len(differences)
    least = max(0, least_pairs(alpha) - have)
    need: int | None = None
    if foot.no_interval == "all the same":
        need = next(n for n in range(1, MOST) if wilson(0, n, 0.90).high < ALIKE_SHARE)
    elif have > 1:
        need = trials_for_pairs(measure.matters, stdev(differences), alpha)
    within = None if foot.within is None else (foot.within.low, foot.within.high)
    estimate = foot.shift.estimate if foot.shift else None
    return more_needed(have, need, least, within, estimate, measure.matters)
