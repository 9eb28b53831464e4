"""The bars that a block is cut into."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.errors import FigureError
from journal.figures.pieces.blocks import bars_of_blocks


@pytest.mark.parametrize(
    ("number", "each", "blocks"),
    [(3, 10, (3,)), (10, 10, (10,)), (13, 10, (7, 6)), (20, 10, (10, 10)), (6, 1, (1,) * 6)],
)
def test_a_block_is_cut_into_the_bars_that_it_is_poured_for(
    number: int, each: int, blocks: tuple[int, ...]
) -> None:
    assert bars_of_blocks(number, each) == blocks


@given(st.integers(1, 500), st.integers(1, 40))
def test_blocks_are_few_and_alike(number: int, each: int) -> None:
    blocks = bars_of_blocks(number, each)
    assert sum(blocks) == number
    assert max(blocks) <= each
    assert max(blocks) - min(blocks) <= 1
    assert (len(blocks) - 1) * each < number


@pytest.mark.parametrize(("number", "each"), [(0, 10), (10, 0)])
def test_out_of_range(number: int, each: int) -> None:
    with pytest.raises(FigureError, match="both must be 1 or more"):
        bars_of_blocks(number, each)
