"""How many bars to pour so that enough of them are fit to sell.

A bar of a design is fit to sell with some chance, its share. The shares of a studio's designs
are drawn from one beta distribution, so a design of few bars is shrunk towards the studio's mean;
the bars of one pour share its pot and its day, so a pour has a share of its own, drawn from a beta
about the design's. Nothing of this is fixed at its best value: all is weighed by how well it
explains the pours so far, on a grid. What is to come is then a mixture of beta-binomials, summed
over the rounds.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from msgspec import Struct

from journal.errors import FigureError
from journal.figures.common.arrays import Array

# With fewer nothing is said. Common practice, no source.
LEAST_JUDGED = 10
# Where more than so many times the bars wanted would have to be poured, nothing is said.
MOST_TIMES = 4
# The grid: shares of a design, the studio's mean, how alike its designs are and how alike the
# pours of a design, both in the bars that would say as much (alpha + beta of the beta); without
# end: pours do not differ. Even over it all, the last two by their logarithm.
_SHARES = tuple((place + 0.5) / 100 for place in range(100))
_MEANS = tuple((place + 0.5) / 40 for place in range(40))
_ALIKE = (1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0)
POURS_ALIKE = (2.0, 4.0, 8.0, 16.0, 32.0, 64.0, math.inf)
# Of the marginal distribution of a share: the ends of 95 %.
_ENDS = (0.025, 0.975)


class JudgedPour(NamedTuple):
    """A pour's bars: so many fit to sell of so many judged."""

    kept: int
    judged: int


class BarsEnough(Struct, frozen=True):
    """How many bars to pour for so many that are ``wanted``.

    ``chance`` is that of having enough of ``bars``, at least ``sure``; without ``bars`` there is
    no number, with the reason ``why``. ``kept`` of ``judged`` bars of the design were fit to sell
    so far, ``share`` is what that says of the next one beside the studio's ``others`` of all
    designs, ``low`` to ``high`` its 95 % interval.
    """

    wanted: int
    sure: float
    bars: int | None
    chance: float | None
    kept: int
    judged: int
    share: float | None
    low: float | None
    high: float | None
    others: JudgedPour
    why: str = ""


class ShareFit(NamedTuple):
    """What is known of a design: a weight for each share (rows) and likeness of its pours."""

    weights: Array
    pours_alike: tuple[float, ...]
    studio_mean: float


def bars_enough(
    own: Sequence[JudgedPour],
    others: Sequence[Sequence[JudgedPour]],
    wanted: int,
    sure: float,
    a_round: int | None,
    pours_alike: tuple[float, ...] = POURS_ALIKE,
) -> BarsEnough:
    """How many bars to pour so that ``wanted`` are fit to sell with a chance of ``sure``.

    Takes:  own      the design's pours so far, those with judged bars
            others   the pours of each of the studio's other designs
            wanted   bars; >= 1
            sure     above 0, below 1
            a_round  bars of a full round, which share a pot; None: all are poured at once
            pours_alike  how alike the pours of a design may be, in bars (alpha + beta)
    Gives:  the least number of bars with that chance; no number where fewer than
            ``LEAST_JUDGED`` bars were judged, or more than ``MOST_TIMES`` as many would be needed
    Fails:  FigureError if one lies outside its range
    Source: beta-binomial with a prior fitted over the designs (empirical Bayes: Gelman et al.,
            Bayesian Data Analysis, 3rd ed., 5.3), pours as a level between
    Checked: against scipy.stats.betabinom; the book's table 5.1; simulated studios
    """
    if wanted < 1 or not 0 < sure < 1 or (a_round is not None and a_round < 1):
        raise FigureError(f"{wanted} bars in rounds of {a_round} with a chance of {sure}")
    kept, judged = _total(own)
    studio = _total([one for pours in others for one in pours])
    if judged + studio.judged < LEAST_JUDGED:
        why = f"{LEAST_JUDGED} bars looked at (keep: yes or no)"
        return BarsEnough(wanted, sure, None, None, kept, judged, None, None, None, studio, why)
    fit = fit_share(own, others, pours_alike)
    by_share = fit.weights.sum(axis=1)
    share = float(by_share @ _grid())
    low, high = _ends_of(by_share)
    rounds = _Rounds(fit, a_round)
    for bars in range(wanted, MOST_TIMES * wanted + 1):
        chance = rounds.chance(bars, wanted)
        if chance >= sure:
            return BarsEnough(wanted, sure, bars, chance, kept, judged, share, low, high, studio)
    why = f"more bars fit to sell: of {MOST_TIMES} times as many it would not be sure"
    return BarsEnough(wanted, sure, None, None, kept, judged, share, low, high, studio, why)


def fit_share(
    own: Sequence[JudgedPour],
    others: Sequence[Sequence[JudgedPour]],
    pours_alike: tuple[float, ...] = POURS_ALIKE,
) -> ShareFit:
    """Weigh the shares that a design may have by its pours and those of the studio.

    Takes:  as ``bars_enough``
    Gives:  weights that sum to 1, and the studio's mean
    Source: as ``bars_enough``
    """
    import numpy as np

    prior = _prior()
    # Designs of the same pours explain them alike.
    counted: dict[tuple[JudgedPour, ...], int] = {}
    for pours in others:
        judged = tuple(sorted(one for one in pours if one.judged))
        if judged:
            counted[judged] = counted.get(judged, 0) + 1
    of_own = _likelihood([one for one in own if one.judged], pours_alike)
    explained = prior @ of_own
    log_weights = np.log(explained)
    for pours, designs in counted.items():
        log_weights += designs * np.log(prior @ _likelihood(pours, pours_alike))
    weights = np.exp(log_weights - log_weights.max())
    weights /= weights.sum()
    posterior = (prior.T @ (weights / explained)) * of_own
    means = np.repeat(_MEANS, len(_ALIKE))
    return ShareFit(posterior / posterior.sum(), pours_alike, float(means @ weights.sum(axis=1)))


def _total(pours: Sequence[JudgedPour]) -> JudgedPour:
    """All the bars of some pours."""
    for one in pours:
        if not 0 <= one.kept <= one.judged:
            raise FigureError(f"{one.kept} of {one.judged} bars are fit to sell")
    return JudgedPour(sum(one.kept for one in pours), sum(one.judged for one in pours))


@lru_cache(maxsize=1)
def _grid() -> Array:
    import numpy as np

    return np.array(_SHARES)


@lru_cache(maxsize=1)
def _prior() -> Array:
    """For each mean and likeness of designs (rows) the beta's weight of each share."""
    import numpy as np

    shares = _grid()
    rows = [
        (mean * alike - 1) * np.log(shares) + ((1 - mean) * alike - 1) * np.log1p(-shares)
        for mean in _MEANS
        for alike in _ALIKE
    ]
    weights = np.exp([row - row.max() for row in rows])
    normed: Array = weights / weights.sum(axis=1, keepdims=True)
    return normed


def _likelihood(pours: Sequence[JudgedPour], pours_alike: tuple[float, ...]) -> Array:
    """How well each share (rows) and likeness of pours explain some pours, up to a factor."""
    import numpy as np

    logs = np.zeros((len(_SHARES), len(pours_alike)))
    for one in pours:
        logs += _log_chance(one, pours_alike)
    found: Array = np.exp(logs - logs.max())
    return found


@lru_cache(maxsize=512)
def _log_chance(pour: JudgedPour, pours_alike: tuple[float, ...]) -> Array:
    """Log chance of a pour's bars in one order (Pólya's urn: a bar makes its kind likelier)."""
    import numpy as np

    shares = _grid()
    columns = []
    for alike in pours_alike:
        # A bar seen counts as 1 beside ``alike``; without end it counts nothing.
        weight = 0.0 if math.isinf(alike) else 1 / alike
        kept = [np.log(shares + weight * seen) for seen in range(pour.kept)]
        lost = [np.log(1 - shares + weight * seen) for seen in range(pour.judged - pour.kept)]
        both = math.fsum(math.log1p(weight * seen) for seen in range(pour.judged))
        columns.append(sum(kept, np.zeros(len(shares))) + sum(lost, 0.0) - both)
    return np.stack(columns, axis=1)


def _ends_of(by_share: Array) -> tuple[float, float]:
    """The ends of the middle 95 % of a share."""
    import numpy as np

    reached = np.cumsum(by_share)
    low, high = (int(np.searchsorted(reached, end)) for end in _ENDS)
    return _SHARES[low], _SHARES[min(high, len(_SHARES) - 1)]


class _Rounds:
    """The chances of bars fit to sell of any number, poured in rounds."""

    def __init__(self, fit: ShareFit, a_round: int | None) -> None:
        import numpy as np

        weights = fit.weights
        kept = weights > 1e-9 * weights.max()
        shares = np.repeat(_grid()[:, None], weights.shape[1], axis=1)[kept]
        alike = np.repeat(np.array(fit.pours_alike)[None, :], len(_SHARES), axis=0)[kept]
        self._weights = weights[kept] / weights[kept].sum()
        self._shares, self._each = shares, np.where(np.isinf(alike), 0.0, 1 / alike)
        self._a_round = a_round
        self._full: list[Array] = [np.ones((len(shares), 1))]
        self._one: list[Array] = [np.ones((len(shares), 1))]

    def chance(self, bars: int, wanted: int) -> float:
        """The chance that ``wanted`` or more of so many bars are fit to sell."""
        a_round = self._a_round or bars
        full, rest = divmod(bars, a_round)
        while len(self._full) <= full:
            self._full.append(_summed(self._full[-1], self._of_one_round(a_round)))
        of_all = _summed(self._full[full], self._of_one_round(rest))
        if self._a_round is None:  # the next number of bars is another round
            del self._full[1:]
        return float(self._weights @ of_all[:, wanted:].sum(axis=1))

    def _of_one_round(self, bars: int) -> Array:
        """Chances (columns) of 0 to ``bars`` fit to sell of a round: a beta-binomial each row.

        Each bar is drawn after those before it (Pólya's urn).
        """
        import numpy as np

        while len(self._one) <= bars:
            before = self._one[-1]
            poured = before.shape[1] - 1
            seen = np.arange(poured + 1)
            each, shares = self._each[:, None], self._shares[:, None]
            next_kept = (shares + each * seen) / (1 + each * poured)
            after = np.zeros((len(before), poured + 2))
            after[:, 1:] += before * next_kept
            after[:, :-1] += before * (1 - next_kept)
            self._one.append(after)
        return self._one[bars]


def _summed(one: Array, other: Array) -> Array:
    """The chances of the sum of two counts, row by row."""
    import numpy as np

    found = np.zeros((len(one), one.shape[1] + other.shape[1] - 1))
    for place in range(other.shape[1]):
        found[:, place : place + one.shape[1]] += one * other[:, place : place + 1]
    return found
