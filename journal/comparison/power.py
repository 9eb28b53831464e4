"""The chance that a test tells: of one that is planned, and of the next look at one begun."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from msgspec import Struct

from journal.comparison.moderated import UNLIKE_RATIO, PotScatter, Shift, VarianceMixture, mixture
from journal.errors import FigureError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

# Chance that a plan aims at: the customary four in five.
POWER = 0.8
# The variance is taken at so many quantiles of its law, each as likely as the next.
QUANTILES = 16
# Laws that together weigh less than this change no chance by a point.
LEAST_WEIGHT = 1e-4
# An effect's variance in those of a trial, as long as the notebook has shown no effects. It counts
# as one effect seen. Common practice, no source: effects as large as the scatter are usual.
USUAL_EFFECT = 1.0
LEAST_EFFECT = 0.25
LARGEST_NONCENTRALITY = 30.0


class NextLook(Struct, frozen=True):
    """The next announced look: after so many pours or bars in all, and the chance that it tells.

    ``chance`` is None where the scatter is not known yet.
    """

    at: int
    chance: float | None


def effect_variance(effects: Sequence[tuple[float, float]]) -> float:
    """How large effects are in this notebook, as a variance in units of a trial's.

    Takes:  effects  shifts over the deviation of a trial, and the factor of their own variance
    Source: by moments: a squared effect has the mean of its variance and its estimate's
    Checked: none gives 1
    """
    squares = math.fsum(effect * effect - factor for effect, factor in effects)
    return max(LEAST_EFFECT, (USUAL_EFFECT + squares) / (1 + len(effects)))


def chance_of_next_look(
    now: Shift, others: Sequence[PotScatter], effects: float, growth: float, level: float
) -> float | None:
    """The chance that a further look tells, given what has been seen.

    The effect is shrunk towards none by how large effects are in the notebook, the scatter
    towards that of the other designs.

    Takes:  now      the shift so far
            others   scatter of other designs, each above 0; may be empty
            effects  from ``effect_variance``
            growth   trials at that look over trials now, above 1
            level    p at which it tells, between 0 and 1
    Gives:  0 to 1; None without a scatter
    Source: predictive power of normal means, as Spiegelhalter, Freedman and Blackburn,
            Control. Clin. Trials 7 (1986) 8, over the laws of the variance
    Checked: by simulation: right within 12 points in each tenth
    """
    if growth <= 1 or not 0 < level < 1:
        raise FigureError(f"a look at {growth} times the trials, at a level of {level}, cannot be")
    own = now.scatter
    if own.df < 1 and not others:
        return None
    if min([*(other.variance for other in others), *([own.variance] if own.df else [])]) <= 0:
        return None
    rows = [other.variance for other in others]
    df = [other.df for other in others]
    if own.df:
        laws = mixture([[own.variance, *rows]], [own.df, *df])
    else:
        laws = mixture([rows], df, of_new=True)
    variance, weight, law_df = _quantiles(laws)
    last = now.factor / growth
    added = 1 / (1 / last - 1 / now.factor)
    kept = last / now.factor
    shrink = effects / (effects + now.factor)
    mean = kept * now.estimate + (1 - kept) * shrink * now.estimate
    spread = (1 - kept) ** 2 * (shrink * now.factor + added)
    more_df = (own.df + 1) * (growth - 1) if own.df else 0.0
    return _beyond(mean, spread, last, variance, weight, law_df + more_df, level)


def chance_of_plan(
    effect: float,
    others: Sequence[PotScatter],
    factor: float,
    df: int,
    level: float,
    alone: bool = False,
) -> float | None:
    """The chance that a planned test tells a true effect, before anything is poured.

    Takes:  effect  on the scale of the measure
            others  scatter of the notebook's designs, each above 0
            factor  of the estimate's variance: 2 / n with n trials of each
            df      of the test's own scatter
            level   p at which it tells
            alone   True for a test that knows its own scatter alone: others say only how large
                    that may be
    Gives:  0 to 1; None without others
    Checked: one typical scatter with many degrees of freedom gives the power of Student's test
    """
    if not others:
        return None
    import numpy as np
    from scipy.special import chdtr, ndtr

    laws = mixture([[other.variance for other in others]], [other.df for other in others], True)
    variance, weight, _ = _quantiles(laws)
    if alone:
        return _students_power(effect, factor, variance, weight, df, level)
    # The test does not know its law either: its critical value is that of all laws together, and
    # grows with the scatter of its own pots by their share of the degrees of freedom.
    typical = math.exp(float((np.log(laws.variance) * laws.weight).sum()))
    prior_df = float((laws.df * laws.weight).sum())
    test = VarianceMixture(laws.variance, laws.df + df, laws.weight)
    moved = (prior_df + df * variance / typical) / (prior_df + df)
    critical = test.quantile(level) * np.sqrt(factor * moved)
    deviation = np.sqrt(factor * variance)
    beyond = ndtr((effect - critical) / deviation) + ndtr((-effect - critical) / deviation)
    # Pots that scatter so unlike the others tell nothing.
    alike = chdtr(df, df * UNLIKE_RATIO**2 * typical / variance)
    return float(((beyond * alike).mean(1) * weight).sum())


def _students_power(
    effect: float,
    factor: float,
    variance: NDArray[np.float64],
    weight: NDArray[np.float64],
    df: int,
    level: float,
) -> float:
    """The power of Student's test over the laws of the variance, by the noncentral t.

    What is told of the wrong side is not counted.
    """
    import numpy as np
    from scipy.special import nctdtr, stdtrit

    critical = -stdtrit(df, level / 2)
    # Further out the law is not computed, and the power is 1 to every digit that is said.
    off = np.minimum(abs(effect) / np.sqrt(factor * variance), LARGEST_NONCENTRALITY)
    beyond = 1 - nctdtr(df, off, critical)
    return float((beyond.mean(1) * weight).sum())


def _quantiles(
    laws: VarianceMixture,
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """The true variance at quantiles of each law that weighs anything: (laws, quantiles)."""
    import numpy as np
    from scipy.special import chdtri

    used = laws.weight[0] > LEAST_WEIGHT
    df = laws.df[used]
    tails = (np.arange(QUANTILES) + 0.5) / QUANTILES
    variance = laws.variance[0][used][:, None] * df[:, None] / chdtri(df[:, None], tails)
    weight = laws.weight[0][used] / laws.weight[0][used].sum()
    return variance, weight, df[:, None]


def _beyond(
    mean: float,
    spread: float,
    factor: float,
    variance: NDArray[np.float64],
    weight: NDArray[np.float64],
    df: NDArray[np.float64],
    level: float,
) -> float:
    """The chance that an estimate lies beyond its critical value, on either side.

    ``spread`` and ``factor`` are the variances of the estimate, for the future and for the test,
    in units of a trial's.
    """
    import numpy as np
    from scipy.special import ndtr, stdtrit

    critical = -stdtrit(df, level / 2) * np.sqrt(factor * variance)
    deviation = np.sqrt(spread * variance)
    beyond = ndtr((mean - critical) / deviation) + ndtr((-mean - critical) / deviation)
    return float((beyond.mean(1) * weight).sum())
