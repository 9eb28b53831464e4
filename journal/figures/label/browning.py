"""How far vanillin is likely to brown a bar. Common practice, no source."""

from __future__ import annotations

from journal.errors import FigureError

# From which share of the whole bar on is how much browning to expect? Makers tell of oils: below
# 1 % of vanillin a slight change, from 10 % dark brown. A bar holds about 3 % of oil, so 0.03 %
# and 0.3 % of the bar; the steps between are ours. Common practice, no source.
NO_BROWNING = "none to be seen"
BROWNING: tuple[tuple[float, str], ...] = (
    (0.0, NO_BROWNING),
    (0.0001, "cream"),
    (0.0003, "tan"),
    (0.001, "brown"),
    (0.003, "dark brown"),
)


def vanillin_in_bar(oil_share: float, vanillin_share: float) -> float:
    """The share of vanillin in a bar, from one oil.

    Takes:  oil_share       of the oil in the whole bar; 0 to 1
            vanillin_share  of vanillin in the oil; 0 to 1
    Gives:  0 to 1
    Fails:  FigureError outside these ranges
    Source: definition
    Checked: 8 % of an oil that is 1 % of the bar: 0.08 %
    """
    if not (0 <= oil_share <= 1 and 0 <= vanillin_share <= 1):
        raise FigureError(f"{vanillin_share} of {oil_share}; a share is 0 to 1")
    return oil_share * vanillin_share


def browning_to_expect(bar_share: float) -> str:
    """The browning to expect within weeks of a bar with so much vanillin.

    Takes:  bar_share  of vanillin in the whole bar; 0 to 1
    Gives:  the words of ``BROWNING``
    Fails:  FigureError outside the range
    Source: common practice, no source
    Checked: 0.08 % gives tan
    """
    if not 0 <= bar_share <= 1:
        raise FigureError(f"vanillin is {bar_share} of the bar; a share is 0 to 1")
    return next(words for least, words in reversed(BROWNING) if bar_share >= least)
