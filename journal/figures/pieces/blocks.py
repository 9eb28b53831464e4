"""The bars that a block is cut into, such as a loaf."""

from __future__ import annotations

from journal.errors import FigureError


def bars_of_blocks(bars: int, bars_each: int) -> tuple[int, ...]:
    """The bars that each block of a round is cut into: those that base was poured for.

    As few blocks as hold them all, filled alike: a block that is filled less is lower, and is cut
    into fewer bars, not into lower ones.

    Takes:  bars       of the round; >= 1
            bars_each  bars cut from a full block; >= 1
    Gives:  a count a block, the largest first; they sum to bars
    Fails:  FigureError outside these ranges
    Source: definition; common practice, no source
    Checked: 3 bars of a loaf for 10: 3; 13 bars: 7 and 6
    """
    if bars < 1 or bars_each < 1:
        raise FigureError(f"{bars} bars in blocks of {bars_each}: both must be 1 or more")
    blocks = -(-bars // bars_each)
    each, over = divmod(bars, blocks)
    return (each + 1,) * over + (each,) * (blocks - over)
