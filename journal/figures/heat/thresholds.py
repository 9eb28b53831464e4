"""The pour temperature at which an outcome turns, from the studio's own pours.

Logistic regression with Firth's penalty, which stays finite when the outcomes
are few or fall apart cleanly into cool and hot. Intervals come from the
profile of the penalised likelihood. A pour is one trial, however many bars it
filled: bars of one pour share its temperature and everything else about it.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence

from msgspec import Struct

from journal.errors import FigureError
from journal.figures.common.arrays import Array
from journal.figures.common.find_zero import find_zero

# chi-squared of one degree of freedom at 95 %, halved: how far the log-likelihood may fall.
# Recomputed in tests/figures/heat/test_thresholds.py.
FALL = 3.841458820694124 / 2.0
# Four pours that fall apart cleanly are not significant at 95 %; five only just, with an interval
# of hundreds of K (tests/figures/heat/test_thresholds.py).
POURS_AT_LEAST = 6
# An end of the interval that lies farther from the pours than this is called open.
FARTHEST_K = 50.0
ITERATIONS_AT_MOST = 200
# A further step is expected to raise the log-likelihood by less than this share of it, or of 1:
# that of thousands of pours has no more digits.
CONVERGED = 1e-14


class PourOutcome(Struct, frozen=True):
    """One pour: its temperature and the share of its bars that had the outcome."""

    pour_c: float
    share: float

    def __post_init__(self) -> None:
        if not math.isfinite(self.pour_c):
            raise FigureError(f"a pour temperature must be finite, not {self.pour_c}")
        if not 0 <= self.share <= 1:
            raise FigureError(f"a share of bars lies between 0 and 1, not {self.share}")


class Threshold(Struct, frozen=True):
    """The pour temperature at which half the bars would have an outcome.

    ``at_c`` is None, with the reason in ``why``, unless it lies among the pours or
    they show that temperature matters; the interval is None unless they show that.
    """

    at_c: float | None
    interval_c: tuple[float | None, float | None] | None  # an end may be open
    rises: bool | None  # True: the hotter the pour the more often
    intercept: float | None  # log odds = intercept + slope * pour_c
    slope_per_k: float | None
    pours: int
    range_c: tuple[float, float] | None  # coolest and hottest pour
    both_ends: bool  # it happens at cool and at hot pours and less between
    why: str


def pour_threshold(pours: Sequence[PourOutcome]) -> Threshold:
    """Estimate the pour temperature at which half the bars have an outcome.

    log odds = intercept + slope x temperature, with Firth's penalty; the
    threshold is where the odds are even. Its interval is the set of
    temperatures t for which the likelihood, highest under the constraint that
    the odds are even at t, falls by no more than chi-squared / 2. It is closed
    exactly when the slope differs from 0 at 95 %. Such an interval errs on the
    wide side: in trials of 6 to 30 pours it covered the truth 96 to 100 times in
    100, where one without the penalty covered it 85 to 95 times.

    Takes:  pours  one entry a pour; any number
    Gives:  Threshold
    Source: Firth (1993); profile penalised likelihood as in Heinze & Schemper (2002)
    Checked: tests/figures/heat/test_thresholds.py, in seeded trials
    """
    import numpy as np

    count = len(pours)
    range_c = (min(p.pour_c for p in pours), max(p.pour_c for p in pours)) if pours else None

    def no_threshold(why: str) -> Threshold:
        return Threshold(None, None, None, None, None, count, range_c, False, why)

    if range_c is None or count < POURS_AT_LEAST:
        pours_are = "1 pour is" if count == 1 else f"{count} pours are"
        return no_threshold(
            f"{pours_are} too few to say what temperature does; it takes {POURS_AT_LEAST}"
        )
    if range_c[0] == range_c[1]:
        return no_threshold("all pours were of one temperature")
    shares = [p.share for p in pours]
    if max(shares) == 0:
        return no_threshold("it happened in no pour")
    if min(shares) == 1:
        return no_threshold("it happened in every pour")
    # Pours that are alike are one row: a studio's thousands are of some dozens of temperatures.
    distinct = sorted(Counter((p.pour_c, p.share) for p in pours).items())
    temperatures = np.array([pour_c for (pour_c, _), _ in distinct], dtype=np.float64)
    y = np.array([share for (_, share), _ in distinct], dtype=np.float64)
    weights = np.array([times for _, times in distinct], dtype=np.float64)
    centre = float(weights @ temperatures) / count
    scale = math.sqrt(float(weights @ (temperatures - centre) ** 2) / count)
    x = (temperatures - centre) / scale
    likelihood = _Likelihood(np.column_stack([np.ones(len(x)), x]), y, weights)
    best = likelihood.maximise(np.zeros(2), np.eye(2))
    highest = likelihood.at(best).value
    highest_flat = likelihood.at(likelihood.maximise(np.zeros(2), np.eye(2)[:, :1])).value
    intercept, slope = best.tolist()
    significant = highest - highest_flat > FALL
    even_x = -intercept / slope if slope != 0 else math.inf
    at_c = centre + scale * even_x
    both_ends = _at_both_ends(x, y, weights)
    interval: tuple[float | None, float | None] | None = None
    if significant and not both_ends:

        def excess_fall(even_at: float) -> float:
            along = np.array([[-even_at], [1.0]])
            start = np.array([-even_at, 1.0]) * slope
            return highest - FALL - likelihood.at(likelihood.maximise(start, along)).value

        def end(pour: float, step: float) -> float | None:
            farthest = pour + math.copysign(FARTHEST_K / scale, step)
            end_x = _interval_end(excess_fall, even_x, step, farthest)
            return None if end_x is None else centre + scale * end_x

        coolest, hottest = float(x.min()), float(x.max())
        step = (hottest - coolest) / 4.0
        interval = end(coolest, -step), end(hottest, step)
    why = "" if significant else "the pours do not show yet whether the temperature matters"
    if both_ends:
        why = "it happened at cool and at hot pours and less between: no one temperature tells"
    return Threshold(
        at_c=at_c if (range_c[0] <= at_c <= range_c[1] or significant) and not both_ends else None,
        interval_c=interval,
        rises=slope > 0 if significant and not both_ends else None,
        intercept=intercept - slope * centre / scale,
        slope_per_k=slope / scale,
        pours=count,
        range_c=range_c,
        both_ends=both_ends,
        why=why,
    )


class _Evaluation(Struct, frozen=True, eq=False):
    """The penalised log-likelihood at one set of coefficients, its gradient and information."""

    value: float
    score: Array
    information: Array


class _Likelihood:
    """Firth's penalised log-likelihood of a logistic regression.

    ``table`` has a row for each kind of pour and a column for each coefficient; ``weights``
    say how many such pours there are.
    """

    def __init__(self, table: Array, outcomes: Array, weights: Array) -> None:
        self.table = table
        self.outcomes = outcomes
        self.weights = weights

    def at(self, coefficients: Array) -> _Evaluation:
        """The likelihood at these coefficients, with its score and its information."""
        import numpy as np

        log_odds = self.table @ coefficients
        # ln p and ln (1 - p) without overflow on either side.
        log_yes = -np.logaddexp(0.0, -log_odds)
        log_no = -np.logaddexp(0.0, log_odds)
        chance_of = np.exp(log_yes)
        information_weights = self.weights * np.exp(log_yes + log_no)
        information = (self.table.T * information_weights) @ self.table
        sign, log_det = np.linalg.slogdet(information)
        if sign <= 0 or not math.isfinite(float(log_det)):
            return _Evaluation(-math.inf, np.zeros(len(coefficients)), information)
        solved = np.linalg.solve(information, self.table.T)
        leverage = information_weights * np.einsum("ij,ji->i", self.table, solved)
        value = float(
            self.weights @ (self.outcomes * log_yes + (1.0 - self.outcomes) * log_no)
        ) + 0.5 * float(log_det)
        score_weights = self.weights * (self.outcomes - chance_of) + leverage * (0.5 - chance_of)
        return _Evaluation(value, self.table.T @ score_weights, information)

    def maximise(self, start: Array, free: Array) -> Array:
        """Coefficients of the highest likelihood from ``start`` along the columns of ``free``.

        Newton steps, halved until the likelihood rises.
        """
        import numpy as np

        point = start
        evaluation = self.at(point)
        if free.shape[1] == 0 or evaluation.value == -math.inf:
            return point
        for _ in range(ITERATIONS_AT_MOST):
            slope = free.T @ evaluation.score
            curvature = free.T @ evaluation.information @ free
            increment = free @ np.linalg.solve(curvature, slope)
            if 0.5 * float(evaluation.score @ increment) < CONVERGED * max(1.0, -evaluation.value):
                break
            increment = increment * min(1.0, 5.0 / float(np.abs(increment).max()))
            for _ in range(30):
                trial = self.at(point + increment)
                if trial.value >= evaluation.value:
                    break
                increment = increment / 2.0
            else:
                break
            point, evaluation = point + increment, trial
        return point


def _at_both_ends(x: Array, y: Array, weights: Array) -> bool:
    """Whether the outcome is most frequent at cool and at hot pours, and less so between.

    That is: a parabola open upwards fits better than a line, with its lowest point among the pours.
    """
    import numpy as np

    if len(np.unique(x)) < 3:
        return False
    likelihood = _Likelihood(np.column_stack([np.ones(len(x)), x, x**2]), y, weights)
    # The penalties of two models of different size do not compare: both within the larger one.
    quadratic = likelihood.maximise(np.zeros(3), np.eye(3))
    linear = likelihood.maximise(np.zeros(3), np.eye(3)[:, :2])
    gain = likelihood.at(quadratic).value - likelihood.at(linear).value
    lowest = -float(quadratic[1]) / (2.0 * float(quadratic[2])) if quadratic[2] > 0 else math.inf
    return gain > FALL and float(x.min()) < lowest < float(x.max())


def _interval_end(
    excess_fall: Callable[[float], float], centre: float, step: float, farthest: float
) -> float | None:
    """The zero of ``excess_fall`` next to ``centre`` on one side; None beyond ``farthest``."""
    inner, outer = centre, centre + step
    while True:
        if (outer - farthest) * step > 0:
            outer = farthest
        if (outer - inner) * step <= 0:
            return None
        if excess_fall(outer) > 0:
            return find_zero(excess_fall, inner, outer, 1e-8)
        step *= 2.0
        inner, outer = outer, outer + step
