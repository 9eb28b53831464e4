"""Least squares for Newton's law of cooling, and tests of its residuals.

This module works on arrays: times in minutes from the first reading,
temperatures in degrees C, one of each a reading.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from journal.figures.common.arrays import Array
from journal.figures.common.statistics import t_beyond, t_quantile, t_quantile_95

# Externally studentised residuals need a run that can be fitted without one reading.
OUTLIER_READINGS = 5
# A reading that differs by less is within what a thermometer read to 1 F can do (0.556 K).
OUTLIER_LEAST_K = 0.6
# Chance of naming any reading of a sound run; shared among its readings (Bonferroni).
OUTLIER_CHANCE = 0.05
# Bending away from Newton's law: needs readings to spare for two more terms, for three to follow a
# pause between two slopes, and residuals above what reading to 1 F leaves (0.16 K in the mean).
BEND_READINGS = 6
THREE_TERMS_READINGS = 9
BEND_CHANCE = 0.01
BEND_LEAST_RMS_K = 0.4
# Fits look for rate x (length of the run) between these: slower is not seen to cool, faster is
# over before the second reading.
SLOWEST, FASTEST = 1e-4, 1e2


class FitCovariance(NamedTuple):
    """Covariance matrix of a fit's ln(excess), rate and room, and the t quantile for 95 %."""

    quantile: float
    covariance: tuple[tuple[float, ...], ...]

    def between(self, one: Sequence[float], other: Sequence[float]) -> float:
        """Covariance of two linear combinations of the parameters, by their coefficients."""
        return math.fsum(
            a * b * self.covariance[row][column]
            for row, a in enumerate(one)
            for column, b in enumerate(other)
        )


class NewtonParameters(NamedTuple):
    """Parameters of a fit: ln of the first excess over the room, rate a minute, room in C, sign."""

    log_excess: float
    rate: float
    room: float
    sign: float  # 1 above the room, -1 below it


def least_squares(
    time: Array, value: Array, room_c: float | None
) -> tuple[NewtonParameters, Array, Array] | None:
    """Fit Newton's law by least squares; without ``room_c`` the room is fitted too.

    For a given rate the other parameters are linear, so a scan over the rate
    alone finds the lowest valley. Gauss-Newton steps, halved until the sum of
    squares falls, then lead to its bottom, to 1e-12.

    Gives:  parameters, Jacobian and residuals; None if the readings do not approach the
            room, or at a rate out of bounds

    Source: variable projection, Golub & Pereyra, SIAM J. Numer. Anal. 10 (1973) 413, from memory
    """
    import numpy as np

    span = float(time.max())
    if room_c is not None and len(time) == 2:
        share = float(value[1] - room_c) / float(value[0] - room_c) if value[0] != room_c else 0.0
        if not 0.0 < share < 1.0:
            return None
    rates = np.geomspace(SLOWEST, FASTEST, 61) / span
    decay = np.exp(-np.multiply.outer(rates, time))
    if room_c is None:
        means = decay.mean(axis=1, keepdims=True)
        shape, target = decay - means, value - value.mean()
    else:
        shape, target = decay, value - room_c
    power = np.einsum("ij,ij->i", shape, shape)
    excess = shape @ target / np.where(power > 0, power, 1.0)
    error = float(target @ target) - excess**2 * power
    best = int(np.argmin(error))
    if best in (0, len(rates) - 1) and len(value) > 2:
        return None
    room = float(value.mean() - excess[best] * decay[best].mean()) if room_c is None else room_c
    if excess[best] == 0:
        return None
    sign = math.copysign(1.0, float(excess[best]))
    state = np.array([math.log(abs(float(excess[best]))), float(rates[best]), room])
    free = 3 if room_c is None else 2

    def evaluate(at: Array) -> tuple[Array, Array]:
        tail = sign * np.exp(at[0] - at[1] * time)
        return tail, value - at[2] - tail

    def derivatives(tail: Array) -> Array:
        columns = np.ones((len(time), free))
        columns[:, 0] = tail
        columns[:, 1] = -time * tail
        return columns

    tail, residual = evaluate(state)
    jacobian = derivatives(tail)
    lowest_error = float(residual @ residual)
    for _ in range(60):
        increment = np.zeros(3)
        increment[:free] = np.linalg.lstsq(jacobian, residual, rcond=None)[0]
        for _ in range(40):
            trial = state + increment
            # A step that leads beyond all floats leads up: it is halved as any other.
            with np.errstate(over="ignore", invalid="ignore"):
                tail, next_residual = evaluate(trial)
                next_error = float(next_residual @ next_residual)
            if next_error <= lowest_error and trial[1] > 0:
                break
            increment = increment / 2.0
        else:
            break
        small = bool(np.all(np.abs(increment) <= 1e-12 * (1.0 + np.abs(state))))
        state, jacobian = trial, derivatives(tail)
        residual, lowest_error = next_residual, next_error
        if small:
            break
    if not SLOWEST < float(state[1]) * span < FASTEST:
        return None
    log_excess, rate, room = state.tolist()
    return NewtonParameters(log_excess, rate, room, sign), jacobian, residual


def spread_of(jacobian: Array, residual: Array) -> FitCovariance | None:
    """Covariance of the parameters of a fit; None with no more readings than parameters."""
    import numpy as np

    count, free = jacobian.shape
    if count <= free:
        return None
    variance = float(residual @ residual) / (count - free)
    triangle = np.linalg.qr(jacobian, mode="r")
    if float(np.abs(np.diag(triangle)).min()) < 1e-13 * float(np.abs(triangle).max()):
        return None
    inverse = np.linalg.inv(triangle)
    covariance = np.zeros((3, 3))
    covariance[:free, :free] = variance * (inverse @ inverse.T)
    return FitCovariance(t_quantile_95(count - free), tuple(map(tuple, covariance.tolist())))


def outliers(jacobian: Array, residual: Array) -> tuple[tuple[int, float, float], ...]:
    """Find readings whose residual from the fit without them is too large for chance.

    Gives:  (reading, residual in K, externally studentised residual) for each
    Source: Cook & Weisberg, Residuals and Influence in Regression (1982), from memory
    """
    import numpy as np

    count, free = jacobian.shape
    freedom = count - free - 1
    if count < OUTLIER_READINGS or freedom < 1:
        return ()
    basis = np.linalg.qr(jacobian)[0]
    unexplained = 1.0 - np.einsum("ij,ij->i", basis, basis)
    error = float(residual @ residual)
    limit = t_quantile(1.0 - OUTLIER_CHANCE / (2.0 * count), freedom)
    outliers = []
    for index, (own_residual, share) in enumerate(
        zip(residual.tolist(), unexplained.tolist(), strict=True)
    ):
        if share <= 1e-9 or abs(own_residual) / share < OUTLIER_LEAST_K:
            continue
        # Floored so that a run which is exact without this reading still gives a finite figure.
        others = max(error - own_residual**2 / share, 1e-18 * error) / freedom
        studentised = own_residual / math.sqrt(others * share)
        if abs(studentised) > limit:
            outliers.append((index, own_residual, studentised))
    return tuple(outliers)


def departs_from_newton(time: Array, jacobian: Array, residual: Array) -> bool:
    """Whether terms in t^2, t^3 (and t^4) in the exponent improve the fit beyond chance.

    Source: F test of added terms (textbook), linearised at the fit
    """
    import numpy as np

    count, free = jacobian.shape
    terms = 2 if count < THREE_TERMS_READINGS else 3
    freedom = count - free - terms
    error = float(residual @ residual)
    if count < BEND_READINGS or freedom < 1 or math.sqrt(error / count) < BEND_LEAST_RMS_K:
        return False
    scaled = time / float(time.max())
    added = jacobian[:, :1] * np.column_stack([scaled**power for power in range(2, 2 + terms)])
    basis = np.linalg.qr(np.hstack([jacobian, added]))[0]
    explained = basis[:, free:].T @ residual
    gain = float(explained @ explained)
    remaining = max(error - gain, 1e-18 * error)
    return _chance_of_f(terms, freedom, gain / terms / (remaining / freedom)) < BEND_CHANCE


def bend_limit(count: int) -> float:
    """Fisher's F above which readings bend away from the curve, by ``departs_from_newton``.

    Takes:  count  readings of a run whose room is known; ``BEND_READINGS`` or more
    """
    terms = 2 if count < THREE_TERMS_READINGS else 3
    low, high = 0.0, 1e6
    for _ in range(80):
        middle = (low + high) / 2.0
        above = _chance_of_f(terms, count - 2 - terms, middle) >= BEND_CHANCE
        low, high = (middle, high) if above else (low, middle)
    return high


def _chance_of_f(terms: int, freedom: int, ratio: float) -> float:
    """The chance that Fisher's F of two or three added terms exceeds ``ratio`` without an effect.

    Source: Abramowitz and Stegun, Handbook of Mathematical Functions, 26.6.4 and 26.6.6, from
    memory
    """
    half = freedom / 2.0
    if terms == 2:
        return math.exp(-half * math.log1p(ratio / half))
    share = freedom / (freedom + 3.0 * ratio)
    beta = math.lgamma(half) + math.lgamma(0.5) - math.lgamma(half + 0.5)
    third = 2.0 * math.exp(half * math.log(share) - beta) * math.sqrt(1.0 - share)
    return t_beyond(math.sqrt(3.0 * ratio), freedom) + third
