"""The table of widths is the one that the theme's fonts give."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest

from journal.html.text_width import FontFace, letter_widths


def script() -> ModuleType:
    path = Path(__file__).with_name("compute_text_width.py")
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("face", ["regular", "bold", "title"])
def test_the_table_is_that_of_the_font_files(face: FontFace) -> None:
    pytest.importorskip("fontTools")
    made = script()
    assert letter_widths()[face] == made.advances(*made.FACES[face])


@pytest.mark.parametrize("face", ["regular", "bold"])
def test_figures_are_all_as_wide_as_each_other(face: FontFace) -> None:
    # Tabular figures: an amount for more bars is no wider unless it has more digits.
    widths = letter_widths()[face]
    assert len({widths[digit] for digit in "0123456789"}) == 1
