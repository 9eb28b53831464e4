"""The volume of a colour in the bar: without the air that a spoon of powder holds.

A bar of the worked notebook has 80 mL of base in its body, 0.8 mL of oil, and 0.8 g of colour.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from worked_notebook import leaf, read

from journal.figures.recipe.derive_layers import LAYERS

CLOSE = 1e-12
TRUE = "  true_density: 0.5 g/mL       # no air in it: as bulky in the bar as on the spoon\n"


@pytest.mark.parametrize(
    ("written", "colour_ml"),
    [
        ("  true_density: 5 g/mL\n", 0.16),
        ("  true_density: 4-6 g/mL\n", 0.16),
        ("  kind: dye\n", 1.6),
        ("  paste: {pigment: 30 %, carrier: Glycerin}\n", 1.6),
    ],
)
def test_a_powder_takes_up_no_air_in_the_bar(
    tmp_path: Path, written: str, colour_ml: float
) -> None:
    found = leaf(read(tmp_path, ("shelf/colourants.yaml", TRUE, written))).recipe[LAYERS]
    assert found.value is not None
    body = found.value.layer("body")
    assert body.volume_ml_per_bar == pytest.approx(80.8 + colour_ml, rel=CLOSE)
    assert found.missing == ()


def test_a_powder_of_unknown_true_density_is_left_out_and_said(tmp_path: Path) -> None:
    found = leaf(read(tmp_path, ("shelf/colourants.yaml", TRUE, ""))).recipe[LAYERS]
    assert found.value is not None
    assert found.value.layer("body").volume_ml_per_bar == pytest.approx(80.8, rel=CLOSE)
    assert [(one.figure, one.needs) for one in found.missing] == [
        ("volume of colour in the bar", "colourants/brick: true_density")
    ]
    # What is measured out is as it was.
    assert found.value.layer("body").of_kind("colourants")[0].volume_ml == pytest.approx(6.72)
