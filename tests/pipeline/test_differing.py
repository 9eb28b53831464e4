"""A notebook in which everything differs, against figures worked by hand.

Of every pair of things that could stand for each other (a layer and the bar, one round and
all, the first pour and the last) the two are unequal, so that a mistake shows.
"""

from __future__ import annotations

import json
import re
import shutil
import xml.etree.ElementTree as ET
from datetime import date
from pathlib import Path
from typing import Any

import differing_notebook
import pytest
from bs4 import BeautifulSoup
from conftest import CallJournal
from differing_notebook import MakeOnce, lay_out, read

from journal.build_options import BuildOptions
from journal.building import build_notebook
from journal.comparison.as_json import figures_json
from journal.comparison.derive import compare_designs
from journal.figures.day.derive_order import derive_order
from journal.figures.derive import derive_figures
from journal.figures.heat.derive_heat import body_temperature
from journal.figures.heat.pot_rates import NO_RATES
from journal.figures.recipe.derive_leftovers import LEFTOVERS
from journal.figures.shop.derive_shop import COST
from journal.html.card_page import CardLeaf, CardWords, plain_text
from journal.html.theme import read_theme
from journal.records.notebook import Notebook, read_notebook
from journal.views.card.card import cards_of
from journal.views.lists.feed import _atom_feed
from journal.views.notebook import open_book
from journal.views.order.words import left_behind_text
from journal.views.shared.words import units_of

# JSON has 12 digits.
CLOSE = 1e-10


@pytest.fixture(scope="module")
def differing(make_once: MakeOnce) -> Path:
    return make_once("differing", differing_notebook.built)


@pytest.fixture(scope="module")
def notebook(tmp_path_factory: pytest.TempPathFactory) -> Notebook:
    return read(tmp_path_factory.mktemp("differing"))


@pytest.fixture(scope="module")
def fern(notebook: Notebook) -> dict[str, Any]:
    """The figures of one design, as ``journal figures`` gives them."""
    derived = derive_figures(notebook, models=False)
    found = figures_json(notebook, derived, compare_designs(notebook), ("fern",))
    block: dict[str, Any] = json.loads(json.dumps(found))["designs"]["fern"]
    return block


def said(page: Path) -> str:
    """The words of a page, each blank one plain space."""
    soup = BeautifulSoup(page.read_text("utf-8"), "html.parser")
    main = soup.find("main")
    assert main is not None
    return re.sub(r"\s+([.,;:])", r"\1", " ".join(main.get_text(" ").split()))


# Masses --------------------------------------------------------------------------------


def test_pots_and_layers(fern: dict[str, Any]) -> None:
    # 8 bars. Milk: (10 + 30) x 8 = 320 g, the larger over 5 x 8 = 40 g, and 4 %: 374.4 g, of
    # which the detail has a quarter. Slate: 60 x 8 = 480 g and 4 %: 499.2 g, a quarter of milk.
    assert fern["pots"]["milk"] == {"melt_g": 374.4, "layers": ["detail", "rim"]}
    assert fern["pots"]["slate"] == {"melt_g": 499.2, "layers": ["body"]}
    layers = fern["layers"]
    assert [layers[name]["melt_g"] for name in ("detail", "rim", "body")] == [93.6, 280.8, 499.2]
    assert layers["body"]["bases"] == {"milk": {"melt_g": 124.8}, "clear": {"melt_g": 374.4}}
    # Left of the pot: what was poured over and scraped back; in the jug 4 % of 360 and of 480 g.
    left = fern["leftovers"]
    assert (left["milk"]["left_g"], left["milk"]["lost_g"]) == (40, 14.4)
    assert (left["slate"]["left_g"], left["slate"]["lost_g"]) == (0, 19.2)


def test_what_the_first_pour_left(fern: dict[str, Any]) -> None:
    # As above for its 8 bars; 400 g of milk were melted: 400 - 320 - 14.4 = 65.6 g; of slate
    # 490 g, and 480 + 19.2 - 490 = 9.2 g were wanting.
    milk, slate = fern["left_of_pours"]
    assert (milk["pot"], milk["left_g"], milk["short_g"]) == ("milk", 65.6, 0)
    assert (slate["pot"], slate["left_g"], slate["short_g"]) == ("slate", 0, 9.2)


def test_an_oil_is_as_heavy_as_it_may_be(fern: dict[str, Any]) -> None:
    """The heavy end of what the shelf gives, or of what is usual: its limit is a share by mass."""
    # 20 mL/kg x 280.8 g = 5.616 mL; the shelf says 0.80 to 1.00 g/mL, so 5.616 g.
    thyme = fern["layers"]["rim"]["fragrances"]["thyme"]
    assert (thyme["volume_ml"], thyme["mass_g"]) == (5.616, 5.616)
    # 10 mL/kg x 499.2 g = 4.992 mL; without a density 1.10 g/mL: 5.4912 g.
    resin = fern["layers"]["body"]["fragrances"]["resin"]
    assert (resin["volume_ml"], resin["mass_g"]) == (4.992, 5.4912)


def test_an_oil_over_its_limit_by_its_heavy_end_alone(tmp_path: Path) -> None:
    # 20 g in 1,020 g are 1.96 %; at the light end it would be 16 g in 1,016 g, 1.57 %.
    notebook = read(tmp_path, ("shelf/fragrances.yaml", "limit: 2.4 %", "limit: 1.9 %"))
    (problem,) = derive_figures(notebook, models=False).problems[:1]
    assert '"thyme" is 1.96 % of the layer "rim", over its limit of 1.9 %' in problem.what
    assert not problem.warning


def test_volumes_and_fill(fern: dict[str, Any]) -> None:
    # Middle densities: milk 1.05, clear 1.2 g/mL. Brick, 1.14 g, has no true_density: what a
    # powder takes up in a bar is not its volume as spooned.
    layers = fern["layers"]
    volumes = {name: layer["volume_ml_per_bar"] for name, layer in layers.items()}
    assert volumes["detail"] == pytest.approx(10 / 1.05, rel=CLOSE)
    assert volumes["rim"] == pytest.approx(30 / 1.05 + 0.6, rel=CLOSE)
    body = 15 / 1.05 + 45 / 1.2 + 0.6
    assert volumes["body"] == pytest.approx(body, rel=CLOSE)
    # The piece of 56 x 36 x 4 mm less 3 mL of relief: 8.064 - 3 = 5.064 mL. The cavity:
    # (90 x 60 - (4 - pi) x 10^2) x 30 mm = 159.4248 mL.
    assert fern["fill"]["piece_ml"] == pytest.approx(5.064, rel=CLOSE)
    share = (40 / 1.05 + 0.6 + body + 5.064) / 159.424777961
    assert fern["fill"]["fill_percent"] == pytest.approx([100 * share] * 2, rel=1e-9)


# The label -----------------------------------------------------------------------------


def test_an_oil_is_the_share_of_the_bar_that_it_is(fern: dict[str, Any]) -> None:
    # A bar: detail 10 g, rim 30 x 1.02 = 30.6 g, body 60 x (1 + 0.011 + 0.019) = 61.8 g:
    # 102.4 g. Thyme 0.6 g, 1.9608 % of the rim and 0.5859 % of the bar; resin 0.66 g.
    thyme = fern["layers"]["rim"]["fragrances"]["thyme"]
    assert thyme["layer_percent"] == pytest.approx(100 * 0.02 / 1.02, rel=CLOSE)
    assert thyme["bar_percent"] == pytest.approx(100 * 0.6 / 102.4, rel=CLOSE)
    resin = fern["layers"]["body"]["fragrances"]["resin"]
    assert resin["layer_percent"] == pytest.approx(100 * 0.011 / 1.03, rel=CLOSE)
    assert resin["bar_percent"] == pytest.approx(100 * 0.66 / 102.4, rel=CLOSE)


# A bar's grams. Milk 10 + 30 + 15 = 55 g, clear 45 g. Glycerin 16.5 + 18 = 34.5; Aqua
# 25.3 + 9 = 34.3; Sodium Laurate 16.2; Sodium Stearate 12.1; Propylene Glycol 1.8; fragrance
# 0.6 + 0.66 = 1.26, between the 1.8 before it and the 1.1 of Sorbitol behind; brick last.
ORDERED = (
    "Glycerin, {water}, Sodium Laurate, Sodium Stearate, Propylene Glycol, {fragrance}, Sorbitol"
)
US_WORDS = {"water": "Water", "fragrance": "Fragrance"}
EU_WORDS = {"water": "Aqua", "fragrance": "Parfum"}
# Linalool 4 % of 0.5859 % = 0.0234 %; Limonene 3 % of 0.6445 % = 0.0193 %; Geraniol 1 % of
# both = 0.0123 %. Below 0.01 %: Citral 0.0059 %, Coumarin 0.0077 %, which in their own layers
# are 0.0196 % and 0.0128 %.
ALLERGENS = ["Linalool", "Limonene", "Geraniol"]


def test_ingredients_and_allergens_are_those_of_the_bar(fern: dict[str, Any]) -> None:
    for region, words, brick in (("us", US_WORDS, "Iron Oxides"), ("eu", EU_WORDS, "CI 77491")):
        names = ORDERED.format(**words).split(", ")
        assert fern["label"][region]["ingredients"] == [*names, brick]
        assert fern["label"][region]["allergens"] == ALLERGENS


def test_the_label_says_so(differing: Path, tmp_path: Path, call_journal: CallJournal) -> None:
    page = said(differing / "out" / "designs" / "fern.html")
    assert f"Ingredients: {ORDERED.format(**US_WORDS)}, Iron Oxides." in page
    european = f"{ORDERED.format(**EU_WORDS)}, {', '.join(ALLERGENS)}, CI 77491."
    assert f"Ingredients: {european}" in page
    out = tmp_path / "label"
    done = call_journal("label", "fern", "--content", differing / "content", "--out", out)
    assert done.returncode == 0, done.stderr
    soup = BeautifulSoup((out / "index.html").read_text(), "html.parser")
    drawn = {text.get_text() for text in soup.find_all("text")}
    words = " ".join(text for text in drawn if text)
    assert "Limonene" in words
    assert "Coumarin" not in words
    assert "Citral" not in words


# Money ---------------------------------------------------------------------------------


def test_what_a_batch_costs(fern: dict[str, Any], differing: Path) -> None:
    # Milk used: what stays and its share of the jug, 320 + 14.4 + 120 + 4.8 = 459.2 g at
    # 0.008; clear 360 + 14.4 = 374.4 g at 0.012: 3.6736 + 4.4928 = 8.1664.
    # Oils: 5.616 mL x 0.25 + 5.4912 g x 0.04 = 1.6236. Brick 9.4848 g x 0.10 = 0.9485.
    # A sleeve for two: 4 x 0.60 = 2.40. Tray 54 / (90 x 6) = 0.10 a bar, mat 36 / (12 x 40)
    # = 0.075 a bar: 1.40. Labour (14 + 24) min at 18 an hour: 11.40. In all 25.9385.
    page = said(differing / "out" / "designs" / "fern.html")
    for row in (
        "Base €1.02 €8.17", "Fragrance €0.20 €1.62", "Colour €0.12 €0.95",
        "Packaging €0.30 €2.40", "Tools, mat by guess €0.18 €1.40", "Labour €1.42 €11.40",
        "Cost €3.24 €25.94",
    ):  # fmt: skip
        assert row in page, row
    # 3.24 at a margin of 60 %: 3.24 / 0.4 = 8.10, of the unrounded 3.2423 it is 8.1058.
    assert fern["cost"]["price"] == 8.11
    assert fern["cost"]["contribution"] == 4.87
    # 90 / 4.87 = 18.5
    assert fern["cost"]["break_even_bars"] == 19


def test_an_order_of_another_number_of_bars(notebook: Notebook) -> None:
    found = derive_order(notebook, notebook.orders["thirteen"])
    first, second = found.lines
    # Five pieces for six cavities; without a mat all six.
    assert (first.rounds, second.rounds) == ((5, 5, 3), (6, 3))
    needs = {(one.kind, one.item): float(one.amount) for one in found.needs}
    # Milk: ((10 + 30 + 5) x 1.04 + 15 x 1.04) x 13 = 811.2 g; clear 45 x 1.04 x 13 = 608.4 g.
    assert needs["bases", "milk"] == pytest.approx(811.2, rel=CLOSE)
    assert needs["bases", "clear"] == pytest.approx(608.4, rel=CLOSE)
    # Thyme 20 mL/kg of 45 x 30 / 40 x 1.04 x 13 = 456.3 g; resin 10 mL/kg of 811.2 g.
    assert needs["fragrances", "thyme"] == pytest.approx(9.126, rel=CLOSE)
    assert needs["fragrances", "resin"] == pytest.approx(8.112, rel=CLOSE)
    # 1.9 % of 811.2 g; sleeves for two, of 13; ends 60 x 1.04 x 9.
    assert needs["colourants", "brick"] == pytest.approx(15.4128, rel=CLOSE)
    assert needs["packaging", "sleeve"] == 7
    assert needs["leftovers", "ends"] == pytest.approx(561.6, rel=CLOSE)
    bought = {one.item: None if one.buy is None else float(one.buy) for one in found.buy}
    assert bought == pytest.approx(
        {"milk": 111.2, "clear": 0, "thyme": 3.126, "resin": 0, "brick": 3.4128, "sleeve": 4,
         "ends": 161.6}, rel=1e-9, abs=1e-12,
    )  # fmt: skip
    # Five pieces good for 40 casts each, 7 before, and 7 bars with a border in the pours.
    (wear,) = found.wear
    assert (wear.owned, wear.casts, wear.left) == (5, 13, 186)
    # Labour: three rounds for two, 13 bars for 8: 14 x 3 / 2 + 24 x 13 / 8 = 60 min = 18.00.
    cost = first.figures[COST].value
    assert cost is not None
    parts = dict(cost.batch.parts)
    assert float(parts["labour"] or 0) == pytest.approx(18.00)


def test_what_a_pot_of_two_bases_leaves(tmp_path: Path) -> None:
    # 3 g of each of 13 bars are scraped back; a quarter of the pot is milk. 39 g are 1.376 oz,
    # in the steps of 0.005 oz of a scale of 0.1 g 1.375 oz.
    over = ("designs/fern/design.md", "amount: 60 g\n", "amount: 60 g\n    overpour: 3 g\n")
    notebook = read(tmp_path, over)
    line = derive_order(notebook, notebook.orders["thirteen"]).lines[0]
    left = {one.pot: one for one in line.figures[LEFTOVERS].value or ()}["slate"]
    assert left.left_g == pytest.approx(39, rel=CLOSE)
    assert dict(left.bases) == pytest.approx({"milk": 0.25, "clear": 0.75})
    told = left_behind_text(units_of(notebook.settings), notebook.shelf, left).replace(
        "\u00a0", " "
    )
    assert told == "39 g (1.375 oz) of Milk and Clear, tinted with Brick, scented with Resin"


# The card ------------------------------------------------------------------------------


def card(
    notebook: Notebook, design: str, variant: str | None = None, bars: int | None = None
) -> tuple[CardLeaf, ...]:
    return cards_of(notebook, notebook.designs[design], variant, bars, "a5", NO_RATES, {})


def in_line(words: CardWords) -> str:
    return plain_text(words).replace("\u00a0", " ")


def on_card(leaves: tuple[CardLeaf, ...], part: str) -> str:
    return " / ".join(in_line(words) for leaf in leaves for words in getattr(leaf, part))


def steps_on(leaves: tuple[CardLeaf, ...]) -> str:
    return " / ".join(in_line(step.words) for leaf in leaves for step in leaf.steps)


def test_alcohol_on_one_layer_is_cautioned_against(notebook: Notebook) -> None:
    """Of three layers one is spritzed."""
    assert [layer.spritz for layer in notebook.designs["fern"].recipe.layers].count(None) == 2
    cautions = "".join(leaf.cautions for leaf in card(notebook, "fern"))
    assert "Alcohol mist catches fire" in cautions
    assert "Alcohol" not in "".join(leaf.cautions for leaf in card(notebook, "heel"))


def test_a_leftover_is_to_do_for_all_rounds(notebook: Notebook) -> None:
    # A round of six takes 6 x 60 x 1.04 = 374.4 g of the 400 g, both 499.2 g.
    both, one = card(notebook, "heel"), card(notebook, "heel", bars=6)
    (whole,) = (row.cells[-1] for leaf in both for row in leaf.rows)
    assert whole.endswith(", only 400\u00a0g there")
    assert not [row for leaf in one for row in leaf.rows]
    for leaves in (both, one):
        assert [plain_text(w.mind) for leaf in leaves for w in leaf.weights] == [""]


@pytest.mark.parametrize(
    ("variant", "watched"),
    [
        ("close/cool", ["Lip.", "Cloudy.", "Bubbles."]),
        ("close/hot", ["Lip.", "Bubbles."]),
        ("straight/cool", ["Cloudy.", "Bubbles."]),
        ("straight/hot", ["Bubbles.", "Faded."]),
        # As written it is straight and hot.
        (None, ["Bubbles.", "Faded."]),
    ],
)
def test_what_failed_in_a_choice_is_watched_in_all_that_chose_it(
    notebook: Notebook, variant: str | None, watched: list[str]
) -> None:
    leaves = card(notebook, "fern", variant)
    found = [plain_text(words).split(" ")[0] for leaf in leaves for words in leaf.watch]
    assert found == watched


def test_a_pot_poured_twice_is_melted_once(notebook: Notebook) -> None:
    steps = steps_on(card(notebook, "fern"))
    assert steps.count("Melt the milk pot, for detail and rim together") == 1
    assert steps.count("Melt the ") == 2
    # A round of five: 5 x 45 x 1.04 = 234 g; slate 5 x 60 x 1.04 = 312 g, 78 g of it milk.
    assert "together: 234 g (8.25 oz) Milk" in steps
    assert "Melt the body: 78 g (2.75 oz) Milk and 234 g (8.25 oz) Clear" in steps
    # The scent goes in after the first pour, since the detail has none.
    assert (
        steps.index("pour the detail")
        < steps.index("stir 3.5 mL (3.5 g) Thyme")
        < steps.index("pour the rim")
    )
    # 10 + 5 g; 30.6 + 2 g; 61.8 g.
    for poured in ("about 15 g", "about 33 g", "about 62 g"):
        assert poured in steps


def test_the_weights_of_two_unequal_rounds(notebook: Notebook) -> None:
    leaves = card(notebook, "fern")
    weights = {
        (weight.layer, weight.what): (in_line(weight.first), in_line(weight.second))
        for leaf in leaves
        for weight in leaf.weights
    }
    assert in_line(leaves[0].rounds).startswith("Two rounds: 5 bars, then 3.")
    # 20 mL/kg of 234 x 3 / 4 = 175.5 g: 3.51 mL; oils are rounded down.
    assert weights["Milk pot", "Milk"] == ("234 g", "8.25 oz")
    assert weights["", "Thyme, into the rim"] == ("3.5 mL", "3.5 g")
    rows = [(row.what, *row.cells) for leaf in leaves for row in leaf.rows]
    told = [tuple(text.replace("\u00a0", " ") for text in row) for row in rows]
    # 3 x 45 x 1.04 = 140.4 g. Of the milk pot no scrapings are reckoned with: what is poured last
    # gives its scent to them. 2.106 mL of oil; 5.6 mL is what is measured, not 5.616.
    assert told[:2] == [
        ("Milk", "234 g", "", "140 g", "374 g"),
        ("Thyme, into the rim", "3.5 mL", "", "2.1 mL", "5.6 mL"),
    ]
    # A quarter of 3 x 60 x 1.04 = 187.2 g is below 50 g, where the finer scale is used.
    assert told[2] == ("Milk", "78 g", "", "46.8 g", "124.8 g")


# Heat ----------------------------------------------------------------------------------


def test_a_pot_poured_twice_is_followed_to_its_last_pour(
    notebook: Notebook, fern: dict[str, Any], differing: Path
) -> None:
    # In a room of 20 degC from 80, half of the difference in 20 min: 74.08 after 3, 62.43
    # after 10. 64 degC after 20 log2(60 / 44) = 8.95 min, 60 after 20 log2(60 / 40) = 11.70.
    milk = fern["cooling"][0]
    assert (milk["pot"], milk["room_c"], milk["readings"]) == ("milk", 20, 3)
    assert milk["half_time_min"] == pytest.approx(20, abs=0.05)
    window = milk["windows"]["pour"]
    assert window["enters_min"] == pytest.approx(8.95, abs=0.02)
    assert window["leaves_min"] == pytest.approx(11.70, abs=0.02)
    # 68 degC after 6.44 min, 65 after 8.30.
    scent = milk["windows"]["fragrance"]
    assert scent["enters_min"] == pytest.approx(6.44, abs=0.02)
    assert scent["leaves_min"] == pytest.approx(8.30, abs=0.02)
    # Its marks go to its layers in turn.
    design = notebook.designs["fern"]
    pour = design.pours[0]
    poured = {
        layer: body_temperature(design, pour, pour.bars[0], layer)
        for layer in ("detail", "rim", "body")
    }
    assert poured == {"detail": 74.08, "rim": 62.43, "body": 52}
    page = said(differing / "out" / "designs" / "fern.html")
    assert "detail at 74 °C, rim at 62 °C, body at 52 °C" in page


# Cutting -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("design", "says"),
    [
        # Pieces and waste: 12 x 56 x 36 of 320 x 205 mm leave 63.1 %; 10 x 88 x 58 of 300 x 200,
        # on their sides, 14.9 %; 6 of 270 x 120, upright, 5.5 %; 16 x 44 x 29 of 200 x 150 31.9 %.
        ("fern", "A sheet gives 12 pieces of 56 × 36 mm (2.2 × 1.42 in) Each is whole and"
         " centred on a motif; 63 % of a sheet of Fern is left over"),
        ("wide", "A sheet gives 10 pieces of 88 × 58 mm (3.46 × 2.28 in) Each is whole, turned;"
         " 15 % of a sheet of Wide is left over"),
        ("slim", "A sheet gives 6 pieces of 88 × 58 mm (3.46 × 2.28 in) Each is whole;"
         " 5 % of a sheet of Slim is left over"),
        ("dots", "A sheet gives 16 pieces of 44 × 29 mm (1.73 × 1.14 in) Each is whole and"
         " centred on a motif; 32 % of a sheet of Dots is left over"),
    ],
)  # fmt: skip
def test_what_a_sheet_gives(differing: Path, design: str, says: str) -> None:
    assert says in said(differing / "out" / "designs" / f"{design}.html")


# Variants ------------------------------------------------------------------------------


def test_a_lip_of_a_detail_that_lifted_counts_nowhere(differing: Path) -> None:
    # Close: A1 1.4, A3 1.1, B1 1.7 mm and A2, whose detail lifted: median 1.4, of all four it
    # would be 1.3. Straight: 0.3, 0.5, 0.2, 0.4, 0.6, 0.7, 0.1 mm: median 0.4.
    page = said(differing / "out" / "designs" / "fern.html")
    lip = r"close: 3 bars, middle 1\.4 mm, 1 not measured straight: 7 bars, middle"
    assert re.search(rf"{lip} 0\.4 mm", page)
    assert "middle 1.3 mm" not in page
    assert "Lip 1 not measured 1.4 mm 0.4 mm −0.9 mm" in page
    # Kept: A1 and B1 of four; A4, A5, A6, A8 and B2 of seven.
    assert "Lifted 1 of 4 0 of 7" in page
    assert "Fit to sell 2 of 4 5 of 7" in page
    # Cool: B1 to B3, two kept; hot: A1 to A8, five kept.
    assert "Fit to sell 2 of 3 5 of 8" in page


# Pages ---------------------------------------------------------------------------------


def test_the_front_page_begins_with_the_latest_pours(differing: Path) -> None:
    """Four of five, by the last pour of each; the fifth was last poured in November."""
    page = said(differing / "out" / "index.html")
    latest = page[page.index("Latest pours") : page.index("Still testing")]
    assert re.findall(
        r"(\w[\w ]*) Pour (\w): .*?(\d+ \w+ \d{4})", latest.partition("pours ")[2]
    ) == [
        ("Wide", "B", "7 June 2026"),
        ("Heel of honey", "A", "2 May 2026"),
        ("Dots", "A", "21 April 2026"),
        ("Fern on brick", "B", "5 April 2026"),
    ]
    assert "Pour B: 2 of 3 fit to sell, room 17 °C. 5 April 2026" in latest
    # Two designs of two pours, three of one; bars 2 + 1 + 1 + 1 + 11.
    assert "5 designs, 7 pours, 16 bars since 23 November 2025." in page
    # Of four failures one was mended, one could not be; two mends are yet to be tried.
    to_try = page[page.index("Fixes to try") : page.index("What failed, and what fixed it")]
    assert "Cloudy, in Fern on brick. A grey bloom. To try: Pour it warmer." in to_try
    assert "Bubbles, in Fern on brick. Five in a row. To try: Spritz sooner." in to_try
    assert "Lip" not in to_try
    assert "Faded" not in to_try
    asked = page[page.index("Still testing") : page.index("Fixes to try")]
    assert "Close or straight: which has the narrower lip?" in asked
    assert "11 of 16 bars done; asked 13 March 2026" in asked
    # Keepers, by the day they were written up.
    keepers = page[page.index("Keepers") :]
    assert keepers.index("Dots") < keepers.index("Heel of honey")
    assert "poured 21 Apr 2026" in keepers
    assert "poured 2 May 2026" in keepers


def test_a_day_is_said_before_its_month(differing: Path, notebook: Notebook) -> None:
    """Written 2026-03-14 and 2026-04-05: either order of the last would be a day."""
    page = said(differing / "out" / "designs" / "fern.html")
    assert "Pour A, 14 March 2026" in page
    assert "Pour B, 5 April 2026" in page
    assert "A 14 Mar 2026 milk" in page
    for wrong in ("March 14", "April 5", "4 May 2026", "Mar 14", "14/", "05/04"):
        assert wrong not in page
    assert [pour.date for pour in notebook.designs["fern"].pours] == [
        date(2026, 3, 14), date(2026, 4, 5),
    ]  # fmt: skip
    order = said(differing / "out" / "orders" / "thirteen.html")
    assert "due 9 July 2026" in order
    assert "certificate of 2026-02-11" in page


def test_a_question_across_designs_stands_in_the_index(differing: Path) -> None:
    out = differing / "out"
    terms = BeautifulSoup((out / "terms.html").read_text("utf-8"), "html.parser")
    (entry,) = [term for term in terms.find_all("dt") if term.get_text() == "Which blade wins?"]
    assert entry.a is not None
    assert entry.a["href"] == "compared/blade.html"
    # And in the data that it is narrowed by: address, title, page number, kind.
    held = (out / "index" / "others-1.js").read_text("utf-8")
    kinds, pages, *_ = json.loads(held.partition("]=")[2].strip().removesuffix(";"))
    rows = [row.split("\t") for row in pages.split("\n")]
    (row,) = [row for row in rows if row[0] == "compared/blade.html"]
    assert row[1:3] == ["Which blade wins?", "Q1"]
    assert kinds[int(row[3])] == "Question across designs"


def test_what_is_known_of_a_thing(differing: Path) -> None:
    """Each fact beside its own name; a range as it was written, a temperature in both scales."""
    facts = {
        "base-milk": (
            # 53 C x 1.8 + 32 = 127.4; 57: 134.6; 46: 114.8; 49: 120.2; 61: 141.8; 66: 150.8;
            # 88: 190.4; 92: 197.6.
            ("Softens", "53–57 °C (127–135 °F)"), ("Sets", "46–49 °C (115–120 °F)"),
            ("Melts", "61–66 °C (142–151 °F)"), ("Scorches", "88–92 °C (190–198 °F)"),
            ("Density", "1–1.1 g/mL"), ("Price", "€8.00 for 1000 g"),
            ("Ingredients", "Aqua 46 %, Glycerin 30 %, Sodium Stearate 22 %, Sorbitol 2 %"),
        ),
        "fragrance-thyme": (
            ("Limit", "up to 2.4 % of a bar that is rinsed off"),
            ("Certificate", "11 February 2026"),
            ("Flash point, for storage and shipping", "71 °C (160 °F)"), ("Density", "0.8–1 g/mL"),
            ("Allergens", "Linalool 4 %, Geraniol 1 %, Citral 1 %"),
            ("Price", "€0.25 for 1 mL"),
        ),
        "mould-tray": (
            ("Cavities", "6"), ("Face", "90 × 60 mm (3.54 × 2.36 in)"),
            ("Corner radius", "10 mm (0.39 in)"), ("Depth", "30 mm (1.18 in)"),
            ("Price", "€54.00"), ("Lasts", "90 pours"),
        ),
        "mat-fern": (
            ("Sheet", "320 × 205 mm (12.6 × 8.07 in)"), ("Thickness", "4 mm (0.16 in)"),
            ("Relief", "2 mm (0.08 in)"), ("Motif", "50 × 30 mm (1.97 × 1.18 in)"),
            ("Motif to motif", "80 × 55 mm (3.15 × 2.17 in)"),
            ("A piece lasts", "40 casts, a guess"),
        ),
        "piece-fern-a": (
            ("On hand", "5"), ("Cut from", "Fern"), ("Fits", "Tray"), ("Trim", "straight, 3 mm"),
        ),
        "packaging-sleeve": (("On hand", "3"), ("Price", "€0.60"), ("Bars in one", "2")),
        "leftover-ends": (
            ("Amount", "400 g (14.1 oz)"), ("Base", "Honey"), ("Left over from", "Fern on brick"),
            ("Melted before", "2 times"),
        ),
    }  # fmt: skip
    for name, wanted in facts.items():
        page = (differing / "out" / "shelf" / f"{name}.html").read_text("utf-8")
        soup = BeautifulSoup(page, "html.parser")
        names = [" ".join(one.get_text().split()) for one in soup.select("main dt")]
        values = [" ".join(one.get_text().split()) for one in soup.select("main dd")]
        found = dict(zip(names, values, strict=True))
        assert {key: found.get(key) for key, _ in wanted} == dict(wanted), name


def test_what_was_done_last_with_a_thing(differing: Path) -> None:
    """Of six pours in the tray, of four designs, the last was that of 7 June."""
    shelf = differing / "out" / "shelf"
    assert "On 7 June 2026, Wide: one bar. 1 of 1 fit to sell." in said(shelf / "mould-tray.html")
    milk = said(shelf / "base-milk.html")
    assert "used in 1 design, 2 pours, last on 5 April 2026" in milk
    assert "1 pour is too few to say what temperature does; it takes 6" in milk
    # 7 casts before, and 7 bars with a border in the pours: 5 of the first, 2 of the second.
    piece = said(shelf / "piece-fern-a.html")
    assert (
        "14 casts so far, shared by 5 pieces alike, 7 of them before its first pour here" in piece
    )
    assert "186 casts left" in piece
    # A piece of 56 x 36 mm lies in the cavity of 62 x 47 mm too, with 3 mm and 5.5 mm round it.
    assert "Fits Tray and Box." in piece
    thyme = said(shelf / "fragrance-thyme.html")
    # 1.9608 / 2.4 = 81.7 %
    assert "Fern on brick rim 1.96 % 0.59 % 81.7 %" in thyme


def test_the_feed_begins_with_what_was_done_last(notebook: Notebook) -> None:
    figures = derive_figures(notebook, models=False)
    theme = read_theme(notebook.settings.theme, notebook.root)
    book = open_book(notebook, figures, compare_designs(notebook), theme)
    atom = "{http://www.w3.org/2005/Atom}"
    feed = ET.fromstring(_atom_feed(book, "https://lean-to.example/"))
    assert feed.findtext(f"{atom}updated") == "2026-06-07T00:00:00Z"
    told = [
        (entry.findtext(f"{atom}title"), (entry.findtext(f"{atom}updated") or "")[:10])
        for entry in feed.findall(f"{atom}entry")
    ]
    assert told == [
        ("Wide", "2026-06-07"), ("Heel of honey", "2026-05-02"), ("Dots", "2026-04-21"),
        ("Fern on brick", "2026-04-05"), ("Slim", "2025-11-23"),
    ]  # fmt: skip


def test_what_is_without_a_key_is_told(differing: Path) -> None:
    """What is taken, what cannot be had, and what only stands on a page, each as it is."""
    page = BeautifulSoup((differing / "out" / "how.html").read_text("utf-8"), "html.parser")
    rows = {
        tuple(" ".join(cell.get_text().split()) for cell in row.find_all(["th", "td"])[:2])
        for row in page.select("#g-keys tr")
    }
    heavy = "1.1 g/mL (0.85 to 1.1); the heavy end, so that no bar looks weaker than it is"
    assert rows >= {
        ("density", heavy),
        ("limit", "cannot be worked out; a warning until it is there"),
        ("inci", "cannot be worked out"),
        ("certificate", "no figure changes; beside the limit"),
        ("scented: oil", "an error"),
    }
    touched = {
        cells[0].get_text(): cells[2].get_text()
        for row in page.select("#g-keys tr")
        if len(cells := row.find_all(["th", "td"])) == 3
    }
    assert "whether the oil is within its limit" in touched["limit"]
    assert touched["certificate"] == "none"


# Mistakes of the maker -----------------------------------------------------------------


def test_a_link_to_a_question_that_is_not_there(tmp_path: Path) -> None:
    content = lay_out(tmp_path, ("designs/fern/design.md", "blade.md", "blades.md"))
    found = read_notebook(content).errors
    # The link stands in the last line of the file, after "The knife decides; see ".
    text = (content / "designs" / "fern" / "design.md").read_text("utf-8")
    line = text.count("\n")
    assert [str(problem) for problem in found] == [
        f'designs/fern/design.md:{line}:24: the link leads to the comparison "blades", and there'
        ' is none. Did you mean "blade"?'
    ]


# Built again ---------------------------------------------------------------------------


# Each on pages that no other one is on, so that none can make good for another. What a leftover
# is made of is named by no design.
EDITS = (
    ("shelf/bases.yaml", "density: 1.2-1.4 g/mL", "density: 1.0-1.2 g/mL"),
    ("comparisons/blade.md", "Which blade wins?", "Which border?"),
    ("shelf/mats.yaml", "offset: 30 x 22 mm", "offset: 29 x 23 mm"),
    ("shelf/bases.yaml", "price: 8.00/kg", "price: 8.50/kg"),
    ("shelf/bases.yaml", "  price: 8.50/kg\n", ""),
)


def test_what_is_changed_on_the_shelf_is_as_made_from_nothing(
    differing: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    content, out = tmp_path / "content", tmp_path / "out"
    shutil.copytree(differing / "content", content)
    monkeypatch.setenv("JOURNAL_CACHE", str(tmp_path / "kept"))
    build_notebook(BuildOptions(content, out))
    for file, old, new in EDITS:
        path, before = content / file, files_of(out)
        text = path.read_text("utf-8")
        assert old in text
        path.write_text(text.replace(old, new), "utf-8")
        build_notebook(BuildOptions(content, out))
        assert files_of(out) != before, file
    found = files_of(out)
    monkeypatch.setenv("JOURNAL_CACHE", "")
    build_notebook(BuildOptions(content, tmp_path / "fresh"))
    wanted = files_of(tmp_path / "fresh")
    assert not sorted(p for p in {*wanted, *found} if wanted.get(p) != found.get(p))


def files_of(root: Path) -> dict[str, bytes]:
    return {str(p.relative_to(root)): p.read_bytes() for p in root.rglob("*") if p.is_file()}


def test_the_density_of_what_a_leftover_is_made_of(notebook: Notebook, tmp_path: Path) -> None:
    """46.15 mL a bar at 1.3 g/mL, the middle of 1.2 to 1.4; 54.55 at 1.1."""
    figures = derive_figures(notebook, models=False).designs["heel"].recipe
    assert figures.masses.layers[0].volume_ml_per_bar == pytest.approx(60 / 1.3, rel=CLOSE)
    light = read(tmp_path, ("shelf/bases.yaml", "1.2-1.4 g/mL", "1.0-1.2 g/mL"))
    figures = derive_figures(light, models=False).designs["heel"].recipe
    assert figures.masses.layers[0].volume_ml_per_bar == pytest.approx(60 / 1.1, rel=CLOSE)
