"""Brackets around a crossing, on signals whose crossing is known."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.figures.common.find_zero import find_zero
from journal.figures.heat.root_finder import rising_zeros

Array = np.ndarray


@given(
    st.lists(st.floats(31.0, 99.0), min_size=1, max_size=4),
    st.floats(0.05, 5.0),
    st.floats(0.5, 3.0),
)
def test_crossings_are_found_within_the_last_bracket(
    wanted: list[float], steepness: float, power: float
) -> None:
    def judge(chosen: Sequence[int], places: Array) -> tuple[Array, Array]:
        away = places - np.array([wanted[case] for case in chosen])
        bent = np.sign(away) * np.abs(steepness * away) ** power
        return bent, np.where(away < -7.0, -1.0, np.tanh(away))

    for found in rising_zeros(judge, len(wanted), (30.0, 100.0), 0.5):
        assert found == pytest.approx(wanted, abs=0.5)


def test_a_straight_signal_is_met_exactly() -> None:
    found = rising_zeros(lambda _, places: (places - 51.3,), 1, (30.0, 100.0), 0.5)
    assert found[0][0] == pytest.approx(51.3, abs=1e-9)


def test_no_crossing_is_none_and_one_below_the_grid_is_its_end() -> None:
    found = rising_zeros(
        lambda chosen, places: (places - np.where(np.array(chosen) == 0, 120.0, 10.0),),
        2,
        (30.0, 100.0),
        0.5,
    )
    assert found == ((None, 30.0),)


def test_a_jump_is_closed_in_on() -> None:
    found = rising_zeros(lambda _, places: (np.where(places < 47.0, -8.0, 0.1),), 1, (30, 100), 0.5)
    assert found[0][0] == pytest.approx(47.0, abs=0.5)


def test_cases_like_the_first_are_looked_at_where_it_passes() -> None:
    wanted, judged = [50.0, 52.0, 61.0, 31.0, 99.0], []

    def judge(chosen: Sequence[int], places: Array) -> tuple[Array]:
        judged.extend(zip(chosen, places.tolist(), strict=True))
        return (places - np.array([wanted[case] for case in chosen]),)

    (found,) = rising_zeros(judge, len(wanted), (30.0, 100.0), 0.5)
    assert found == pytest.approx(wanted)
    places = {case: {at for one, at in judged if one == case} for case in range(len(wanted))}
    grid = set(np.linspace(30.0, 100.0, 9).tolist())
    assert grid <= places[0]
    assert [len(places[case] & grid) for case in (1, 2, 3, 4)] == [2, 4, 4, 7]


def test_what_is_never_passed_and_what_is_passed_at_once() -> None:
    wanted = [50.0, 20.0, 120.0, 30.0, 100.0]

    def judge(chosen: Sequence[int], places: Array) -> tuple[Array]:
        return (places - np.array([wanted[case] for case in chosen]),)

    for order in ([0, 1, 2, 3, 4], [1, 0, 2, 3, 4], [2, 0, 1, 3, 4]):
        wanted = [[50.0, 20.0, 120.0, 30.0, 100.0][case] for case in order]
        ends = [[50.0, 30.0, None, 30.0, 100.0][case] for case in order]
        assert rising_zeros(judge, 5, (30.0, 100.0), 0.5)[0] == tuple(ends)


def test_a_zero_of_one_signal() -> None:
    assert find_zero(lambda x: np.cos(x) - x, 0.0, 1.0, 1e-12) == pytest.approx(
        0.7390851332151607, abs=1e-11
    )
    assert find_zero(lambda x: x - 2.0, 5.0, -1.0, 1e-9) == pytest.approx(2.0, abs=1e-9)
    assert find_zero(lambda x: 1.0 if x > 0.3 else -1.0, 0.0, 1.0, 1e-9) == pytest.approx(
        0.3, abs=1e-9
    )


@given(st.floats(-5.0, 5.0), st.floats(0.01, 50.0), st.integers(0, 2), st.booleans())
def test_a_zero_is_found_in_few_looks(root: float, steep: float, power: int, falls: bool) -> None:
    looks = 0

    def signal(x: float) -> float:
        nonlocal looks
        looks += 1
        away = steep * (x - root)
        return (-1.0 if falls else 1.0) * away ** (2 * power + 1)

    assert find_zero(signal, -6.0, 7.0, 1e-9) == pytest.approx(root, abs=2e-9)
    assert looks < 80
