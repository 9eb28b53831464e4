"""A change makes those pages again that show it, and no page that is known shows it."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from piped import Piped, piped
from small_notebook import lay_down_small

from journal.records.codec import digest

KELP = "designs/kelp-on-sea-grey.html"

Edit = Callable[[Path], None]


@dataclass(slots=True)
class Changes:
    """The small notebook before and after each change, laid out and made once."""

    root: Path
    demo: Path
    found: dict[str, Piped] = field(default_factory=dict)

    def after(self, change: Edit | None = None) -> Piped:
        """What the notebook is after a change: groups that cannot show it are known from before."""
        name = change.__name__ if change is not None else "before"
        if name not in self.found:
            content, kept = self.root / name, self.root / f"{name} kept"
            lay_down_small(content, self.demo)
            if change is not None:
                self.after()
                shutil.copytree(self.root / "before kept", kept)
                change(content)
            self.found[name] = piped(content, kept)
        return self.found[name]

    def changed(self, change: Edit) -> set[str]:
        """Paths of the files that are new or have other bytes after a change."""
        before, after = self.after().made, self.after(change).made
        return {path for path, made in after.items() if before.get(path) != made}


@pytest.fixture(scope="module")
def changes(tmp_path_factory: pytest.TempPathFactory, demo_content: Path) -> Changes:
    return Changes(tmp_path_factory.mktemp("changes"), demo_content)


def edit(content: Path, path: str, old: str, new: str) -> None:
    text = (content / path).read_text("utf-8")
    assert old in text
    (content / path).write_text(text.replace(old, new), "utf-8")


def prose(content: Path) -> None:
    edit(content, "designs/kelp-on-sea-grey/design.md", "sore | fine", "sore | better")


def a_bar(content: Path) -> None:
    path = "designs/kelp-on-sea-grey/design.md"
    line = "bar: D6, at: 5, variant: close, lip: "
    edit(content, path, f"{line}1.4 mm", f"{line}0 mm")


def kept(content: Path) -> None:
    path = "designs/kelp-on-sea-grey/design.md"
    edit(
        content,
        path,
        "tidy: 4 min, keep: no, weight: 97.6 g",
        "tidy: 4 min, keep: yes, weight: 97.6 g",
    )


def a_reading(content: Path) -> None:
    edit(content, "designs/kelp-on-clay/design.md", "0:28, 123 F, poured", "0:28, 120 F, poured")


def a_title(content: Path) -> None:
    edit(
        content, "designs/kelp-on-clay/design.md", "title: Kelp on clay", "title: Kelp on red clay"
    )


def a_price(content: Path) -> None:
    edit(content, "shelf/colourants.yaml", "price: 0.95/oz", "price: 1.95/oz")


def price_of_an_oil(content: Path) -> None:
    edit(content, "shelf/fragrances.yaml", "price: 3.40/fl oz", "price: 3.90/fl oz")


def price_of_a_base(content: Path) -> None:
    edit(content, "shelf/bases.yaml", "price: 4.10/lb", "price: 5.10/lb")


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
    prose, a_bar, kept, a_reading, a_title, a_price, price_of_an_oil, price_of_a_base, a_name,
    a_new_thing, a_failure, private, settings, own_template, a_photo,
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
def test_what_is_known_is_what_would_be_made(changes: Changes, change: Edit) -> None:
    before, after = changes.after(), changes.after(change)
    both = before.made.keys() & after.made.keys()
    assert len(both) > 30
    of_old_key = {path for path in both if before.keys[path] == after.keys[path]}
    assert {path for path in of_old_key if before.made[path] != after.made[path]} == set()
    pages = {path for path in after.known if path.endswith(".html")}
    assert {path for path in pages if digest(after.made[path]) != after.keys[path]} == set()
    assert any(before.made[path] != after.made[path] for path in both), "it shows nowhere"


def test_most_is_known_after_a_change_of_one_design(changes: Changes) -> None:
    assert changes.after(prose).remade() == {KELP}


def test_prose_of_one_design_is_on_its_own_page_alone(changes: Changes) -> None:
    assert {p for p in changes.changed(prose) if p.startswith("designs/")} == {KELP}


def test_a_bar_that_counts_the_same_leaves_the_lists_alone(changes: Changes) -> None:
    changed = changes.changed(a_bar)
    assert KELP in changed
    assert not changed & {
        "index.html", "designs/index.html", "designs/barley-ears.html", "designs/kelp-on-clay.html",
    }  # fmt: skip


def test_a_bar_kept_is_in_the_lists(changes: Changes) -> None:
    assert {"index.html", "designs/index.html", KELP} <= changes.changed(kept)


def test_a_title_is_on_every_page_that_leads_there(changes: Changes) -> None:
    # Barley ears led to it, and the kelp on grey grew from it.
    assert {"index.html", "designs/barley-ears.html", KELP} <= changes.changed(a_title)


def test_a_price_is_on_the_pages_of_what_is_made_with_it(changes: Changes) -> None:
    changed = {p for p in changes.changed(a_price) if p.startswith("designs/")}
    assert changed == {"designs/kelp-on-clay.html"}


@pytest.mark.parametrize(
    ("change", "thing"),
    [
        (price_of_an_oil, "shelf/fragrance-cedar-bergamot.html"),
        (price_of_a_base, "shelf/base-white-shea.html"),
    ],
)
def test_a_price_makes_those_pages_again_that_show_it(
    changes: Changes, change: Edit, thing: str
) -> None:
    """No card, label or sheet shows one; of designs only those that are made with it do."""
    remade, changed = changes.after(change).remade(), changes.changed(change)
    designs = {path for path in remade if path.startswith("designs/")}
    assert designs == {path for path in changed if path.startswith("designs/")}
    assert designs
    assert thing in remade
    assert not [path for path in remade if path.startswith(("cards", "labels/", "sheets/"))]


@pytest.mark.parametrize("change", [price_of_a_base, prose])
def test_what_takes_no_price_is_not_worked_out_again_for_one(
    changes: Changes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, change: Edit
) -> None:
    """Of a price only what takes prices follows; of prose not even that."""
    before = changes.after()
    assert before.viewed.faulty.things == {}
    content, kept = tmp_path / "content", tmp_path / "kept"
    shutil.copytree(changes.root / "before", content)
    shutil.copytree(changes.root / "before kept", kept)
    change(content)

    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("it was worked out again")

    monkeypatch.setattr("journal.pipeline.derive_for_bench", refuse)
    monkeypatch.setattr("journal.pipeline.derive_first_round", refuse)
    if change is prose:
        monkeypatch.setattr("journal.pipeline.derive_priced", refuse)
    assert piped(content, kept).made == changes.after(change).made


def test_a_failure_mended_leaves_the_first_page(changes: Changes) -> None:
    assert "index.html" in changes.changed(a_failure)


def test_a_design_more_leaves_the_pages_of_others_alone(changes: Changes) -> None:
    changed = {p for p in changes.changed(one_more) if p.startswith("designs/")}
    # Two pots were read for the kelp on clay, so its forecast is made of all pots.
    # The barley shares its mat, and the last that was cast in the mould has a neighbour.
    assert changed - {"designs/kelp-on-clay.html"} == {
        "designs/zebra.html", "designs/index.html", "designs/barley-ears.html", KELP,
    }  # fmt: skip


def test_editions_know_nothing_of_each_other(
    changes: Changes, tmp_path: Path, demo_content: Path
) -> None:
    lay_down_small(tmp_path / "content", demo_content)
    changes.after()
    shutil.copytree(changes.root / "before kept", tmp_path / "kept")
    helpers = piped(tmp_path / "content", tmp_path / "kept", "helpers")
    assert not [path for path in helpers.known if path.endswith(".html")]
    again = piped(tmp_path / "content", tmp_path / "kept", "helpers")
    assert not again.remade()
    assert again.made == helpers.made
