"""Doses are put in order by how strong they are."""

from __future__ import annotations

from typing import Any

import pytest

from journal.figures.recipe.doses import dose_strength

LB = 453.59237


@pytest.mark.parametrize(
    ("dose", "expected"),
    [
        (("share", 0.01, "base", None), 0.01),
        (("mass", 8.0, "base", 1000.0), 0.008),
        # 5 mL of 0.5 g/mL to the pound.
        (("volume", 5.0, "base", LB), 2.5 / LB),
        (("volume", 5.0, "pot", None), None),
        (("mass", 5.0, "bar", None), None),
    ],
)
def test_strength_is_grams_to_a_gram_of_base(dose: Any, expected: float | None) -> None:
    assert dose_strength(*dose, (0.4, 0.6)) == (
        None if expected is None else pytest.approx(expected)
    )


def test_a_volume_of_unknown_density_stays_a_volume() -> None:
    assert dose_strength("volume", 5.0, "base", LB, None) == pytest.approx(5 / LB)
