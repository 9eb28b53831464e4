"""Bars are drawn to the shelf's sizes, in colours that say where they are from."""

from __future__ import annotations

from pathlib import Path

import pytest
from worked_notebook import leaf, read

from journal.figures.common.derive_context import RecipeContext
from journal.figures.derive import figures_summary
from journal.figures.recipe.derive_face import BarFace, FacePart, bar_face
from journal.figures.recipe.derive_fill import FILL
from journal.photos.derive import MeasuredPhoto
from journal.photos.measurement import Corrected, MeasuredRegion, Measurement
from journal.records.notebook import Notebook
from journal.views.shared.bars_seen import seen_bar


def face_of(notebook: Notebook) -> BarFace:
    design = notebook.designs["leaf"]
    face = figures_summary(notebook, design, leaf(notebook)).face
    assert face is not None
    return face


def photo(
    region: str, srgb: tuple[float, float, float], day: int = 1,
    variant: str | None = None, corrected: Corrected = "card",
) -> MeasuredPhoto:  # fmt: skip
    seen = MeasuredRegion(region, srgb, (50.0, 0.0, 0.0), "grey", None)
    measurement = Measurement(None, 0.0, corrected, (seen,), None, ())
    return MeasuredPhoto("leaf", "p.jpg", variant, None, day, measurement)


def test_sizes_are_those_of_the_shelf(tmp_path: Path) -> None:
    face = face_of(read(tmp_path))
    assert (face.size_mm, face.motif_mm, face.mat) == ((80, 50), (60, 40), "leaf")
    assert face.piece_mm == (64, 44)  # straight, 2 mm outside the motif


BASE = ("shelf/bases.yaml", "  name: Plain\n", '  name: Plain\n  looks: "#F4F0E6"\n')
BRICK = ("shelf/colourants.yaml", "  name: Brick\n", '  name: Brick\n  looks: "#b5533c"\n')


def test_described_colours_are_the_colourants_over_the_bases(tmp_path: Path) -> None:
    """A tint hides the base; what is tinted with something of no known colour has none."""
    looks = {
        name: [part.looks for part in face_of(read(tmp_path / name, *changes)).parts]
        for name, changes in {"none": (), "base": (BASE,), "both": (BASE, BRICK)}.items()
    }
    assert looks == {"none": ["", ""], "base": ["#f4f0e6", ""], "both": ["#f4f0e6", "#b5533c"]}


FACE = BarFace((80.0, 50.0), 0.0, (FacePart("detail", "", 0.1), FacePart("body", "#111111", 0.9)))


@pytest.mark.parametrize(
    ("photos", "fill", "source"),
    [
        ((), "#111111", "described"),
        ((photo("body", (160, 177, 194)),), "#a0b1c2", "photo"),
        # A region of another name is none of the layer.
        ((photo("edge", (160, 177, 194)),), "#111111", "described"),
        # The bar of another recipe has another colour.
        ((photo("body", (160, 177, 194), variant="clear"),), "#111111", "described"),
        # The first day, but what was set right before what was not.
        ((photo("body", (9, 9, 9), 30), photo("body", (1, 2, 3), 1)), "#010203", "photo"),
        ((photo("body", (9, 9, 9), 30), photo("body", (1, 2, 3), 1, None, "none")), "#090909",
         "photo"),
    ],
)  # fmt: skip
def test_a_photo_comes_before_a_description(
    photos: tuple[MeasuredPhoto, ...], fill: str, source: str
) -> None:
    seen = seen_bar(FACE, None, photos, ("clear",))
    assert seen.bar.parts[1].fill == fill
    assert seen.sources == (("detail", "unknown"), ("body", source))


def test_the_words_say_where_each_colour_is_from() -> None:
    seen = seen_bar(FACE, None, (photo("detail", (255, 255, 255)),), ())
    assert seen.says == (
        "80 × 50 mm. Detail in the colour of a photo; body as the maker describes it."
    )
    assert seen_bar(FACE, None, (), ()).says == (
        "80 × 50 mm. Detail of a colour not known; body as the maker describes it."
    )
    drawing = seen.drawing("bar", "A bar", 0.1)
    assert drawing.desc == seen.says
    assert seen.drawing("bar", "", 0.1).desc == ""


def test_a_block_is_seen_where_it_is_cut(tmp_path: Path) -> None:
    """A block of 80 x 50 mm, 25 mm deep, cut into two: 50 mm wide, as high as it is filled."""
    cut = ("shelf/moulds.yaml", "  cavities: 4\n", "  cavities: 4\n  bars_each: 2\n")
    notebook = read(tmp_path, cut)
    face = face_of(notebook)
    fill = leaf(notebook).recipe[FILL].value
    assert fill is not None
    assert face.cut
    assert face.size_mm == (50, pytest.approx(25 * min(1.0, sum(fill.fill) / 2)))
    assert sum(part.share for part in face.parts) == pytest.approx(1)


def test_without_a_mould_of_known_size_there_is_nothing_to_draw(tmp_path: Path) -> None:
    notebook = read(tmp_path, ("shelf/moulds.yaml", "  face: 80 x 50 mm\n", ""))
    design = notebook.designs["leaf"]
    context = RecipeContext(notebook.settings, notebook.shelf, design, design.as_written, 4)
    assert bar_face(context, leaf(notebook).recipe.masses, None) is None
