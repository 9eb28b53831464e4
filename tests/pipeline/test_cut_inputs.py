"""Pages made from their group's inputs are those made from the whole book, byte for byte.

What a page shows and its group does not name would raise ``UndeclaredInput``, or show otherwise.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import get_type_hints

import pytest
import strategies
from every_sheet import all_sheets
from hypothesis import HealthCheck, Phase, given, settings
from piped import piped, theme_for
from small_notebook import lay_down_small
from test_any_notebook import lay_down

from journal.comparison.derive import compare_designs
from journal.figures.derive import derive_figures
from journal.photos.derive import bleed_widths, measured_photos
from journal.records.notebook import Notebook, read_notebook
from journal.views.notebook import groups_of, open_book
from journal.views.shared.book import Book
from journal.views.shared.editions import EDITIONS, Edition, cut_to_edition
from journal.views.shared.inputs import (
    INPUT_PATHS,
    DeclaredEntries,
    GroupKeys,
    UndeclaredInput,
    restrict_to_inputs,
)
from journal.views.shared.photos import ProbedPhotos
from journal.views.shared.places import Sheet

LONG = os.environ.get("JOURNAL_LONG_TESTS") == "1"


def made(sheets: Iterable[Sheet]) -> dict[str, bytes]:
    return {sheet.path: sheet.make() for sheet in sheets}


def assert_made_from_its_inputs(book: Book) -> int:
    """Gives how many files were looked at."""
    seen = 0
    for group in groups_of(book):
        whole = made(group.lay_out(book))
        cut = made(group.lay_out(restrict_to_inputs(book, group.inputs)))
        assert cut.keys() == whole.keys(), group.name
        wrong = [path for path, data in whole.items() if cut[path] != data]
        assert not wrong, (group.name, wrong)
        if group.apart is not None:
            apart = group.apart.html(restrict_to_inputs(book, group.apart.inputs)).encode()
            (page,) = whole.values()
            assert len(re.findall(rb'id="?cost-table', page)) == bool(apart), group.name
            assert not apart or page.count(apart) == 1, group.name
        seen += len(whole)
    return seen


def book_of(
    notebook: Notebook,
    content: Path,
    edition: Edition,
    *,
    models: bool = False,
    photos: ProbedPhotos | None = None,
) -> Book:
    """The book of an edition, opened without a pipeline."""
    cut = cut_to_edition(notebook, edition)
    measured, _ = measured_photos(notebook)
    figures = derive_figures(notebook, models=models, photo_widths=bleed_widths(measured))
    compared, theme = compare_designs(cut), theme_for(content)
    return open_book(cut, figures, compared, theme, edition, photos=photos, measured=measured)


@pytest.fixture(scope="module")
def demo_kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where figures of the demo are kept from one edition to the next."""
    return tmp_path_factory.mktemp("cut inputs") / "kept"


@pytest.mark.parametrize(
    # Of the others there are all pages of smaller notebooks below.
    "edition",
    ["studio", *(pytest.param(one, marks=pytest.mark.long) for one in EDITIONS if one != "studio")],
)
def test_the_demo(demo_content: Path, demo_kept: Path, edition: Edition) -> None:
    book = piped(demo_content, demo_kept, edition).viewed.book
    assert len(book.notebook.summaries) > 3
    assert assert_made_from_its_inputs(book) > 70


@settings(
    max_examples=150 if LONG else 3,
    derandomize=not LONG,
    deadline=None,
    phases=(Phase.explicit, Phase.reuse, Phase.generate),
    suppress_health_check=list(HealthCheck),
)
@given(files=strategies.notebooks())
def test_any_notebook(tmp_path_factory: pytest.TempPathFactory, files: dict[str, str]) -> None:
    root = tmp_path_factory.mktemp("any") / "content"
    lay_down(files, root)
    notebook = read_notebook(root)
    for edition in EDITIONS:
        assert assert_made_from_its_inputs(book_of(notebook, root, edition)) > 10


PROSE = """
A link [with its letters told](..&#47;barley-ears/design.md), [by reference][one],
[with a title](../barley-ears/design.md "Ears"), <a href="../barley-ears/design.md">in HTML</a>,
`[in code](../barley-ears/design.md)`, \\[not one](../barley-ears/design.md),
[over two
lines](../barley-ears/design.md#bars), [percent](../barley%2Dears/design.md),
[the shelf](../../shelf/bases.yaml), [a base](../../shelf/bases.yaml#white-shea),
[a base told](../../shelf/bases.yaml&#35;clear-glycerine), [itself](design.md).

    [indented](../barley-ears/design.md) ![so](photos/none.jpg)

- a list

      [deeper](../barley-ears/design.md)

![told](&#112;hotos/front.jpg) ![by reference][two] <img src="photos/front.jpg" alt="in HTML">

A note.[^1]

[^1]: With [a link](../barley-ears/design.md).

[one]: ../barley-ears/design.md
[two]: photos/front.jpg
"""


@pytest.mark.parametrize("edition", EDITIONS)
def test_links_that_markdown_finds_elsewhere_than_the_reader(
    tmp_path: Path, demo_content: Path, edition: Edition
) -> None:
    content = lay_down_small(tmp_path / "content", demo_content)
    for name in ("kelp-on-clay", "kelp-on-sea-grey"):
        path = content / "designs" / name / "design.md"
        path.write_text(path.read_text("utf-8") + PROSE, "utf-8")
    book = book_of(read_notebook(content), content, edition)
    assert assert_made_from_its_inputs(book) > 20


def test_a_mould_that_a_pour_alone_was_cast_in(tmp_path: Path, demo_content: Path) -> None:
    """Its page is one of the mould's, and the bars are drawn as they lay in it."""
    content = lay_down_small(tmp_path / "content", demo_content)
    path = content / "designs" / "kelp-on-clay" / "design.md"
    written = re.sub("(\n +)poured:", r"\1did: {mould: loaf-tin}\g<0>", path.read_text("utf-8"))
    path.write_text(written, "utf-8")
    notebook = read_notebook(content)
    assert {pour.mould for pour in notebook.designs["kelp-on-clay"].pours} == {"loaf-tin"}
    assert ("moulds", "loaf-tin") in notebook.summaries["kelp-on-clay"].things
    assert assert_made_from_its_inputs(book_of(notebook, content, "studio")) > 10


def test_what_was_kept_makes_the_pages_that_figures_at_hand_make(
    tmp_path: Path, demo_content: Path
) -> None:
    content = lay_down_small(tmp_path / "content", demo_content)
    first = piped(content, tmp_path / "kept")
    second = piped(content, tmp_path / "kept")
    assert second.made == first.made
    photos = dict(first.viewed.book.photos)
    book = book_of(read_notebook(content), content, "studio", models=True, photos=photos)
    assert pages(made(sheet for sheet in all_sheets(book) if not sheet.lasting)) == pages(
        first.made
    )


def pages(files: Mapping[str, bytes]) -> dict[str, bytes]:
    found = {path: data for path, data in files.items() if path.endswith((".html", ".js"))}
    assert len(found) > 20
    return found


def test_another_batch_makes_the_cards_again(tmp_path: Path, demo_content: Path) -> None:
    content = lay_down_small(tmp_path / "content", demo_content)
    notebook = read_notebook(content)
    book = book_of(notebook, content, "studio")
    keys = {}
    for bars in (None, 12):
        other = open_book(notebook, book.figures, book.compared, book.theme, bars=bars)
        keys[bars] = {group.name: GroupKeys(other).key(group.name, group.inputs)
                      for group in groups_of(other)}  # fmt: skip
    for name in notebook.summaries:
        assert keys[None][f"cards {name}"] != keys[12][f"cards {name}"]


def test_asking_for_what_is_no_input_is_told(tmp_path: Path, demo_content: Path) -> None:
    content = lay_down_small(tmp_path / "content", demo_content)
    book = book_of(read_notebook(content), content, "studio")
    for group in groups_of(book):
        assert set(group.inputs) <= set(INPUT_PATHS) | {"notebook.shelf", "bench"}, group.name
    cut = restrict_to_inputs(book, {"notebook.designs": ("barley-ears",)})
    assert cut.notebook.designs["barley-ears"] == book.notebook.designs["barley-ears"]
    assert list(cut.notebook.designs) == ["barley-ears"]
    assert len(cut.notebook.designs) == 1
    for ask in (
        lambda: cut.notebook.designs["kelp-on-clay"],
        lambda: cut.notebook.designs.get("kelp-on-clay"),
        lambda: "kelp-on-clay" in cut.notebook.designs,
        lambda: cut.figures.designs["barley-ears"],
        lambda: cut.notebook.shelf.bases["white-shea"],
        lambda: cut.places.designs.get("barley-ears"),
    ):
        with pytest.raises(UndeclaredInput):
            ask()


_MAPPING = re.compile(r"(collections\.abc|typing)\.Mapping\b")


def test_every_mapping_of_a_book_is_a_way_or_is_told_here() -> None:
    """A mapping that no way leads to would be given whole to every group, and be in no key."""
    ways = set(INPUT_PATHS) | {"notebook.shelf"}
    # No page asks for them: see below.
    told = {"compared.scatters", "derived.casts", "derived.forecasts", "derived.lives"}
    found = set()
    for name, hint in get_type_hints(Book).items():
        if _MAPPING.match(str(hint)):
            found.add(name)
        elif isinstance(hint, type) and hint.__module__.startswith("journal."):
            inner = get_type_hints(hint).items() if name not in ("bench", "theme") else ()
            found |= {f"{name}.{one}" for one, kind in inner if _MAPPING.match(str(kind))}
    assert len(found) > 15
    assert found - ways == told
    folder = Path(open_book.__code__.co_filename).parent
    for path in folder.glob("*.py"):
        if path.name != "notebook.py":
            text = path.read_text("utf-8")
            asked = re.findall(r"derived\.(?:casts|forecasts|lives|rates)|compared\.scatters", text)
            assert not asked, path.name


def test_only_some_entries() -> None:
    some = DeclaredEntries({"a": 1, "b": 2}, ("b", "c"))
    assert dict(some) == {"b": 2}
    assert "c" not in some
    # What a recipe does not name.
    assert some.get("") is None
    assert some.get(None) is None
    with pytest.raises(KeyError):
        some["c"]
    with pytest.raises(UndeclaredInput):
        some.get("a")
