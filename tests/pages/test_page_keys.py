"""A page's key tells every change of its bytes, and no change that is not on the page."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from journal.comparison.derive import compare_designs
from journal.figures.derive import derive_figures
from journal.pages.editions import Edition, for_edition
from journal.pages.notebook import lay_out, open_book
from journal.pages.sheet import Sheet
from journal.pages.theme import read_theme
from journal.records.notebook import read_notebook

#: A small part of the demo: what grew from what, a shelf, a photo, a question.
KEPT = ("barley-ears", "kelp-on-clay", "kelp-on-sea-grey")
KELP = "designs/kelp-on-sea-grey.html"

Edit = Callable[[Path], None]


@dataclass(slots=True)
class Changes:
    """The small notebook before and after each change, laid out and made once."""

    root: Path
    demo: Path
    made: dict[str, dict[str, tuple[str, bytes]]] = field(default_factory=dict)

    def after(self, change: Edit | None = None) -> dict[str, tuple[str, bytes]]:
        """Key and bytes of every page by its path."""
        name = change.__name__ if change is not None else ""
        if name not in self.made:
            content = self.root / (name or "before")
            lay_down(content, self.demo)
            if change is not None:
                change(content)
            sheets = laid_out(content).values()
            self.made[name] = {s.path: (s.key, s.make()) for s in sheets if not s.lasting}
        return self.made[name]

    def keys_changed(self, change: Edit) -> set[str]:
        """Paths of the pages that are new or have another key after a change."""
        before, after = self.after(), self.after(change)
        return {p for p, (key, _) in after.items() if p not in before or before[p][0] != key}


@pytest.fixture(scope="module")
def changes(tmp_path_factory: pytest.TempPathFactory, demo_content: Path) -> Changes:
    return Changes(tmp_path_factory.mktemp("changes"), demo_content)


def lay_down(made: Path, demo: Path) -> None:
    made.mkdir()
    shutil.copyfile(demo / "journal.yaml", made / "journal.yaml")
    shutil.copytree(demo / "shelf", made / "shelf")
    for name in KEPT:
        shutil.copytree(demo / "designs" / name, made / "designs" / name)
    edit(made, "designs/barley-ears/design.md", "grew_from: oat-and-milk-loaf\n", "")
    for name in ("fan-on-rose-clay", "honeycomb-and-bee", "moth-and-moon"):
        edit(made, "shelf/leftovers.yaml", f"  from: {name}\n", "")


def edit(content: Path, path: str, old: str, new: str) -> None:
    text = (content / path).read_text("utf-8")
    assert old in text
    (content / path).write_text(text.replace(old, new), "utf-8")


def laid_out(content: Path, edition: Edition = "studio") -> Mapping[str, Sheet]:
    notebook = read_notebook(content)
    assert not notebook.errors, notebook.errors
    figures = derive_figures(notebook)
    cut = for_edition(notebook, edition)
    theme = read_theme(content=content)
    book = open_book(cut, figures, compare_designs(cut), theme, edition)
    return {sheet.path: sheet for sheet in lay_out(book)}


def prose(content: Path) -> None:
    edit(content, "designs/kelp-on-sea-grey/design.md", "sore | fine", "sore | better")


def a_bar(content: Path) -> None:
    path = "designs/kelp-on-sea-grey/design.md"
    edit(
        content, path, "bar: D6, variant: close, lip: 1.4 mm", "bar: D6, variant: close, lip: 0 mm"
    )


def kept(content: Path) -> None:
    path = "designs/kelp-on-sea-grey/design.md"
    edit(
        content,
        path,
        "tidy: 4 min, keep: no, weight: 97.6 g",
        "tidy: 4 min, keep: yes, weight: 97.6 g",
    )


def a_reading(content: Path) -> None:
    edit(content, "designs/kelp-on-clay/design.md", "0:30, 122 F, poured", "0:30, 120 F, poured")


def a_title(content: Path) -> None:
    edit(
        content, "designs/kelp-on-clay/design.md", "title: Kelp on clay", "title: Kelp on red clay"
    )


def a_price(content: Path) -> None:
    edit(content, "shelf/colourants.yaml", "price: 0.95/oz", "price: 1.95/oz")


def a_name(content: Path) -> None:
    edit(content, "shelf/bases.yaml", "name: White shea", "name: White shea, opaque")


def a_new_thing(content: Path) -> None:
    path = content / "shelf" / "bases.yaml"
    path.write_text("plain:\n  name: Plain\n\n" + path.read_text("utf-8"), "utf-8")


def a_failure(content: Path) -> None:
    path = "designs/kelp-on-sea-grey/design.md"
    edit(content, path, "mended: untested", "mended: yes")


def private(content: Path) -> None:
    edit(content, "designs/kelp-on-sea-grey/design.md", "forty a month", "fifty a month")


def settings(content: Path) -> None:
    edit(content, "journal.yaml", "units: us", "units: metric")


def own_template(content: Path) -> None:
    (content / "theme").mkdir()
    text = '{% extends "page.html" %}{% block title %}A page{% endblock %}'
    (content / "theme" / "design.html").write_text(text, "utf-8")


def a_photo(content: Path) -> None:
    folder = content / "designs" / "kelp-on-sea-grey" / "photos"
    shutil.copyfile(folder / "above.jpg", folder / "front.jpg")


EDITS: tuple[Edit, ...] = (
    prose, a_bar, kept, a_reading, a_title, a_price, a_name, a_new_thing, a_failure, private,
    settings, own_template, a_photo,
)  # fmt: skip


def one_more(content: Path) -> None:
    shutil.copytree(content / "designs" / "barley-ears", content / "designs" / "zebra")
    path = "designs/zebra/design.md"
    edit(content, path, "title: Barley ears", "title: Zebra")
    edit(content, path, "date: 2024-05-11\nstate", "date: 2027-05-11\nstate")


def an_earlier_one(content: Path) -> None:
    """A design that is written up afterwards with an earlier date moves the numbers of others."""
    one_more(content)
    edit(content, "designs/zebra/design.md", "date: 2027-05-11\nstate", "date: 2020-05-11\nstate")


@pytest.mark.parametrize(
    "change", [*EDITS, one_more, an_earlier_one], ids=lambda change: change.__name__
)
def test_a_page_of_an_unchanged_key_has_unchanged_bytes(changes: Changes, change: Edit) -> None:
    before, after = changes.after(), changes.after(change)
    both = before.keys() & after.keys()
    assert len(both) > 30
    stale = [p for p in both if before[p][0] == after[p][0] and before[p][1] != after[p][1]]
    assert not stale
    assert any(before[p][1] != after[p][1] for p in both), "the change shows nowhere"


def test_prose_of_one_design_is_on_its_own_page_alone(changes: Changes) -> None:
    assert {p for p in changes.keys_changed(prose) if p.startswith("designs/")} == {KELP}


def test_a_bar_that_counts_the_same_leaves_the_lists_alone(changes: Changes) -> None:
    changed = changes.keys_changed(a_bar)
    assert KELP in changed
    assert not changed & {
        "index.html", "designs/index.html", "designs/barley-ears.html", "designs/kelp-on-clay.html",
    }  # fmt: skip


def test_a_bar_kept_is_in_the_lists(changes: Changes) -> None:
    assert {"index.html", "designs/index.html", KELP} <= changes.keys_changed(kept)


def test_a_title_is_on_every_page_that_leads_there(changes: Changes) -> None:
    # Barley ears led to it, and the kelp on grey grew from it.
    assert {"index.html", "designs/barley-ears.html", KELP} <= changes.keys_changed(a_title)


def test_a_price_is_on_the_pages_of_what_is_made_with_it(changes: Changes) -> None:
    changed = {p for p in changes.keys_changed(a_price) if p.startswith("designs/")}
    assert changed == {"designs/kelp-on-clay.html"}


def test_a_failure_mended_leaves_the_first_page(changes: Changes) -> None:
    assert "index.html" in changes.keys_changed(a_failure)


def test_a_design_more_leaves_the_pages_of_others_alone(changes: Changes) -> None:
    changed = {p for p in changes.keys_changed(one_more) if p.startswith("designs/")}
    # Two pots were read for the kelp on clay, so its forecast is made of all pots.
    # The barley shares its mat, and the last that was cast in the mould has a neighbour.
    assert changed - {"designs/kelp-on-clay.html"} == {
        "designs/zebra.html", "designs/index.html", "designs/barley-ears.html", KELP,
    }  # fmt: skip


def test_studio_and_helpers_share_no_page_by_its_key(
    changes: Changes, tmp_path: Path, demo_content: Path
) -> None:
    lay_down(tmp_path / "content", demo_content)
    studio, helpers = changes.after(), laid_out(tmp_path / "content", "helpers")
    # Label drafts are the studio's alone.
    both = [p for p in studio if p.endswith(".html") and not p.startswith("labels/")]
    assert not {p for p in both if studio[p][0] == helpers[p].key}
