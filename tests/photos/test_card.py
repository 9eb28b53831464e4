"""The photo card as it is drawn: true to size, one strip, nothing where it must stay bare."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import numpy as np
import pytest
from photos.card_views import TINTS, card_raster

from journal.errors import FigureError
from journal.photos import card

SVG = "{http://www.w3.org/2000/svg}"


def test_the_drawing_has_one_unit_to_the_mm():
    root = ElementTree.fromstring(card.card_svg(TINTS))
    assert root.get("width") == "132mm"
    assert root.get("height") == "46mm"
    assert root.get("viewBox") == "0 0 132 46"


def test_the_drawing_holds_every_patch_at_its_place():
    root = ElementTree.fromstring(card.card_svg(TINTS))
    drawn = [
        (
            *(float(rect.get(key)) for key in ("x", "y", "width", "height")),
            tuple(bytes.fromhex(rect.get("fill")[1:])),
        )
        for rect in root.iter(f"{SVG}rect")
        if len(rect.get("fill")) == 7
    ]
    wanted = [(p.x, p.y, p.width, p.height, p.srgb) for p in card.patches(TINTS)]
    assert len(drawn) == len(wanted)
    for one, other in zip(drawn, wanted, strict=True):
        assert one[:4] == pytest.approx(other[:4], abs=0.0006)
        assert one[4] == other[4]


def test_the_ruler_is_100_mm_in_101_marks():
    marks = card.ruler_marks()
    assert len(marks) == 101
    middles = [mark.x + mark.width / 2 for mark in marks]
    assert middles[-1] - middles[0] == pytest.approx(100.0)
    assert np.diff(middles) == pytest.approx(np.ones(100))


def test_the_strip_is_one_row_along_the_ruler():
    steps = (*card.grey_steps(), *card.tint_steps(TINTS))
    assert len({step.y for step in steps}) == 1
    lefts = [step.x for step in steps]
    assert np.diff(lefts) == pytest.approx(np.full(len(steps) - 1, card.STEP_MM))
    assert lefts[0] == card.STRIP_X_MM
    assert lefts[-1] + card.STEP_MM == pytest.approx(card.STRIP_X_MM + card.RULER_MM)
    greys = [step.srgb[0] for step in card.grey_steps()]
    assert greys == sorted(greys, reverse=True)


def overlap(one: card.CardPatch, other: card.CardPatch) -> bool:
    return (
        one.x < other.x + other.width - 1e-9
        and other.x < one.x + one.width - 1e-9
        and one.y < other.y + other.height - 1e-9
        and other.y < one.y + one.height - 1e-9
    )


def words_as_patches(tints) -> list[card.CardPatch]:
    """Where words lie; 0.62 em a letter is as wide as a plain face gets."""
    return [
        card.CardPatch(x, y - 2.1, 0.62 * 2.1 * len(words), 2.7, card.INK)
        for x, y, words in card._card_texts(tints)
    ]


def test_what_is_measured_lies_clear():
    squares = [
        card.CardPatch(*corners[0], card.SQUARE_MM, card.SQUARE_MM, card.INK)
        for corners in card.square_corners()
    ]
    strip = [*card.grey_steps(), *card.tint_steps(TINTS)]
    printed = [*squares, *strip, *card.ruler_marks(), *words_as_patches(TINTS)]
    paper = card.paper_patches()
    assert len(paper) == 30
    for bare in paper:
        assert bare.x >= 1.0
        assert bare.y >= 1.0
        assert bare.x + bare.width <= card.WIDTH_MM - 1.0
        assert bare.y + bare.height <= card.HEIGHT_MM - 1.0
        assert not any(overlap(bare, other) for other in printed)
    # round every square as much paper as is looked at to refine its sides
    for square in squares:
        clear = square.inside(-1.8)
        others = [*strip, *card.ruler_marks(), *words_as_patches(TINTS)]
        assert not any(overlap(clear, other) for other in others), square


def test_only_one_square_is_open_so_that_the_card_has_an_up():
    raster = card_raster(pixels_per_mm=4)
    holes = []
    for corners in card.square_corners():
        (x0, y0), _, (x1, y1), _ = corners
        holes.append(int(raster[round((y0 + y1) * 2), round((x0 + x1) * 2), 0]))
    assert holes == [255, 0, 0, 0, 0, 0]


def test_the_raster_shows_what_the_drawing_does():
    raster = card_raster(TINTS, pixels_per_mm=5)
    assert raster.shape == (230, 660, 3)
    for step in (*card.grey_steps(), *card.tint_steps(TINTS)):
        middle = raster[round((step.y + 4) * 5), round((step.x + 5) * 5)]
        assert tuple(middle) == step.srgb
    # rims within a pixel are mixed in light: half black, half white is 188
    half = card_raster(pixels_per_mm=0.5)
    assert half[4, 2, 0] == 188


@pytest.mark.parametrize("stand", [10.0, 25.0, 32.5])
def test_the_stand_has_legs_as_high_as_the_bar(stand):
    root = ElementTree.fromstring(card.card_svg(TINTS, stand_mm=stand))
    height = float(root.get("viewBox").split()[3])
    assert height == pytest.approx(card.HEIGHT_MM + 2 * (stand + card.FOOT_MM))
    folds = [
        float(re.match(r"M0 ([\d.]+)", path.get("d")).group(1)) for path in root.iter(f"{SVG}path")
    ]
    top = stand + card.FOOT_MM
    wanted = [card.FOOT_MM, top, top + card.HEIGHT_MM, top + card.HEIGHT_MM + stand]
    assert folds == pytest.approx(wanted)


def test_names_are_written_safely():
    svg = card.card_svg([card.CardTint('<b>"rust" & co', (140, 70, 50))])
    assert "&lt;b&gt;" in svg
    ElementTree.fromstring(svg)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (
            lambda: card.card_svg([card.CardTint("t", (1, 2, 3))] * 5),
            "the card has room for 4 tints, not for 5",
        ),
        (lambda: card.card_svg([card.CardTint("t", (1, 2, 256))]), "the tint"),
        (lambda: card.card_svg(stand_mm=-1), "a stand is 0 to 120 mm high, not -1"),
        (lambda: card.card_svg(stand_mm=float("nan")), "a stand is 0 to 120 mm high, not nan"),
    ],
)
def test_what_cannot_be_drawn_is_refused(call, said):
    with pytest.raises(FigureError, match=said):
        call()
