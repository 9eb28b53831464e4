"""Where pages stand, and how they lead to each other from a folder that can be moved."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from demo import BARLEY, OAT_LOAF
from demo_book import demo_notebook
from msgspec import structs

from journal.output import check_path
from journal.records.designs import OWN_PAGES
from journal.views.shared.places import (
    FIXED,
    Address,
    FaultyAddress,
    href,
    places_of,
    pour_anchor,
    root_of,
    span,
    symptom_places,
)

FRONT, DEEP = Address("index.html", "Front"), Address("designs/a.html", "A", "3")


@pytest.mark.parametrize(
    ("here", "to", "fragment", "address"),
    [
        (FRONT, DEEP, "", "designs/a.html"),
        (DEEP, FRONT, "", "../index.html"),
        (DEEP, Address("designs/b.html", "B"), "weigh", "b.html#weigh"),
        (DEEP, Address("shelf/base-a.html", "Base"), "", "../shelf/base-a.html"),
        (DEEP, DEEP, "", "a.html"),
        (DEEP, DEEP, "bars", "#bars"),
    ],
)
def test_addresses_are_relative(here: Address, to: Address, fragment: str, address: str) -> None:
    assert href(here, to, fragment) == address


def test_the_way_to_the_root() -> None:
    assert root_of(FRONT) == ""
    assert root_of(DEEP) == "../"


def test_a_link_carries_its_page_number_to_paper() -> None:
    assert span(FRONT, DEEP).paper == "3"
    assert span(DEEP, Address("cards/a.html", "Card of A")).paper == ""


def test_designs_are_numbered_by_date_and_a_new_one_comes_last() -> None:
    notebook = demo_notebook()
    before = places_of(notebook)
    assert before.designs[OAT_LOAF].folio == "1"
    newest = structs.replace(notebook.summaries[BARLEY], id="zebra", date=date(2030, 1, 1))
    after = places_of(replace(notebook, summaries={**notebook.summaries, "zebra": newest}))
    assert {name: after.designs[name].folio for name in before.designs} == {
        name: place.folio for name, place in before.designs.items()
    }
    assert after.designs["zebra"].folio == str(len(before.designs) + 1)


def test_a_design_with_an_error_keeps_its_place_and_number() -> None:
    notebook = demo_notebook()
    before = places_of(notebook)
    others = {name: own for name, own in notebook.summaries.items() if name != "kelp-on-clay"}
    kelp = notebook.summaries["kelp-on-clay"]
    faulty = {
        ("design", "kelp-on-clay"): FaultyAddress(kelp.title, kelp.date),
        ("design", "unread"): FaultyAddress("unread", None),
        ("comparison", "one"): FaultyAddress("one", None),
        ("order", "fair"): FaultyAddress("fair", None),
    }
    after = places_of(replace(notebook, summaries=others), faulty)
    assert {**after.designs, "kelp-on-clay": after.faulty["design", "kelp-on-clay"]} == dict(
        before.designs
    )
    # Without a date nobody knows its number, and no other design's depends on it.
    assert after.faulty["design", "unread"].folio == ""
    assert {place.path for place in after.faulty.values()} == {
        "designs/kelp-on-clay.html", "designs/unread.html", "compared/one.html", "orders/fair.html",
    }  # fmt: skip


def test_no_two_pages_have_one_path_or_one_number() -> None:
    places = places_of(demo_notebook())
    every = [
        *FIXED.values(),
        *places.designs.values(),
        *places.things.values(),
        *places.compared.values(),
        *places.cards.values(),
    ]
    assert len({place.path for place in every}) == len(every)
    numbered = [place.folio for place in every if place.folio]
    assert len(set(numbered)) == len(numbered)


@pytest.mark.parametrize(
    ("label", "anchor"), [("A", "pour-A"), ("2nd try", "pour-2nd-try"), ("é", "pour--")]
)
def test_a_pours_anchor_is_an_id_whatever_its_label(label: str, anchor: str) -> None:
    assert pour_anchor(label) == anchor


def test_no_id_is_a_name_of_the_notebooks_own_pages() -> None:
    own = {
        path.removesuffix(".html").partition("/")[2]
        for path in (place.path for place in FIXED.values())
        if path.startswith(("designs/", "cards/", "compared/", "orders/"))
    }
    assert own == OWN_PAGES


def test_symptoms_have_a_page_each_whatever_they_are_called() -> None:
    """Two that read alike with a number, devices of Windows, one of three hundred letters."""
    names = ["a-b-3", "a b", "a-b", "Con", "con", "nul", "漢", "字", "x" * 300, "x" * 301]
    paths = [place.path for place in symptom_places(names).values()]
    assert len({path.casefold() for path in paths}) == len(names)
    for path in paths:
        check_path(path)
