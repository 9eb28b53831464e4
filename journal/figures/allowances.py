"""How far a single bar may fall short of its label, and whether a lot passes.

Two systems: NIST Handbook 133 in the United States, Directive 76/211/EEC in
the European Union. These are the checks that an inspector makes; a studio
that declares by net_weight.declare should pass them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from msgspec import Struct

from journal.errors import FigureError
from journal.figures.exact import Number, exact, exact_above
from journal.figures.spread import mean_and_deviation, t_quantile

# Exact: 21 CFR and Handbook 133 speak of the avoirdupois pound, NIST SP 811 App. B.
G_PER_LB = Fraction("453.59237")

# By how much may one package labelled by weight fall short?
# NIST Handbook 133 Table 2-5: (label in lb, from and including; allowance in lb).
# Below the first row the allowance is 10 % of the label; the table is used up
# to LAST_LABEL_LB. Unconfirmed: from memory, no copy of the table could be read; of two labels
# the allowance was found quoted (113 g: 7 g; 3 oz: 0.25 oz).
MAXIMUM_ALLOWABLE_VARIATIONS_LB = (
    (Fraction("0.08"), Fraction("0.008")),
    (Fraction("0.12"), Fraction("0.012")),
    (Fraction("0.18"), Fraction("0.016")),
    (Fraction("0.26"), Fraction("0.020")),
    (Fraction("0.34"), Fraction("0.024")),
    (Fraction("0.46"), Fraction("0.028")),
    (Fraction("0.58"), Fraction("0.032")),
    (Fraction("0.70"), Fraction("0.036")),
    (Fraction("0.84"), Fraction("0.040")),
    (Fraction("0.94"), Fraction("0.044")),
    (Fraction("1.08"), Fraction("0.048")),
    (Fraction("1.26"), Fraction("0.052")),
    (Fraction("1.40"), Fraction("0.056")),
    (Fraction("1.54"), Fraction("0.060")),
    (Fraction("1.70"), Fraction("0.064")),
    (Fraction("1.88"), Fraction("0.070")),
    (Fraction("2.14"), Fraction("0.078")),
    (Fraction("2.48"), Fraction("0.086")),
    (Fraction("2.76"), Fraction("0.094")),
    (Fraction("3.20"), Fraction("0.110")),
)
LIGHT_LABEL_SHARE = Fraction(1, 10)
LAST_LABEL_LB = Fraction("3.90")
assert list(MAXIMUM_ALLOWABLE_VARIATIONS_LB) == sorted(MAXIMUM_ALLOWABLE_VARIATIONS_LB)

# What negative error is tolerable in one prepackage?
# Directive 76/211/EEC Annex I 2.4: (nominal quantity in g, up to; share of it or
# None; g or None). At each bound both neighbours give the same.
TOLERABLE_NEGATIVE_ERRORS = (
    (Fraction(50), Fraction(9, 100), None),
    (Fraction(100), None, Fraction("4.5")),
    (Fraction(200), Fraction(45, 1000), None),
    (Fraction(300), None, Fraction(9)),
    (Fraction(500), Fraction(3, 100), None),
    (Fraction(1000), None, Fraction(15)),
    (Fraction(10000), Fraction(15, 1000), None),
)
LEAST_NOMINAL_G = 5
TENTH_OF_A_GRAM = Fraction(1, 10)


def maximum_allowable_variation_g(label_g: Number) -> Fraction:
    """How far one package may fall short of its label in the United States.

    Takes:  label_g  declared weight; grams; 0 < label up to 3.90 lb; scalar
    Gives:  grams; exact
    Fails:  FigureError outside the table
    Source: NIST Handbook 133 Table 2-5 (unconfirmed: from memory, two values found)
    Checked: label 4 oz gives 0.016 lb = 7.2575 g
    """
    label_lb = exact_above(label_g, 0, "the declared weight") / G_PER_LB
    if label_lb >= LAST_LABEL_LB:
        raise FigureError(
            f"a label of {label_g} g is beyond the table of allowable variations "
            f"(below {LAST_LABEL_LB * G_PER_LB // 1} g)"
        )
    allowance_lb = label_lb * LIGHT_LABEL_SHARE
    for from_lb, variation_lb in MAXIMUM_ALLOWABLE_VARIATIONS_LB:
        if label_lb >= from_lb:
            allowance_lb = variation_lb
    return allowance_lb * G_PER_LB


def tolerable_negative_error_g(nominal_g: Number) -> Fraction:
    """What negative error is tolerable in one prepackage in the European Union.

    A percentage is worked out in grams and rounded up to a tenth of a gram.

    Takes:  nominal_g  declared weight; grams; 5 to 10000; scalar
    Gives:  grams; exact
    Fails:  FigureError outside the table
    Source: Directive 76/211/EEC Annex I 2.4
    Checked: 113 g gives 5.1 g; 75 g gives 4.5 g
    """
    nominal = exact(nominal_g, "the nominal weight")
    if nominal < LEAST_NOMINAL_G:
        raise FigureError(
            f"a nominal weight of {nominal_g} g is below the {LEAST_NOMINAL_G} g "
            "at which the table of tolerable errors begins"
        )
    for up_to, share, grams in TOLERABLE_NEGATIVE_ERRORS:
        if nominal <= up_to:
            if grams is not None:
                return grams
            assert share is not None
            return math.ceil(nominal * share / TENTH_OF_A_GRAM) * TENTH_OF_A_GRAM
    raise FigureError(
        f"a nominal weight of {nominal_g} g is beyond the table of tolerable errors (10000 g)"
    )


class SamplingPlan(Struct, frozen=True):
    """How many bars of a lot are weighed, and how many may be short beyond the MAV."""

    sample: int
    beyond_allowed: int


def us_sampling_plan(lot: int) -> SamplingPlan:
    """How many packages of a lot an inspector weighs.

    Takes:  lot  packages in the lot; >= 1
    Gives:  the sample's size and how many of it may fall short by more than
            the maximum allowable variation
    Fails:  FigureError if lot is below 1
    Source: NIST Handbook 133 Table 2-1, Category A (unconfirmed: from memory)
    Checked: a lot of 24 gives 12 and none
    """
    if lot < 1:
        raise FigureError(f"a lot of {lot} cannot be sampled; it needs at least one package")
    if lot <= 11:
        return SamplingPlan(lot, 0)
    if lot <= 250:
        return SamplingPlan(12, 0)
    if lot <= 3200:
        return SamplingPlan(24, 0)
    return SamplingPlan(48, 1)


def sample_correction_factor(sample: int) -> float:
    """The factor from a sample's deviation to the allowed shortage of its mean.

    factor = t(0.975, n - 1) / sqrt(n)

    Takes:  sample  n; >= 2
    Gives:  a factor without unit
    Fails:  FigureError if sample is below 2
    Source: NIST Handbook 133 Table 2-1 (printed to 0.001; at n = 5, 6 and 48
            the printed figure, unconfirmed, differs by 0.001 from this formula)
    Checked: n = 12 gives 0.635
    """
    if sample < 2:
        raise FigureError(f"a sample of {sample} has no spread; it needs at least two")
    return t_quantile(0.975, sample - 1) / math.sqrt(sample)


class UsCheck(Struct, frozen=True):
    """A sample against its label by NIST Handbook 133, Category A."""

    bars: int
    mean_error_g: float
    deviation_g: float | None
    error_limit_g: float | None
    mean_passes: bool
    variation_g: float
    beyond: int
    beyond_allowed: int

    @property
    def passes(self) -> bool:
        return self.mean_passes and self.beyond <= self.beyond_allowed


def check_us(weights_g: Sequence[float], label_g: Number, lot: int | None = None) -> UsCheck:
    """Weigh a sample against its label as a United States inspector does.

    The mean may fall short by no more than the sample error limit, factor x s;
    no bar (one of 48) may fall short by more than the maximum allowable
    variation. With a single bar there is no limit, and the mean must be met.

    Takes:  weights_g  net weights; grams; one or more, each > 0
            label_g    declared weight; grams; within the table
            lot        packages in the lot; None: the sample is the lot
    Gives:  the check with its steps
    Fails:  FigureError if a weight or the label lies outside its range
    Source: NIST Handbook 133 sec. 2.3 (unconfirmed: from memory); NIST packaging FAQ page
            for the two requirements
    Checked: mean error -0.1167 g, s 0.57022, n 12 gives limit 0.36230 and passes
    """
    label = exact_above(label_g, 0, "the declared weight")
    variation = maximum_allowable_variation_g(label)
    mean, deviation = mean_and_deviation(weights_g)
    error = mean - float(label)
    limit = None
    if deviation is not None:
        limit = sample_correction_factor(len(weights_g)) * deviation
    beyond = sum(1 for weight in weights_g if label - exact(weight) > variation)
    plan = us_sampling_plan(len(weights_g) if lot is None else lot)
    return UsCheck(
        bars=len(weights_g),
        mean_error_g=error,
        deviation_g=deviation,
        error_limit_g=limit,
        mean_passes=exact(mean) >= label or (limit is not None and -error <= limit),
        variation_g=float(variation),
        beyond=beyond,
        beyond_allowed=plan.beyond_allowed,
    )


class EuCheck(Struct, frozen=True):
    """A sample against its label by Directive 76/211/EEC.

    ``defective`` are short by more than the tolerable error, ``barred`` by
    more than twice that. ``mean_passes`` is None below two bars.
    """

    bars: int
    mean_g: float
    tolerable_error_g: float
    defective: int
    barred: int
    mean_limit_g: float | None
    mean_passes: bool | None

    @property
    def passes(self) -> bool:
        """As a small studio should read it: no bar defective, and the mean holds.

        The directive's own plans allow a few defectives in samples of 20 and
        more; with the handful that a studio weighs, one is too many.
        """
        return self.defective == 0 and self.mean_passes is not False


def check_eu(weights_g: Sequence[float], nominal_g: Number) -> EuCheck:
    """Weigh a sample against its label as the European directive has it.

    The mean is accepted if mean > nominal - s t(0.995, n - 1) / sqrt(n).

    Takes:  weights_g  net weights; grams; one or more, each > 0
            nominal_g  declared weight; grams; 5 to 10000
    Gives:  the check with its steps
    Fails:  FigureError if a weight or the label lies outside its range
    Source: Directive 76/211/EEC Annex I 1 and 2.4, Annex II 2.3.1
    Checked: 113 g: a bar of 107.8 g is defective, one of 102.7 g is barred
    """
    nominal = exact_above(nominal_g, 0, "the nominal weight")
    tolerable = tolerable_negative_error_g(nominal)
    mean, deviation = mean_and_deviation(weights_g)
    shorts = [nominal - exact(weight) for weight in weights_g]
    limit = None
    passes = None
    if deviation is not None:
        factor = t_quantile(0.995, len(weights_g) - 1) / math.sqrt(len(weights_g))
        limit = float(nominal) - deviation * factor
        # Equality is let through when every bar is exactly the nominal weight.
        passes = mean > limit or exact(mean) >= nominal
    return EuCheck(
        bars=len(weights_g),
        mean_g=mean,
        tolerable_error_g=float(tolerable),
        defective=sum(1 for short in shorts if short > tolerable),
        barred=sum(1 for short in shorts if short > 2 * tolerable),
        mean_limit_g=limit,
        mean_passes=passes,
    )
