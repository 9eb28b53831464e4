"""The zero of one signal between two places, with few evaluations."""

from __future__ import annotations

import math
from collections.abc import Callable


def find_zero(signal: Callable[[float], float], low: float, high: float, tolerance: float) -> float:
    """Find the zero of a signal between two places at which its signs differ.

    Each next place is that of inverse quadratic interpolation through the last three where
    that is safe, else the middle.

    Takes:  signal     continuous
            low, high  places with a signal of either sign, in any order
            tolerance  of the place, beside its own last digits; > 0
    Gives:  the place
    Source: Chandrupatla, Adv. Eng. Softw. 28 (1997) 145, from memory
    Checked: cos x = x at 0.739085 (test_brackets.py)
    """
    # The zero lies between ``near`` and ``far``; ``before`` is the place that was let go.
    near, far = low, high
    at_near, at_far = signal(near), signal(far)
    share = 0.5
    for _ in range(200):
        trial = near + share * (far - near)
        at_trial = signal(trial)
        if (at_trial >= 0) == (at_near >= 0):
            before, at_before = near, at_near
        else:
            before, far, at_before, at_far = far, near, at_far, at_near
        near, at_near = trial, at_trial
        width = abs(far - near)
        slack = 2.0 * math.ulp(1.0) * abs(near) + tolerance / 2.0
        if at_near == 0 or width <= 2.0 * slack:
            break
        xi = (near - far) / (before - far)
        phi = (at_near - at_far) / (at_before - at_far)
        share = 0.5
        if phi**2 < xi and (1.0 - phi) ** 2 < 1.0 - xi:
            share = at_near / (at_far - at_near) * at_before / (at_far - at_before) + (
                before - near
            ) / (far - near) * at_near / (at_before - at_near) * at_far / (at_before - at_far)
        least_share = slack / width
        share = min(max(share, least_share), 1.0 - least_share)
    return near if abs(at_near) <= abs(at_far) else far
