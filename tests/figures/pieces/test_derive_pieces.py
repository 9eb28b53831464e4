"""Casts of pieces and the moulds that they fit: counted by hand on a few rows."""

from __future__ import annotations

from pathlib import Path

import pytest
from demo_book import demo_notebook
from worked_notebook import lay_out, read

from journal.figures.day.derive_order import derive_order
from journal.figures.pieces.derive_pieces import (
    bars_by_piece,
    derive_pieces,
    fitting_pieces,
    places_of_recipe,
)
from journal.records.notebook import read_notebook

DESIGN = "designs/leaf/design.md"
PIECES = "shelf/pieces.yaml"
NAMED = (DESIGN, "bars: 4\n", "bars: 4\npiece: leaf-a\n")
VARIANTS = (
    DESIGN,
    "pours:\n",
    "variants:\n  near: {trim: close, piece: leaf-b}\n  far: {trim: straight 2 mm}\npours:\n",
)
CLOSE_PIECE = (
    PIECES,
    "leaf-a:\n",
    "leaf-b: {name: Near, mat: leaf, mould: four, trim: close}\nleaf-a:\n",
)


def test_what_casts_are_counted_from(tmp_path: Path) -> None:
    found = derive_pieces(read(tmp_path))["leaf-a"]
    before, poured = found.inputs
    assert (before.name, before.text) == ("casts before the first pour here", "3")
    # "casts_before: 3" is the sixth line of the file, its value begins in column 17.
    assert str(before.at) == "shelf/pieces.yaml:6:17"
    assert (poured.name, poured.text) == ("casts in the pours written up", "4")
    assert poured.at is None


def test_casts_by_the_bar_row(tmp_path: Path) -> None:
    """A1 to A3 name the piece; A4 names none, nor does the recipe: its card chooses the same."""
    found = derive_pieces(read(tmp_path))["leaf-a"].value
    assert found is not None
    assert (found.before, found.poured, found.alike) == (3, 4, 2)
    # 3 + 4 casts on two pieces: 4 for one; of 50 each, 93 of 100 are left.
    assert found.casts is not None
    assert (found.before + found.poured, found.casts.left, found.casts.over) == (7, 93, 0)
    assert (found.had_each, found.left_each) == (4, 46)


def test_a_bar_without_a_piece_lay_on_what_its_card_chooses(tmp_path: Path) -> None:
    """That is one of its mat, mould and trim; of another trim none is there to choose."""
    bare = [(DESIGN, f"bar: A{bar}, piece: leaf-a, ", f"bar: A{bar}, ") for bar in (1, 2, 3)]
    notebook = read(tmp_path / "one", *bare)
    assert bars_by_piece(notebook.designs, notebook.shelf) == {"leaf-a": 4}
    other = (DESIGN, "trim: straight 2 mm", "trim: close")
    notebook = read(tmp_path / "none", *bare, other)
    assert bars_by_piece(notebook.designs, notebook.shelf) == {}


def test_casts_by_the_recipe(tmp_path: Path) -> None:
    found = derive_pieces(read(tmp_path, NAMED))["leaf-a"].value
    assert found is not None
    assert found.poured == 4


def test_casts_by_the_variant(tmp_path: Path) -> None:
    """A bar lay on its variant's piece, unless its row names another."""
    rows = [
        (DESIGN, f"{{bar: {bar}, {old}keep:", f"{{bar: {bar}, {new}keep:")
        for bar, old, new in (
            ("A1", "piece: leaf-a, ", "piece: leaf-a, variant: near, "),
            ("A2", "piece: leaf-a, ", "variant: near, "),
            ("A3", "piece: leaf-a, ", "variant: far, "),
            ("A4", "", "variant: far, "),
        )
    ]
    notebook = read(tmp_path, NAMED, VARIANTS, CLOSE_PIECE, *rows)
    # A1 by its row, A3 and A4 by the recipe's piece that "far" keeps; A2 by "near".
    assert bars_by_piece(notebook.designs, notebook.shelf) == {"leaf-a": 3, "leaf-b": 1}


def test_a_block_that_is_cut_is_one_cast(tmp_path: Path) -> None:
    """Two bars are cut from a cavity: three bars were two casts."""
    notebook = read(
        tmp_path, ("shelf/moulds.yaml", "  cavities: 4", "  cavities: 4\n  bars_each: 2")
    )
    assert bars_by_piece(notebook.designs, notebook.shelf)["leaf-a"] == 2


def test_a_worn_piece_is_over_its_life(tmp_path: Path) -> None:
    found = derive_pieces(read(tmp_path, (PIECES, "casts_before: 3", "casts_before: 120")))
    value = found["leaf-a"].value
    assert value is not None
    assert value.casts is not None
    assert (value.casts.left, value.casts.over, value.left_each) == (0, 24, 0)


@pytest.mark.parametrize(
    ("change", "needs"),
    [
        (("shelf/mats.yaml", "  life: 50\n", ""), "mats/leaf: life"),
        ((PIECES, "  mat: leaf\n", ""), "pieces/leaf-a: mat"),
    ],
)
def test_a_life_that_is_not_known_has_its_reason(
    tmp_path: Path, change: tuple[str, str, str], needs: str
) -> None:
    figure = derive_pieces(read(tmp_path, change))["leaf-a"]
    assert figure.value is not None
    assert figure.value.casts is None
    assert figure.value.left_each is None
    assert needs in [entry.needs for entry in figure.missing]


def test_moulds_that_a_piece_fits(tmp_path: Path) -> None:
    """64 x 44 mm: upright in 80 x 50, turned in 48 x 70, not in 60 x 60."""
    moulds = (
        "shelf/moulds.yaml", "four:\n",
        "narrow: {name: Narrow, face: 48 x 70 mm}\n"
        "square: {name: Square, face: 60 x 60 mm}\nunknown: {name: Unknown}\nfour:\n",
    )  # fmt: skip
    found = derive_pieces(read(tmp_path, moulds))["leaf-a"].value
    assert found is not None
    assert found.size_mm == (64, 44)
    assert [(fit.mould, fit.turned) for fit in found.fits] == [("narrow", True), ("four", False)]


def test_a_measured_size_goes_before_the_cut_one(tmp_path: Path) -> None:
    sized = (PIECES, "  trim: straight 2 mm", "  trim: straight 2 mm\n  size: 63 x 45 mm")
    found = derive_pieces(read(tmp_path, sized))["leaf-a"].value
    assert found is not None
    assert found.size_mm == (63, 45)


def test_a_cavity_too_small_for_any_piece(tmp_path: Path) -> None:
    small = lay_out(tmp_path, ("shelf/moulds.yaml", "80 x 50 mm", "80 x 2 mm"))
    figure = derive_pieces(read_notebook(small))
    assert figure["leaf-a"].value is not None
    assert figure["leaf-a"].value.fits == ()
    assert "larger face" in figure["leaf-a"].missing[0].needs


@pytest.mark.parametrize(
    ("old", "new", "fits"),
    [
        ("mat: leaf", "mat: leaf", True),
        ("mat: leaf", "mat: fern", False),
        ("mould: four", "mould: five", False),
        ("straight 2 mm", "straight 2.5 mm", False),
        ("straight 2 mm", "close", False),
    ],
)
def test_a_piece_fits_if_mat_mould_and_trim_agree(
    tmp_path: Path, old: str, new: str, fits: bool
) -> None:
    others = {
        "shelf/mats.yaml": "leaf: {name: Leaf}\nfern: {name: Fern}\n",
        "shelf/moulds.yaml": "four: {name: Four, cavities: 4}\nfive: {name: Five, cavities: 5}\n",
    }
    rows = (DESIGN, "piece: leaf-a, ", "")
    notebook = read(tmp_path, (PIECES, old, new), rows, more=others)
    recipe = notebook.designs["leaf"].recipe
    assert fitting_pieces(notebook.shelf, recipe) == (("leaf-a",) if fits else ())


def test_the_piece_that_is_named_comes_first(tmp_path: Path) -> None:
    """Even if its trim is another; those that agree are counted with it."""
    notebook = read(tmp_path, (DESIGN, "bars: 4\n", "bars: 4\npiece: leaf-b\n"), CLOSE_PIECE)
    assert fitting_pieces(notebook.shelf, notebook.designs["leaf"].recipe) == ("leaf-b", "leaf-a")


def test_places_of_a_round(tmp_path: Path) -> None:
    """Four cavities and two pieces: two bars a round."""
    notebook = read(tmp_path)
    places = places_of_recipe(notebook.shelf, notebook.designs["leaf"].recipe)
    assert (places.cavities, places.owned, places.bars_a_round) == (4, 2, 2)
    assert places.resource == "leaf-a"


@pytest.mark.parametrize(
    ("on_hand", "owned", "a_round", "alike"),
    [("", 1, 1, 1), ("  on_hand: 40 g\n", 1, 1, 1), ("  on_hand: 3\n", 3, 3, 3)],
)
def test_a_piece_that_is_not_counted_is_one(
    tmp_path: Path, on_hand: str, owned: int, a_round: int, alike: int
) -> None:
    """In its rounds as in its wear."""
    notebook = read(tmp_path, (PIECES, "  on_hand: 2\n", on_hand))
    places = places_of_recipe(notebook.shelf, notebook.designs["leaf"].recipe)
    assert (places.owned, places.bars_a_round, places.resource) == (owned, a_round, "leaf-a")
    found = derive_pieces(notebook)["leaf-a"].value
    assert found is not None
    assert found.alike == alike
    assert derive_order(notebook, notebook.orders["dozen"]).wear[0].owned == owned


def test_an_entry_that_is_not_counted_is_one_beside_others(tmp_path: Path) -> None:
    more = (PIECES, "leaf-a:\n", "leaf-c: {name: C, mat: leaf, mould: four, trim: straight 2 mm}\n"
            "leaf-a:\n")  # fmt: skip
    notebook = read(tmp_path, more)
    places = places_of_recipe(notebook.shelf, notebook.designs["leaf"].recipe)
    assert (places.pieces, places.owned) == (("leaf-c", "leaf-a"), 3)


def test_every_piece_of_the_demo() -> None:
    """No bar is lost: casts poured are the bars that lay on a piece of the shelf."""
    notebook = demo_notebook()
    found = derive_pieces(notebook)
    bars = sum(
        1
        for design in notebook.designs.values()
        for bar in design.bars
        if bar.piece or design.variant(bar.variant).recipe.piece
    )
    assert sum(figure.value.poured for figure in found.values() if figure.value) == bars
    for figure in found.values():
        assert figure.value is not None
        assert figure.value.casts is not None
        assert figure.value.fits, "every piece fits the mould that it was cut for"
