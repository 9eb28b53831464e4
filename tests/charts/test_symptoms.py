"""Every usual symptom but "other" has a drawing within its frame; a studio's own has none."""

from __future__ import annotations

import re

import pytest

from journal.charts.symptoms import symptom_drawing
from journal.records.models.settings import BUILT_IN_SYMPTOMS


@pytest.mark.parametrize("name", sorted(set(BUILT_IN_SYMPTOMS) - {"other"}))
def test_a_usual_symptom_is_drawn(name: str) -> None:
    drawing = symptom_drawing(name)
    assert drawing is not None
    assert not drawing.title
    assert {shape.tone for shape in drawing.shapes} & {"fault", "flecks", "gone"}
    assert sum(len(shape.d) for shape in drawing.shapes) < 300
    starts = re.findall(r"M([\d.]+) ([\d.]+)", " ".join(shape.d for shape in drawing.shapes))
    assert all(0 <= float(x) <= 60 and 0 <= float(y) <= 40 for x, y in starts)


def test_each_is_drawn_its_own_way() -> None:
    names = set(BUILT_IN_SYMPTOMS) - {"other"}
    assert len({symptom_drawing(name) for name in names}) == len(names)


@pytest.mark.parametrize("name", ["other", "warped"])
def test_what_nobody_can_draw_has_none(name: str) -> None:
    assert symptom_drawing(name) is None


@pytest.mark.parametrize("name", ["discoloured", "muddied"])
def test_what_studios_often_add_is_drawn_too(name: str) -> None:
    drawing = symptom_drawing(name)
    assert drawing is not None
    assert drawing not in {symptom_drawing(usual) for usual in BUILT_IN_SYMPTOMS}
