"""A t test of few pots that borrows the scatter of other designs.

Two pots of each variant say next to nothing of how much pots differ anyway; the pots of the
other designs do. Their variances are taken as drawn about a typical one, as widely as they show
themselves to be (Smyth, Stat. Appl. Genet. Mol. Biol. 3 (2004), article 3), and the variance of
these pots is moved towards it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from msgspec import Struct

from journal.errors import FigureError

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy as np
    from numpy.typing import NDArray

    StudentsLaw = Callable[[NDArray[np.float64], NDArray[np.float64]], NDArray[np.float64]]

# The degrees of freedom that the typical variance may be worth: from "says little" to "is nearly
# the same for every design". Before the variances are weighed each weighs as much as it is, as if
# all whole numbers were as likely: equal weights tell less where designs scatter alike, and are
# wrong hardly less often where they do not (the table of DEVELOPERS.md).
PRIOR_DF = (2, 3, 4, 6, 10, 20, 60)
# The typical variance is sought within e^3 of the pooled one either way, in steps of a fifth.
REACH, STEPS = 3.0, 31
# So many other designs with so many degrees of freedom together are enough to borrow from.
LEAST_DESIGNS, LEAST_DF = 4, 8
# Scatter of the pots themselves, over that of the other designs, from which on nothing is borrowed
# without a doubt: at two and three times it 16 to 28 % of the answers from two pots are false.
UNLIKE_RATIO = 2.0
# Laws of the variance that weigh less change no digit of a p that anybody is told.
LEAST_WEIGHT = 1e-9
# So many factors of a likelihood are multiplied before a logarithm is taken of them, which is the
# dear part; 16 stay below the largest float as long as no variance is 1e18 times the typical one.
FACTORS_AT_ONCE = 16


class PotScatter(Struct, frozen=True):
    """The variance of pots about their variants' means, with its degrees of freedom."""

    variance: float
    df: int


class ModeratedTest(Struct, frozen=True):
    """A moderated t test: its two-sided p, and what it was made of.

    ``excess`` is the estimate, second less first. ``reach`` is the half width of the intervals at
    95 and 90 %. ``ratio`` is the scatter of these pots over that of the others (standard
    deviations), None where nothing was borrowed. ``designs`` and ``df`` count what was borrowed
    from.
    """

    p: float
    excess: float
    reach: tuple[float, float]
    ratio: float | None
    own: PotScatter
    designs: int
    df: int

    @property
    def is_unlike(self) -> bool:
        """Whether these pots scatter so much more than others that little can be borrowed."""
        return self.ratio is not None and self.ratio >= UNLIKE_RATIO


class Shift(Struct, frozen=True):
    """An estimated shift within blocks, the factor of its variance, and the scatter left."""

    estimate: float
    factor: float
    scatter: PotScatter


def block_shift(blocks: Sequence[tuple[Sequence[float], Sequence[float]]]) -> Shift:
    """Least squares of value = block + side, and the variance that is left.

    Of pairs it is their mean difference with n - 1 degrees of freedom, of one block with n of
    each the difference of means with 2 n - 2.

    Takes:  blocks  places of the first and of the second in each; those with both count
    Fails:  FigureError if no block has both
    """
    used = [(a, b) for a, b in blocks if a and b]
    if not used:
        raise FigureError("no block has pots of both")
    weights = [len(a) * len(b) / (len(a) + len(b)) for a, b in used]
    gaps = [math.fsum(b) / len(b) - math.fsum(a) / len(a) for a, b in used]
    whole = math.fsum(weights)
    estimate = math.fsum(w * gap for w, gap in zip(weights, gaps, strict=True)) / whole
    squares = math.fsum(
        w * (gap - estimate) ** 2 for w, gap in zip(weights, gaps, strict=True)
    ) + math.fsum(
        (value - math.fsum(side) / len(side)) ** 2
        for pair in used
        for side in pair
        for value in side
    )
    df = sum(len(a) + len(b) for a, b in used) - len(used) - 1
    return Shift(estimate, 1 / whole, PotScatter(squares / df if df else 0.0, df))


def borrows(others: Sequence[PotScatter]) -> bool:
    """Whether other designs are enough to borrow from, by counts alone."""
    return len(others) >= LEAST_DESIGNS and sum(other.df for other in others) >= LEAST_DF


def moderated_t_test(
    shift: Shift, others: Sequence[PotScatter] = (), least: float = 0.0
) -> ModeratedTest:
    """Test a shift of pots; without ``others`` it is the plain t test.

    Takes:  shift   of the pots, with one degree of freedom or more
            others  the scatter of other designs on the same scale
            least   the least variance that can be believed, 0 or more
    Fails:  FigureError without a degree of freedom, or with neither scatter nor ``least``
    Source: Smyth 2004, equation for the posterior variance; weights by the scaled F density of
            the variances, his equation for the marginal law of s^2; the grid is ours
    Checked: against Student's t of scipy without others; the table of the simulation in
            DEVELOPERS.md
    """
    own = shift.scatter
    if own.df < 1:
        raise FigureError("a scatter needs a degree of freedom")
    variances = [max(other.variance, least) for other in (own, *others)]
    if min(variances) <= 0:
        raise FigureError("pots that are all alike have no scatter to test by")
    law = mixture([variances], [own.df, *(other.df for other in others)]).of_weight(LEAST_WEIGHT)
    at = math.sqrt(shift.factor)
    ratio = None
    if others:
        ratio = float(scatter_ratio([variances], [other.df for other in others])[0])
    return ModeratedTest(
        p=float(law.p([abs(shift.estimate) / at])[0]),
        excess=shift.estimate,
        reach=(law.quantile(0.05) * at, law.quantile(0.10) * at),
        ratio=ratio,
        own=PotScatter(variances[0], own.df),
        designs=len(others),
        df=sum(other.df for other in others),
    )


def scatter_ratio(
    variances: Sequence[Sequence[float]] | NDArray[np.float64], df: Sequence[int]
) -> NDArray[np.float64]:
    """The scatter of a design's pots over the typical one of others, as standard deviations.

    The logarithm of a variance from few degrees of freedom lies below that of the true one on
    average; what it lacks is added.

    Takes:  variances  a row a notebook: the design's own, then those of other designs; above 0
            df         degrees of freedom of the others
    Source: Smyth 2004, section 6.2 (from memory): e_g, without bias for the typical logarithm
    Checked: variances of one true scatter, drawn by chance: 1 on average, see the tests
    """
    import numpy as np
    from scipy.special import digamma

    rows = np.asarray(variances, dtype=float)
    half = np.asarray(df, dtype=float) / 2
    logs = np.log(rows[:, 1:]) - digamma(half) + np.log(half)
    return np.asarray(np.sqrt(rows[:, 0] / np.exp((logs * half).sum(1) / half.sum())))


class VarianceMixture:
    """Laws of one design's variance, each with its weight, for many notebooks at once.

    ``variance`` and ``weight`` are (notebooks, laws), ``df`` is (laws): each law is a posterior
    variance with its degrees of freedom.
    """

    def __init__(
        self, variance: NDArray[np.float64], df: NDArray[np.float64], weight: NDArray[np.float64]
    ) -> None:
        self.variance, self.df, self.weight = variance, df, weight

    def of_weight(self, least: float) -> VarianceMixture:
        """The laws of the first notebook that weigh more than ``least``, as one notebook."""
        used = self.weight[0] > least
        return VarianceMixture(self.variance[:1, used], self.df[used], self.weight[:1, used])

    def p(
        self, gaps: Sequence[float] | NDArray[np.float64], below: StudentsLaw | None = None
    ) -> NDArray[np.float64]:
        """Two-sided p of gaps, a notebook each, in units of variance one.

        ``below`` is Student's law by df and t, at most 0; None for scipy's.
        """
        import numpy as np
        from scipy.special import stdtr

        t = np.asarray(gaps)[:, None] / np.sqrt(self.variance)
        tails = 2 * (below or stdtr)(self.df, -t)
        # Weights sum to 1 but for their last digits.
        return np.asarray(np.minimum(1.0, (self.weight * tails).sum(1)))

    def quantile(self, p: float) -> float:
        """The gap of the first notebook that has this p."""
        from scipy.optimize import brentq

        def above(gap: float) -> float:
            return float(self.p([gap])[0]) - p

        top = 1.0
        while above(top) > 0:
            top *= 2
        return float(brentq(above, 0.0, top))


def mixture(
    variances: Sequence[Sequence[float]] | NDArray[np.float64],
    df: Sequence[int],
    of_new: bool = False,
) -> VarianceMixture:
    """The laws of the first variance of each row, given all of the row.

    Takes:  variances  a row a notebook: the design's own, then those of other designs; above 0
            df         degrees of freedom of each column
            of_new     True for a design that has no variance yet: all of the row are others
    """
    import numpy as np
    from scipy.special import gammaln

    rows = np.asarray(variances, dtype=float)
    own_df = np.asarray(df, dtype=float)
    if rows.shape[1] == 1 and not of_new:
        return VarianceMixture(rows, own_df, np.ones_like(rows))
    logs = np.log(rows)
    typical = (logs * own_df).sum(1)[:, None] / own_df.sum() + np.linspace(-REACH, REACH, STEPS)
    # The density of a variance with its df about a typical one that is worth prior df: scaled F.
    prior = np.array(PRIOR_DF, dtype=float)[:, None]
    height = np.log(prior) + np.zeros((len(rows), len(PRIOR_DF), STEPS))
    for d in np.unique(own_df):
        alike = np.flatnonzero(own_df == d)
        constant = (
            gammaln((d + prior) / 2) - gammaln(d / 2) - gammaln(prior / 2)
            + d / 2 * np.log(d / prior)
        )  # fmt: skip
        above = d / 2 * (logs[:, alike].sum(1)[:, None] - len(alike) * typical)
        scaled = (d / prior) * np.exp(-typical)[:, None, :]
        factors = 1 + rows[:, alike, None, None] * scaled[:, None]
        pieces = np.arange(0, len(alike), FACTORS_AT_ONCE)
        height += len(alike) * constant + above[:, None, :]
        height -= (d + prior) / 2 * np.log(np.multiply.reduceat(factors, pieces, axis=1)).sum(1)
    height = height.reshape(len(rows), -1)
    weight = np.exp(height - height.max(1, keepdims=True))
    prior_df = np.repeat(prior, STEPS)
    seen = 0.0 if of_new else own_df[0]
    variance = (prior_df * np.tile(np.exp(typical), len(PRIOR_DF)) + seen * rows[:, :1]) / (
        prior_df + seen
    )
    return VarianceMixture(variance, prior_df + seen, weight / weight.sum(1, keepdims=True))
