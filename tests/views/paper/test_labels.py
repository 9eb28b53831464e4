"""Label drafts: the heights that the rules ask for, within the outline, and said where not."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest
from card_cases import SETTINGS, SHELF, TWO_LAYERS, lay_notebook
from hypothesis import given
from hypothesis import strategies as st
from long_run import examples
from msgspec.structs import replace

from journal.figures.derive import derive_figures
from journal.html.blocks import PageFrame
from journal.html.text_width import text_width
from journal.html.theme import themes_folder
from journal.html.true_size import Drawing, PrintedText
from journal.records.notebook import read_notebook
from journal.views.paper.label_layout import FIGURE_HEIGHT, MARGIN_MM, X_HEIGHT, Panel, set_text
from journal.views.paper.label_sheets import bar_size, label_page, label_words
from journal.views.paper.labels import (
    SHAPES,
    BarSize,
    LabelOutline,
    LabelShape,
    LabelWords,
    draw_label,
    label_fits_on,
    usual_shape,
)

BAR = BarSize((80.0, 55.0), 25.0)
WORDS = LabelWords(
    "us", "Frond on slate", "Corran Bench", "Net\u00a0Wt\u00a03.4\u00a0oz (96\u00a0g)", 96.4,
    "Ingredients: Aqua, Sorbitol, Glycerin, Sodium Stearate, Fragrance, Titanium Dioxide.", (),
)  # fmt: skip


def sizes(shape: LabelShape, words: LabelWords = WORDS, bar: BarSize = BAR) -> dict[str, float]:
    """Type size of each text on the drafts of one label, in mm."""
    made = draw_label(words, shape, bar, "letter", "label")
    return {letters.text: float(letters.size) for letters in all_letters(made.drawing)}


def all_letters(drawing: Drawing) -> list[PrintedText]:
    """The lettering of a sheet, that of labels at each of their places."""
    labels = [one for r in drawing.repeated for one in r.letters * (1 + len(r.again))]
    return [*drawing.letters, *labels]


def test_the_heights_of_letters_are_those_of_the_font() -> None:
    fonts = pytest.importorskip("fontTools.ttLib")
    with fonts.TTFont(themes_folder() / "desk" / "fonts" / "atkinson-next.woff2") as font:
        em = font["head"].unitsPerEm
        assert font["OS/2"].sxHeight / em == pytest.approx(X_HEIGHT, abs=5e-4)
        # A figure is as high as a capital; round ones lean out.
        assert font["OS/2"].sCapHeight / em == pytest.approx(FIGURE_HEIGHT, abs=5e-4)
        assert font["glyf"]["one"].yMax / em == pytest.approx(FIGURE_HEIGHT, abs=5e-4)


@pytest.mark.parametrize(
    ("face", "height"),
    [
        # 21 CFR 701.13(i): up to 5 in2 1/16 in, to 25 1/8, to 100 3/16. The bar's face counts
        # where it is larger than the label.
        ((40.0, 30.0), 25.4 / 16),
        ((80.0, 55.0), 25.4 / 8),
        ((160.0, 110.0), 25.4 * 3 / 16),
    ],
)
def test_net_weight_by_the_panel_in_the_united_states(
    face: tuple[float, float], height: float
) -> None:
    shape = LabelShape("rectangle", max(70.0, face[0] - 10), max(44.0, face[1] - 11))
    if face[0] < 50:
        # A label no larger than such a bar: 12 cm2 are 1.9 in2.
        shape = LabelShape("rectangle", 40.0, 30.0)
    found = sizes(shape, bar=BarSize(face, 25.0))
    (net,) = {size for text, size in found.items() if text.startswith("Net")}
    assert net == pytest.approx(height / X_HEIGHT, abs=0.001)


@pytest.mark.parametrize(("nominal_g", "height"), [(48.0, 2), (96.0, 3), (250.0, 4)])
def test_net_weight_by_its_figure_in_the_european_union(nominal_g: float, height: int) -> None:
    # Directive 76/211/EEC Annex I 3.1: to 50 g 2 mm, to 200 g 3, to 1000 g 4.
    words = LabelWords("eu", "Frond", "Corran Bench", f"{nominal_g:g}\u00a0g", nominal_g, "A.", ())
    found = sizes(LabelShape("rectangle", 70.0, 44.0), words)
    assert found[f"{nominal_g:g}\u00a0g"] == pytest.approx(height / FIGURE_HEIGHT, abs=0.001)


def test_ingredients_are_never_below_a_sixteenth_of_an_inch_unsaid() -> None:
    # 21 CFR 701.3(b): 1/16 in; 1/32 in on less than 12 in2 in all.
    shape = LabelShape("rectangle", 70.0, 44.0)
    size = next(size for text, size in sizes(shape).items() if text.startswith("Ingredients"))
    assert size * X_HEIGHT >= 25.4 / 16 - 1e-3
    shape = LabelShape("rectangle", 44.0, 29.0)
    small = draw_label(WORDS, shape, BAR, "letter", "label")
    assert any("The ingredients need letters 1.6 mm" in mind for mind in small.warnings)
    # A bar of 30 x 20 x 10 mm has 22 cm2 in all: half the height would do, so type of 7 pt does.
    tiny = BarSize((30.0, 20.0), 10.0)
    assert draw_label(WORDS, shape, tiny, "letter", "label").warnings == ()


def test_a_size_that_would_do_does(tmp_path: Path) -> None:
    small = draw_label(WORDS, LabelShape("rectangle", 40.0, 25.0), BAR, "letter", "label")
    (said,) = small.warnings
    wide, high = said.split(": use one of ")[1].split(" mm")[0].split(" × ")
    large = draw_label(
        WORDS, LabelShape("rectangle", float(wide), float(high)), BAR, "letter", "label"
    )
    assert large.warnings == ()


@examples(40)
@given(
    st.sampled_from(SHAPES), st.integers(10, 90), st.integers(10, 90),
    st.sampled_from(("us", "eu")), st.text("abc deW,.", max_size=60),
)  # fmt: skip
def test_nothing_is_below_seven_points_and_what_is_left_out_is_said(
    shape: LabelOutline, wide: int, high: int, region: str, more: str
) -> None:
    words = replace(WORDS, region=region, ingredients=f"{WORDS.ingredients} {more}".strip())
    label = LabelShape(shape, float(wide), float(wide if shape == "round" else high))
    made = draw_label(words, label, BAR, "letter", "label")
    letters = all_letters(made.drawing)
    assert min(float(one.size) for one in letters) * 72 / 25.4 >= 7
    text = " ".join(one.text for one in letters)
    for part in (words.net, words.ingredients.split()[-1], words.studio):
        if part not in text:
            assert any(mind.startswith("Too small: ") for mind in made.warnings)


@pytest.mark.parametrize("shape", SHAPES)
def test_every_label_is_called_a_draft(shape: str) -> None:
    asked = usual_shape(shape, BAR)  # type: ignore[arg-type]
    made = draw_label(WORDS, asked, BAR, "a4", "label")
    texts = [letters.text for letters in all_letters(made.drawing)]
    titles = [text for text in texts if text.startswith("Frond")]
    assert len(titles) >= 3, "several to a sheet"
    # One on the sheet, one on each front, one on each back.
    assert texts.count("draft") >= 1 + len(titles)
    assert any("This is a draft" in text for text in texts)
    assert "draft" in made.drawing.title


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize(
    "bar",
    [BarSize((5.0, 5.0), 1.0), BarSize((6.0, 80.0), None), BarSize((11.0, 12.0), 400.0)],
    ids=["a crumb", "a stick", "a rod"],
)
def test_a_bar_smaller_than_the_least_label_has_that(shape: str, bar: BarSize) -> None:
    asked = usual_shape(shape, bar)  # type: ignore[arg-type]
    assert min(asked.width, asked.height) >= 10.0
    for region in ("us", "eu"):
        draw_label(replace(WORDS, region=region), asked, bar, "a4", "label")


def test_a_label_larger_than_the_paper_is_seen() -> None:
    assert label_fits_on(LabelShape("band", 160.0, 40.0), "letter")
    assert not label_fits_on(LabelShape("band", 260.0, 40.0), "letter")
    assert not label_fits_on(LabelShape("rectangle", 60.0, 300.0), "letter")


@examples(150)
@given(
    st.text("abc deW,.", min_size=1, max_size=200).map(lambda text: " ".join(text.split()) or "a"),
    st.floats(15, 120),
    st.floats(15, 90),
    st.booleans(),
    st.booleans(),
)
def test_no_line_leaves_its_panel(
    text: str, wide: float, high: float, is_round: bool, foot: bool
) -> None:
    panel = Panel(wide, wide if is_round else high, is_round)
    between = (panel.height * 0.2, panel.height * 0.9)
    made = set_text(panel, text, between, (6.0, 2.0), foot=foot)
    assert made.size >= 2.0
    if made.lines:
        assert " ".join(line.text for line in made.lines) == text
    for line in made.lines:
        assert between[0] - 1e-9 <= line.y <= between[1] + 1e-9
        # The corners of the line's letters, from a capital's top to a tail's end.
        half = text_width(line.text, "regular", made.size) / 2
        for y in (line.y - 0.7 * made.size, line.y + 0.22 * made.size):
            if is_round:
                radius = panel.width / 2
                reach = (half**2 + (y - radius) ** 2) ** 0.5
                assert reach <= radius - MARGIN_MM + 0.1
            else:
                assert half <= panel.width / 2 - MARGIN_MM + 1e-9


def test_what_is_not_known_is_said_and_left_blank(tmp_path: Path) -> None:
    shelf = SHELF["bases"].replace(
        "price: 4.00/lb}", "price: 4.00/lb, ingredients: [{inci: Aqua}, {inci: Glycerin}]}"
    )
    notebook = lay_notebook(
        tmp_path, settings=SETTINGS + "region: [us, eu]\n",
        kelp=TWO_LAYERS.replace("base: {white: 70 %, clear: 30 %}", "base: white"),
    )  # fmt: skip
    (tmp_path / "shelf" / "bases.yaml").write_text(shelf, "utf-8")
    notebook = read_notebook(tmp_path)
    assert not notebook.errors
    figures = derive_figures(notebook, models=False).designs["kelp"].recipe
    design = notebook.designs["kelp"]
    words = label_words(design, figures, notebook.settings)
    assert [one.region for one in words] == ["us", "eu"]
    assert words[0].net == "Net\u00a0Wt\u00a0__\u00a0oz (__\u00a0g)"
    bar = bar_size(notebook.shelf, design)
    page = label_page(PageFrame("", "", ()), words, bar, [usual_shape("rectangle", bar)], "letter")
    said = " ".join(
        "".join(word if isinstance(word, str) else word.text for word in note)
        for note in page.notes
    )
    assert "No merged list: white has no shares" in said
    assert "There is no net weight to declare: weigh more bars, and none is weighed yet." in said


@pytest.mark.parametrize("foot", [False, True])
def test_text_is_set_small_where_it_can_be_set_at_all(foot: bool) -> None:
    texts = ("", "salt", "sea  salt", "salt of the sea, and of the sea again  ")
    # Down to panels that are narrower than their margins, in which nothing stands.
    for wide, high, text in itertools.product((4.0, 9.0, 22.0), (6.0, 14.0, 30.0), texts):
        for panel in (Panel(wide, high), Panel(wide, wide, round=True)):
            asked = (panel, text, (2.5, panel.height - 2.5), (4.0, 1.5), "regular", foot)
            assert bool(set_text(*asked, small=True).lines) == bool(set_text(*asked).lines)
            if wide < 5.0:
                assert not set_text(*asked).lines


def test_two_spaces_are_two_within_a_line_and_none_at_its_end() -> None:
    wide = set_text(Panel(80.0, 12.0), "sea  salt", (2.5, 9.5), (2.0, 2.0))
    assert [line.text for line in wide.lines] == ["sea  salt"]
    narrow = set_text(Panel(10.0, 12.0), "sea  salt", (2.5, 9.5), (2.0, 2.0))
    assert [line.text.strip() for line in narrow.lines] == ["sea", "salt"]


def test_the_front_says_what_it_is_and_the_back_who_answers() -> None:
    """21 CFR 701.11 and 701.12; Regulation (EC) 1223/2009 Art. 19(1)(a)."""
    large = LabelShape("rectangle", 120.0, 90.0)
    assert "Frond on slate soap" in sizes(large)
    called = replace(WORDS, title="Slate soap", region="uk", net="96\u00a0g",
                     responsible="Corran Bench, 4 Quay Lane, Leith")  # fmt: skip
    texts = sizes(large, called)
    assert "Slate soap" in texts
    assert any("4 Quay Lane" in text for text in texts)
    assert not any("[address]" in text for text in texts)
    assert any(text.startswith("Responsible:") for text in texts)


@pytest.mark.parametrize("shape", SHAPES)
def test_a_sheet_says_above_its_labels_that_it_is_over_a_limit(shape: LabelOutline) -> None:
    danger = "Over the limit: Thyme is 1.96 % of the rim; its certificate allows 0.5 %."
    label = usual_shape(shape, BAR)
    plain = draw_label(WORDS, label, BAR, "letter", "label").drawing
    sheet = draw_label(WORDS, label, BAR, "letter", "label", (danger,)).drawing
    new = [one for one in sheet.letters if one not in plain.letters]
    said = [one for one in new if one.text in danger]
    assert " ".join(one.text for one in said) == danger
    sizes_mm = {float(one.size) for one in said}
    assert sizes_mm == {max(float(one.size) for one in all_letters(sheet))}
    # Labels are cut out beneath it, as they were.
    lowest = max(float(one.y) for one in said)
    assert sheet.repeated
    assert all(float(one.y) > lowest for r in sheet.repeated for one in r.letters)
