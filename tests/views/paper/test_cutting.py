"""What a cutting template shows, for usual and for odd mats and moulds."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest
from card_cases import SHELF, TWO_LAYERS, lay_notebook
from hypothesis import given
from hypothesis import strategies as st
from long_run import examples
from msgspec.structs import replace

from journal.figures.shop.derive_template import TEMPLATE, cut_templates, trims_used
from journal.html.blocks import PageFrame
from journal.html.true_size import Drawing, PaperSize, PrintedText, TruePage
from journal.quantities.show import show_length, show_size
from journal.records.models.shelf import Mat, Mould, Shelf
from journal.records.models.trim import Trim
from journal.records.notebook import Notebook
from journal.views.paper.templates import template_page
from journal.views.shared.paper_places import template_places

MORE = {
    "moulds": """\
long: {name: Long liner, cavities: 1, face: 420 x 90 mm, corner_radius: 10 mm, depth: 64 mm}
snug: {name: Snug, cavities: 4, face: 56 x 39 mm, corner_radius: 12 mm, depth: 20 mm}
bare: {name: Bare}
""",
    "mats": """\
plain: {name: Plain, sheet: 300 x 200 mm, thickness: 3 mm}
lost: {name: Lost, motif: {size: 60 x 40 mm}}
""",
}
STRAIGHT = Trim("straight", 3.0)


@pytest.fixture(scope="module")
def notebook(tmp_path_factory: pytest.TempPathFactory) -> Notebook:
    found = lay_notebook(tmp_path_factory.mktemp("cutting"), more=MORE, kelp=TWO_LAYERS)
    assert not found.errors, found.errors
    return found


def page(notebook: Notebook, mat: str, mould: str, *trims: Trim) -> TruePage:
    shelf, pair = notebook.shelf, (mat, mould)
    cut = cut_templates(shelf, pair, trims)
    return template_page(PageFrame("", "", ()), shelf, pair, cut, "letter")


def all_letters(drawings: Iterable[Drawing]) -> Iterator[PrintedText]:
    """Every text of every sheet."""
    for drawing in drawings:
        yield from drawing.letters
        for window in drawing.windows:
            yield from window.letters


def said(made: TruePage) -> str:
    """Every text of every sheet, and what is noted over them."""
    texts = [letters.text for letters in all_letters(made.drawings)]
    notes = [word if isinstance(word, str) else word.text for note in made.notes for word in note]
    return " ".join((*texts, *notes))


def test_straight_shows_the_close_cut_too_and_how_to_line_it_up(notebook: Notebook) -> None:
    made = page(notebook, "frond", "six", STRAIGHT)
    text = said(made)
    for words in (
        "cut 66 mm wide", "46 mm high", "dashed: the motif, the line of a close cut",
        "the cavity: 80 × 55 mm, corners 8 mm", "relief on this side", "arrow to the motif's top",
        "Cut out the dashed window as well", "4.5 mm to spare where it is tightest",
        "16 pieces from a sheet of 400 × 300 mm",
    ):  # fmt: skip
        assert words in text
    close = said(page(notebook, "frond", "six", Trim("close", 0.0)))
    assert "cut 60 mm wide" in close
    assert "dashed" not in close
    assert "The thick line is the motif's own edge" in close


def test_a_round_cavity_rounds_the_piece_and_may_crop_the_motif(notebook: Notebook) -> None:
    text = said(page(notebook, "frond", "snug", STRAIGHT))
    # 56 x 39 less 1 mm all round: 54 x 37, smaller than the motif of 60 x 40.
    assert "cut 54 mm wide" in text
    assert "it loses 3 mm left and right and 1.5 mm top and foot." in text
    assert "The motif shows beyond it" in text
    assert "no motif shows beyond it" not in text
    assert "corners cut round, 11 mm" in text


def test_every_sheet_says_that_the_motif_is_cropped(notebook: Notebook) -> None:
    made = page(notebook, "frond", "snug", STRAIGHT)
    assert len(made.drawings) > 1
    for drawing in made.drawings:
        assert any("it loses 3 mm" in letters.text for letters in drawing.letters)
    assert "it loses 3 mm" in said(replace(made, drawings=()))


@examples(60)
@given(
    face=st.tuples(st.integers(12, 420), st.integers(12, 200)),
    motif=st.none() | st.tuples(st.integers(6, 300), st.integers(6, 200)),
    corner=st.integers(0, 5),
    margin=st.none() | st.floats(0, 9),
    paper=st.sampled_from(("letter", "a4")),
)
def test_no_caption_is_cut_off_or_small(
    face: tuple[int, int], motif: tuple[int, int] | None, corner: int,
    margin: float | None, paper: PaperSize,
) -> None:  # fmt: skip
    place = None if motif is None else {"size": f"{motif[0]} x {motif[1]} mm"}
    mould = {"name": "Six", "face": f"{face[0]} x {face[1]} mm", "corner_radius": f"{corner} mm"}
    shelf = Shelf(
        mats={"kelp": Mat.model_validate({"name": "Kelp fronds", "motif": place})},
        moulds={"six": Mould.model_validate(mould)},
    )
    trim = Trim("close", 0.0) if margin is None else Trim("straight", margin)
    cut = cut_templates(shelf, ("kelp", "six"), (trim,))
    made = template_page(PageFrame("", "", ()), shelf, ("kelp", "six"), cut, paper)
    figures = cut[0].figure.value
    assert figures is not None
    # What would be cut off at a window's edge is left out, and would be missed here.
    text = said(made)
    radius = f", corners {show_length(corner)}" if corner else ""
    wanted = [
        f"he cavity: {show_size(*face)}{radius}", "relief on this side", "print up",
        "dashed: " * (motif is not None and motif != figures.piece.size_mm),
        "it loses " * figures.piece.crops_motif,
    ]  # fmt: skip
    if len(made.drawings) == 1:
        wanted += [f"cut {show_length(figures.piece.size_mm[0])} wide"]
        wanted += [f"{show_length(figures.piece.size_mm[1])} high"]
    assert [words for words in wanted if words.lower() not in text.lower()] == []
    smallest = min(float(letters.size) for letters in all_letters(made.drawings))
    assert smallest * 72 / 25.4 >= 7


def test_a_border_that_the_cavity_has_no_room_for_is_told(notebook: Notebook) -> None:
    text = said(page(notebook, "frond", "six", Trim("straight", 20.0)))
    assert "no room for the whole border: the piece is cut narrower" in text
    assert "no room for the whole border" not in said(page(notebook, "frond", "six", STRAIGHT))


def test_a_mat_without_a_motif_fills_the_cavity(notebook: Notebook) -> None:
    text = said(page(notebook, "plain", "six", STRAIGHT, Trim("close", 0.0)))
    assert "cut 78 mm wide" in text
    assert "arrow to the motif" not in text
    # 300 / 78 x 200 / 53 are 3 x 3; turned 300 / 53 x 200 / 78 are 5 x 2.
    assert "10 pieces from a sheet" in text


def test_a_piece_larger_than_the_paper_goes_over_several(notebook: Notebook) -> None:
    made = page(notebook, "plain", "long")
    places = [d for d in made.drawings if d.name.startswith("piece-1-")]
    # The cavity and 16 mm round it are 452 mm: 193 + 183 + 76, then how to cut.
    assert len(places) == 4
    assert "row 1 of 1, column 3 of 3" in said(made)
    assert "Cut along a steel rule" in said(made)


def test_what_the_shelf_lacks_is_said(notebook: Notebook) -> None:
    assert page(notebook, "frond", "bare", STRAIGHT).drawings == ()
    assert "moulds/bare: face" in said(page(notebook, "frond", "bare", STRAIGHT))
    lost = page(notebook, "lost", "six", STRAIGHT)
    assert len(lost.drawings) == 1  # the piece, and no sheet
    assert "mats/lost: motif pitch and offset" in said(lost)
    assert "mats/lost: sheet" in said(lost)


def test_a_motif_is_not_laid_on_its_side(notebook: Notebook) -> None:
    """More pieces would come of a sheet with close motifs, each with its motif cropped."""
    plan = TEMPLATE.of((notebook.shelf, "frond", "six", STRAIGHT))
    assert plan.value is not None
    assert plan.value.plan is not None
    assert not plan.value.plan.turned


def test_the_names_of_pictures_differ(notebook: Notebook) -> None:
    made = page(notebook, "frond", "six", STRAIGHT, Trim("close", 0.0))
    names = [d.name for d in made.drawings] + [w.name for d in made.drawings for w in d.windows]
    assert len(set(names)) == len(names)


def test_pages_stand_apart_even_where_names_read_alike(tmp_path: Path) -> None:
    more = {
        "mats": SHELF["mats"].replace("frond:", "frond-a:"),
        "moulds": "a-six: {name: A, cavities: 6, face: 80 x 55 mm}\n",
    }
    one = TWO_LAYERS.replace("mat: frond", "mat: frond-a").replace("piece: a\n", "")
    other = TWO_LAYERS.replace("mould: six", "mould: a-six")
    found = lay_notebook(tmp_path, more=more, one=one, other=other)
    assert not found.errors, found.errors
    places = template_places(found)
    assert {place.path for place in places.values()} == {
        "templates/frond-a-six.html", "templates/frond-a-six-2.html",
    }  # fmt: skip
    assert trims_used(found)["frond", "a-six"] == (Trim("close", 0.0), STRAIGHT)
