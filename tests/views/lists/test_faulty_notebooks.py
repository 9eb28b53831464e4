"""A notebook with mistakes in it is laid out as far as it could be read."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest
from case_notebooks import cases, laid_out
from every_sheet import all_sheets
from long_run import LONG

from journal.comparison.derive import compare_designs
from journal.figures.derive import AllFigures, derive_figures
from journal.html.theme import read_theme
from journal.records.notebook import Notebook, read_notebook
from journal.views.notebook import open_book
from journal.views.shared.editions import EDITIONS, Edition, cut_to_edition
from journal.views.shared.places import fixed_places

THEME = read_theme()


def pages_of(
    notebook: Notebook, edition: Edition = "studio", figures: AllFigures | None = None
) -> Mapping[str, str]:
    """Every page, whatever is wrong in the notebook; one stands at each place that is linked."""
    figures = figures or derive_figures(notebook, models=False)
    cut = cut_to_edition(notebook, edition)
    book = open_book(cut, figures, compare_designs(cut), THEME, edition)
    pages = {s.path: s.make().decode() for s in all_sheets(book) if s.path.endswith(".html")}
    places = book.places
    for group in (places.designs, places.cards, places.things, places.compared, places.orders):
        assert {place.path for place in group.values()} <= pages.keys()
    assert {place.path for place in fixed_places(public=edition == "public")} <= pages.keys()
    return pages


CASES = [*cases("invalid"), *cases("valid")]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_every_design_that_could_be_read_has_its_page(case: Path, tmp_path: Path) -> None:
    """In the studio's edition and, by turns, in one other; in the long command in all."""
    notebook = laid_out(case, tmp_path / "content")
    figures = derive_figures(notebook, models=False)
    for edition in EDITIONS if LONG else ("studio", EDITIONS[1 + CASES.index(case) % 2]):
        pages = pages_of(notebook, edition, figures)
        for name, design in notebook.designs.items():
            if edition != "public" or design.state == "keeper":
                assert f"designs/{name}.html" in pages


@pytest.mark.parametrize("edition", EDITIONS)
def test_an_order_with_a_mistake_is_planned_in_no_edition(tmp_path: Path, edition: Edition) -> None:
    """One that can be read, but asks for a variant that there is none of."""
    (case,) = (case for case in CASES if case.name == "orders")
    notebook = laid_out(case, tmp_path / "content")
    (line, *_) = notebook.orders["inn"].record.designs
    assert line.variant == "dark"
    assert [one.name for one in notebook.designs[line.design].variants] == ["as written"]
    pages = pages_of(notebook, edition)
    assert ("orders/inn.html" in pages) == (edition != "public")
    assert "It cannot be planned yet." in pages.get("orders/inn.html", "It cannot be planned yet.")


RECIPE = """---
title: Sea
date: 2026-04-18
state: trial
mould: tray
bars: 4
layers:
  - name: body
    base: BASE
    amount: AMOUNT
    pour: 50-55 C
    fragrance: {oil: OIL, dose: DOSE}
DID---
"""
SHELF = {
    "bases": "plain: {name: Plain, density: 1.04 g/mL}\n",
    "moulds": ("tray: {name: Tray, cavities: 4, face: 80 x 50 mm, depth: 25 mm, holds: 100 g}\n"),
    "fragrances": (
        "rose: {name: Rose, density: 0.9 g/mL, limit: 2 %}\nfig: {name: Fig, density: 0.9 g/mL}\n"
    ),
}


def page_with(tmp_path: Path, page: str = "designs/sea.html", **written: str) -> str:
    values = {
        "BASE": "plain",
        "AMOUNT": "100 g",
        "OIL": "rose",
        "DOSE": "1 %",
        "DID": "",
        **written,
    }
    text = RECIPE
    for name, value in values.items():
        text = text.replace(name, value)
    content = tmp_path / "content"
    (content / "shelf").mkdir(parents=True)
    (content / "designs" / "sea").mkdir(parents=True)
    (content / "journal.yaml").write_text("studio: A room\nunits: metric\n")
    for kind, shelf in SHELF.items():
        (content / "shelf" / f"{kind}.yaml").write_text(shelf)
    (content / "designs" / "sea" / "design.md").write_text(text)
    html = pages_of(read_notebook(content))[page]
    return html.replace("\u00a0", " ")


def test_a_recipe_within_its_limits_has_no_marks(tmp_path: Path) -> None:
    html = page_with(tmp_path)
    assert "class=marks" not in html
    assert "over its limit" not in html.lower()


def test_over_a_limit_is_said_in_place_of_the_amount_and_at_the_head(tmp_path: Path) -> None:
    html = page_with(tmp_path, DOSE="3 %")
    assert "<span class=mind>over its limit: no amount is given; lower the dose</span>" in html
    head = "Over the limit: Rose is 2.91 % of the body; its certificate allows 2 %."
    assert f"<p class=danger>{head} Do not pour or sell it.</p>" in html
    assert "class=marks" in html
    # 12 g of rose in 400 g of base: 2.91 % of the layer
    assert "&#34;rose&#34; is 2.91 % of the layer" in html.replace("Rose", "rose")
    assert "<div class=mind>" in html


def test_an_oil_without_a_limit_is_marked(tmp_path: Path) -> None:
    html = page_with(tmp_path, OIL="fig")
    assert "<span class=mind>no limit on the shelf</span>" in html


@pytest.mark.parametrize(("amount", "proud"), [("104 g", False), ("115 g", True)])
def test_a_bar_that_stands_too_proud_is_marked(tmp_path: Path, amount: str, proud: bool) -> None:
    html = page_with(tmp_path, AMOUNT=amount)
    # 15 % over a cavity of 96 mL is 14.4 mL on 40 cm2: 3.6 mm
    assert ("more than the 2 mm that you can plane off" in html) is proud
    assert ("Please check" in html) is proud


def test_a_design_that_names_what_is_not_on_the_shelf_says_so(tmp_path: Path) -> None:
    whole = page_with(tmp_path / "whole")
    html = page_with(tmp_path / "without", BASE="marble")
    # Steps have their amounts in them: without a base there are none.
    for part in ("In order", "Weigh out"):
        assert part in whole
        assert part not in html
    assert "Sea" in html
    assert "no base &#34;marble&#34; is on the shelf" in html.replace("No base", "no base")


def test_its_card_says_what_it_waits_for(tmp_path: Path) -> None:
    card = " ".join(page_with(tmp_path, "cards/sea.html", BASE="marble").split())
    assert "This card waits: not all that is named in <a href=" in card
    assert "../designs/sea.html" in card
    assert "Weigh" not in card


def test_a_pour_without_bars_has_its_place(tmp_path: Path) -> None:
    html = page_with(tmp_path, DID="pours: [{date: 2026-04-18, pour: 1 a}]\n")
    assert 'id="pour-1-a"' in html
    assert "No bars are written down" in html
